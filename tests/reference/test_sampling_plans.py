"""Acceptance sampling against published tables and against figures by a second method.

Sources: ISO 2859-1, ANSI/ASQ Z1.4 and MIL-STD-105E, tables I and II-A. Level II and the rejection numbers as read in the
acceptance table at nibs.org; the other levels and the letter R from memory. Points of the operating characteristic of
plan J, AQL 2.5: table X-J, 3.32 and 11.3 percent (from memory). The rest is computed: sums of binomial coefficients.
"""

from math import comb

import pytest
from scipy import stats

from pipeline.intervals import bad_in_lot, true_rate
from pipeline.programme.sampling_schemes import load_sampling
from pipeline.sampling.plans import (
    chance_of_acceptance_of_lot,
    code_letter,
    curve,
    curve_of_lot,
    isolated_plan,
    series_plan,
    smallest_sample,
)

TABLES = load_sampling().plans
LEVELS = ("S-1", "S-2", "S-3", "S-4", "I", "II", "III")
# smallest and largest lot of a band, then a letter for each of LEVELS
LETTERS = """
2 8 A A A A A A B
9 15 A A A A A B C
16 25 A A B B B C D
26 50 A B B C C D E
51 90 B B C C C E F
91 150 B B C D D F G
151 280 B C D E E G H
281 500 B C D E F H J
501 1200 C C E F G J K
1201 3200 C D E G H K L
3201 10000 C D F G J L M
10001 35000 C D F H K M N
35001 150000 D E G J L N P
150001 500000 D E G J M P Q
500001 9999999 D E H K N Q R
"""
# letter, sample size, then the acceptance number at AQL 1.0, 2.5 and 4.0; an arrow points to the plan to use
PLANS = """
A 2 v v v
B 3 v v 0
C 5 v 0 ^
D 8 v ^ v
E 13 0 v 1
F 20 ^ 1 2
G 32 v 2 3
H 50 1 3 5
J 80 2 5 7
K 125 3 7 10
L 200 5 10 14
M 315 7 14 21
N 500 10 21 ^
P 800 14 ^ ^
Q 1250 21 ^ ^
"""
# a lot with that letter at level II, large enough that not every core is inspected
LOT_OF = {
    "A": 8, "B": 15, "C": 25, "D": 50, "E": 90, "F": 150, "G": 280, "H": 500, "J": 1200, "K": 3200, "L": 10000,
    "M": 35000, "N": 150000, "P": 500000, "Q": 600000,
}  # fmt: skip


@pytest.mark.parametrize("line", LETTERS.strip().splitlines())
def test_the_code_letters_are_those_of_the_standard_at_both_ends_of_every_band(line):
    first, last, *letters = line.split()
    for lot in (int(first), int(last)):
        assert [code_letter(lot, level, TABLES) for level in LEVELS] == letters


@pytest.mark.parametrize("column", [0, 1, 2])
def test_the_plans_are_those_of_the_standard_with_their_arrows_followed(column):
    rows = [line.split() for line in PLANS.strip().splitlines()]
    for place, (letter, *_) in enumerate(rows):
        at = place
        while not rows[at][2 + column].isdigit():
            at += 1 if rows[at][2 + column] == "v" else -1
        n, accept = int(rows[at][1]), int(rows[at][2 + column])
        lot = LOT_OF[letter]
        found = series_plan(lot, "II", ("1.0", "2.5", "4.0")[column], TABLES)
        assert found == (rows[at][0], min(n, lot), accept)
        assert found.reject == accept + 1


@pytest.mark.parametrize(
    ("lot", "aql", "letter", "n", "accept"),
    [(240, "2.5", "G", 32, 2), (1000, "4.0", "J", 80, 7), (40, "1.0", "E", 13, 0), (120, "1.0", "E", 13, 0)],
)
def test_the_worked_examples_at_level_two_come_out(lot, aql, letter, n, accept):
    assert series_plan(lot, "II", aql, TABLES) == (letter, n, accept)


def test_a_letter_without_a_plan_of_its_own_takes_the_last_plan_above_it():
    assert series_plan(600_000, "III", "1.0", TABLES) == ("Q", 1250, 21)
    assert series_plan(600_000, "III", "2.5", TABLES) == ("N", 500, 21)
    assert series_plan(600_000, "III", "4.0", TABLES) == ("M", 315, 21)


def test_a_lot_of_200_with_10_bad_is_accepted_as_often_as_the_hypergeometric_sum_says():
    by_hand = sum(comb(10, bad) * comb(190, 32 - bad) for bad in range(3)) / comb(200, 32)
    assert by_hand == pytest.approx(0.797591, abs=5e-7)
    assert chance_of_acceptance_of_lot(32, 2, 200, 10) == pytest.approx(by_hand, abs=1e-12)
    # different from a series at the same quality, and from the approximation by Poisson sums
    assert stats.binom.cdf(2, 32, 0.05) == pytest.approx(0.786114, abs=5e-7)
    assert by_hand != pytest.approx(0.786114, abs=1e-3)
    assert by_hand != pytest.approx(0.783358, abs=1e-3)
    assert chance_of_acceptance_of_lot(32, 0, 200, 10) == pytest.approx(0.167305, abs=5e-7)


@pytest.mark.parametrize(("lot", "bad", "n"), [(200, 10, 51), (200, 2, 155), (1000, 50, 57), (50, 1, 48)])
def test_samples_of_this_size_find_a_bad_core_with_95_percent(lot, bad, n):
    assert smallest_sample(lot, bad, 0, 0.05) == n
    assert comb(lot - bad, n) / comb(lot, n) <= 0.05 < comb(lot - bad, n - 1) / comb(lot, n - 1)


def test_an_isolated_plan_is_judged_on_a_lot_just_beyond_its_limit():
    # 4.9 percent of 200 cores is 9.8: ten bad ones are beyond it; at 5 percent it takes eleven
    assert isolated_plan(200, 0.049, 0.05) == ("", 51, 0)
    n = next(n for n in range(201) if comb(189, n) / comb(200, n) <= 0.05)
    assert isolated_plan(200, 0.05, 0.05) == ("", n, 0)


def test_three_failures_in_32_leave_between_2_and_25_percent():
    low, high = true_rate(3, 32)
    assert (round(low, 4), round(high, 4)) == (0.0198, 0.2502)


def test_no_failure_in_60_leaves_4_87_percent_one_sided():
    # the rule of three says 3 / 60 = 5 percent
    assert true_rate(0, 60, confidence=0.9)[1] == pytest.approx(1 - 0.05 ** (1 / 60), abs=1e-9)
    assert round(true_rate(0, 60, confidence=0.9)[1], 5) == 0.04870


@pytest.mark.parametrize(
    ("n", "accept", "usually", "seldom"),
    [(80, 5, 3.32, 11.28), (32, 2, 2.60, 15.79), (50, 5, 5.36, 17.76), (80, 2, 1.03, 6.52), (13, 1, 2.81, 26.78)],
)
def test_a_series_is_accepted_with_95_and_10_percent_at_these_qualities(n, accept, usually, seldom):
    found = curve(n, accept)
    assert found.usually_accepted * 100 == pytest.approx(usually, abs=0.006)
    assert found.seldom_accepted * 100 == pytest.approx(seldom, abs=0.006)


def _accepted(n, accept, lot, bad):
    return sum(comb(bad, k) * comb(lot - bad, n - k) for k in range(accept + 1)) / comb(lot, n)


def test_the_curve_of_a_finite_lot_is_read_off_the_hypergeometric_sums():
    chances = [_accepted(32, 2, 200, bad) for bad in range(201)]
    usually = max(bad for bad, chance in enumerate(chances) if chance >= 0.95)
    seldom = min(bad for bad, chance in enumerate(chances) if chance <= 0.10)
    assert curve_of_lot(32, 2, 200) == (usually / 200, seldom / 200)


@pytest.mark.parametrize(("lot", "inspected"), [(40, 10), (25, 24), (12, 12), (30, 1)])
def test_the_interval_on_a_finite_lot_holds_the_true_number_in_95_percent_of_all_samples(lot, inspected):
    intervals = [bad_in_lot(failed, inspected, lot) if failed <= lot else None for failed in range(inspected + 1)]
    for bad in range(lot + 1):
        possible = range(max(0, inspected - (lot - bad)), min(bad, inspected) + 1)
        weights = {k: comb(bad, k) * comb(lot - bad, inspected - k) for k in possible}
        held = sum(weight for k, weight in weights.items() if intervals[k][0] <= bad <= intervals[k][1])
        assert held / comb(lot, inspected) >= 0.95


def test_the_interval_on_a_finite_lot_is_no_wider_than_two_tails_of_two_and_a_half_percent_make_it():
    lot, inspected, failed = 60, 20, 3
    kept = []
    for bad in range(failed, lot - (inspected - failed) + 1):
        sums = [comb(bad, k) * comb(lot - bad, inspected - k) / comb(lot, inspected) for k in range(inspected + 1)]
        if sum(sums[failed:]) > 0.025 and sum(sums[: failed + 1]) > 0.025:
            kept.append(bad)
    assert bad_in_lot(failed, inspected, lot) == (kept[0], kept[-1])


@pytest.mark.parametrize("share", [0.01, 0.05, 0.1, 0.3, 0.5, 0.9])
def test_the_interval_on_the_true_rate_holds_it_in_95_percent_of_all_samples(share):
    inspected = 32
    held = 0.0
    for failed in range(inspected + 1):
        low, high = true_rate(failed, inspected)
        if low <= share <= high:
            held += comb(inspected, failed) * share**failed * (1 - share) ** (inspected - failed)
    assert held >= 0.95
