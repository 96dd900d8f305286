"""Which differences hold."""

import numpy as np
import pandas as pd
import pytest

from pipeline.audit.comparison.differences import judged, table_of, with_chances
from pipeline.audit.comparison.measures import grounds_of, tallies
from pipeline.audit.outcomes import AT_LIMIT, FOUND, NOT_ASSESSED, PASSED
from tests.audit.comparison.worlds import AS_OF, cores_of, outcomes_of, rule_book


def _crews(first, second, **columns):
    """Return the judged rows of two crews; ``first``, ``second``: outcomes, each core on a day of its own."""
    count = len(first) + len(second)
    days = pd.date_range("2026-06-01", periods=count, freq="D").strftime("%Y-%m-%d")
    cores = cores_of(crew=["A"] * len(first) + ["B"] * len(second), **{"reinstated_at": days, **columns})
    outcomes = outcomes_of(grout_short=[*first, *second])
    rules = rule_book(["grout-short"])
    found = tallies(outcomes, rules, grounds_of(cores, outcomes, rules, AS_OF))
    table = table_of([one for one in found if one.by == "crew" and one.measure == "grout-short"])
    return judged(with_chances(table)).set_index("group")


def _share(found, of):
    return [FOUND] * found + [PASSED] * (of - found)


# all on one day in early summer would be one cluster: two alike seasons and ages, and a day each
_ONE_SEASON = {"reinstated_at": [f"2026-06-{day:02}" for day in range(1, 31)] * 4}


def test_a_difference_beyond_chance_holds_for_both_sides():
    """30 of 60 against 3 of 60, on thirty days each."""
    rows = _crews(_share(30, 60), _share(3, 60), **_ONE_SEASON)
    assert rows["differs"].to_dict() == {"A": "more", "B": "less"}
    assert rows.loc["A", ["rate", "others_rate", "alike_rate"]].tolist() == [0.5, 0.05, 0.05]


def test_chance_is_not_reported():
    assert set(_crews(_share(6, 60), _share(4, 60), **_ONE_SEASON)["differs"]) == {"not shown"}


def test_a_group_that_does_not_record_is_not_comparable_rather_than_better():
    rows = _crews(_share(30, 60), [NOT_ASSESSED] * 60, **_ONE_SEASON)
    assert rows.loc["B", "differs"] == "not recorded"
    assert np.isnan(rows.loc["B", "rate"])
    # and nobody is left for the other to be compared with
    assert rows.loc["A", "differs"] == "no others"
    assert rows["p"].isna().all()


def test_a_handful_of_cores_is_too_few():
    rows = _crews(_share(4, 4), _share(6, 60))
    assert rows.loc["A", "differs"] == "too few"


def test_many_cores_of_a_few_days_are_too_few():
    """Sixty cores of four days are no more than four bad or good days."""
    few = {
        "reinstated_at": [f"2026-06-{1 + number % 4:02}" for number in range(60)]
        + [f"2026-06-{1 + number % 30:02}" for number in range(60)]
    }
    assert _crews(_share(30, 60), _share(3, 60), **few).loc["A", "differs"] == "too few"


@pytest.mark.parametrize("coarse_first", [True, False])
def test_coarser_records_make_no_difference(coarse_first):
    """Of one crew half the cores are found; the other is as good or bad, but writes too coarsely to tell for as many."""
    fine, coarse = _share(30, 60), [AT_LIMIT] * 30 + [PASSED] * 30
    rows = _crews(coarse, fine, **_ONE_SEASON) if coarse_first else _crews(fine, coarse, **_ONE_SEASON)
    assert set(rows["differs"]) == {"not shown"}


def test_a_difference_beyond_the_cores_at_the_limit_still_holds():
    rows = _crews(_share(45, 60), [AT_LIMIT] * 5 + [PASSED] * 55, **_ONE_SEASON)
    assert rows["differs"].to_dict() == {"A": "more", "B": "less"}


def test_what_the_surface_explains_is_a_raw_difference_only():
    """A works on the hard surface more often; on each surface both crews do the same."""
    first = _share(40, 50) + _share(1, 10)
    second = _share(8, 10) + _share(5, 50)
    surfaces = ["concrete"] * 50 + ["asphalt"] * 10 + ["concrete"] * 10 + ["asphalt"] * 50
    rows = _crews(first, second, surface=surfaces, **_ONE_SEASON)
    assert set(rows["differs"]) == {"raw only"}
    # 50 x 8 / 10 and 10 x 5 / 50, of 60
    assert rows.loc["A", "alike_rate"] == pytest.approx(41 / 60)


def test_what_the_surface_hides_is_an_adjusted_difference_only():
    """A does worse on both surfaces, and works on the easier one more often."""
    first = _share(10, 10) + _share(15, 50)
    second = _share(25, 50) + _share(0, 10)
    surfaces = ["concrete"] * 10 + ["asphalt"] * 50 + ["concrete"] * 50 + ["asphalt"] * 10
    assert set(_crews(first, second, surface=surfaces, **_ONE_SEASON)["differs"]) == {"adjusted only"}
