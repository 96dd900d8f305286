"""A sample is drawn fairly, and the same again."""

import hashlib

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipeline.intervals import bad_in_lot, true_rate
from pipeline.programme.sampling_schemes import Isolated, Series, load_sampling
from pipeline.sampling.draws import SHEET_COLUMNS, draw, sampling_frame, seed_of, sheet, single_lines

TABLES = load_sampling()

SHA256 = "0012f5a914aefc7f75b6a565a1553ee1fedbf3fe7067af3c451c7fb2f933b3df"


def _cores(**lots):
    """So many cores in each lot: ``East=50``."""
    names = [(lot, f"{lot}-{place:04}") for lot, count in lots.items() for place in range(count)]
    frame = pd.DataFrame(names, columns=["lot", "core_id"], dtype="str")
    return frame.assign(row=np.arange(1, len(frame) + 1))


def _ids(cores, lot):
    return cores.set_index("row").loc[lot.rows, "core_id"].tolist()


def test_each_lot_gets_its_plan_and_no_core_is_drawn_twice():
    lots = draw(_cores(East=240, West=40, Tiny=1), Series(level="II", aql="2.5"), TABLES.plans, 7)
    assert [(lot.name, lot.size, lot.plan.n, lot.plan.accept) for lot in lots] == [
        ("East", 240, 32, 2), ("Tiny", 1, 1, 0), ("West", 40, 5, 0),
    ]  # fmt: skip
    for lot in lots:
        assert len(set(lot.rows)) == lot.plan.n == len(lot.rows)


def test_the_same_seed_draws_the_same_cores_and_another_does_not():
    cores = _cores(East=240)
    first, again, other = (draw(cores, Series(), TABLES.plans, seed)[0].rows for seed in (7, 7, 8))
    assert first == again
    assert first != other


def test_another_district_changes_nothing_for_this_one():
    alone = _cores(East=240)
    both = _cores(Centre=90, East=240, West=40)
    east = draw(both, Series(), TABLES.plans, 7)[1]
    assert _ids(both, east) == _ids(alone, draw(alone, Series(), TABLES.plans, 7)[0])


def test_two_districts_of_one_size_are_drawn_each_in_its_own_way():
    lots = draw(_cores(East=240, West=240), Series(), TABLES.plans, 7)
    assert lots[0].rows != [row - 240 for row in lots[1].rows]


def test_the_order_of_the_rows_changes_nothing():
    cores = _cores(East=100, West=60)
    shuffled = cores.sample(frac=1, random_state=3).reset_index(drop=True)
    renumbered = shuffled.assign(row=np.arange(1, 161))
    for one in (shuffled, renumbered):
        for was, now in zip(draw(cores, Series(), TABLES.plans, 7), draw(one, Series(), TABLES.plans, 7)):
            assert _ids(cores, was) == _ids(one, now)


def test_a_smaller_plan_takes_the_first_of_a_larger_one():
    cores = _cores(East=240)
    small, large = (draw(cores, Series(level=level), TABLES.plans, 7)[0].rows for level in ("I", "III"))
    # letter E sends AQL 2.5 on to F, which is 20; H is 50
    assert (len(small), len(large)) == (20, 50)
    assert large[:20] == small


def test_cores_without_an_id_are_drawn_too():
    cores = _cores(East=10)
    cores.loc[2:5, "core_id"] = None
    lot = draw(cores, Isolated(limit=0.0, risk=0.01, accept=0), TABLES.plans, 7)[0]
    assert sorted(lot.rows) == list(range(1, 11))


def test_every_core_has_the_same_chance():
    """Of 600 seeds, how often each of 25 cores was the first drawn, the last drawn, and drawn at all."""
    cores, seeds = _cores(East=25), range(600)
    rows = np.array([draw(cores, Series(level="III", aql="2.5"), TABLES.plans, seed)[0].rows for seed in seeds])
    assert rows.shape == (600, 5)
    for place in (0, -1):
        assert stats.chisquare(np.bincount(rows[:, place], minlength=26)[1:]).pvalue > 0.01
    # five of 25 without replacement: counts vary by n/N (1 - n/N) N/(N - 1) about their mean, with N - 1 degrees
    counts = np.bincount(rows.ravel(), minlength=26)[1:]
    statistic = ((counts - 120) ** 2).sum() / (600 * 0.2 * 0.8 * 25 / 24)
    assert 0.01 < stats.chi2.sf(statistic, 24) < 0.99


def test_pairs_of_cores_come_together_as_often_as_chance_has_it():
    """Ten pairs of five cores, two drawn: each pair a tenth of the time."""
    cores = _cores(East=5)
    drawn = [draw(cores, Series(level="III", aql="4.0"), TABLES.plans, seed)[0].rows[:2] for seed in range(800)]
    pairs = pd.Series([tuple(sorted(pair)) for pair in drawn]).value_counts()
    assert len(pairs) == 10
    assert stats.chisquare(pairs.to_numpy()).pvalue > 0.01


def test_intervals_of_drawn_samples_hold_the_truth_in_95_percent():
    """Twelve bad cores among 120, and 20 of the 120 drawn, with each of 400 seeds."""
    cores = _cores(East=120)
    bad = set(range(5, 125, 10))
    rows = [draw(cores, Series(), TABLES.plans, seed)[0].rows for seed in range(400)]
    assert {len(one) for one in rows} == {20}
    failures = pd.Series([len(bad.intersection(one)) for one in rows]).value_counts().to_dict()
    lots = {failed: bad_in_lot(failed, 20, 120) for failed in failures}
    rates = {failed: true_rate(failed, 20) for failed in failures}
    # 380 expected at least; 367 is three standard errors below
    assert sum(count for failed, count in failures.items() if lots[failed][0] <= 12 <= lots[failed][1]) >= 367
    assert sum(count for failed, count in failures.items() if rates[failed][0] <= 0.1 <= rates[failed][1]) >= 367
    assert np.average(list(failures), weights=list(failures.values())) == pytest.approx(2, abs=0.2)


def test_the_seed_is_the_registers_checksum():
    # 0x0012f5a914ae, by hand: 81430910126
    assert seed_of(SHA256) == 81_430_910_126 < 2**53


def test_the_numbers_drawn_from_stay_the_same_in_every_version():
    """The first numbers of the bit generator, as its authors promise to keep them: the draw of one small lot."""
    lot = draw(_cores(East=8), Series(level="II", aql="4.0"), TABLES.plans, 1)[0]
    words = np.frombuffer(hashlib.sha256(b"East").digest(), dtype="<u4").tolist()
    numbers = np.random.PCG64(np.random.SeedSequence([1, *words])).random_raw(8).tolist()
    by_hand = sorted(range(8), key=numbers.__getitem__)[:3]
    assert lot.rows == [place + 1 for place in by_hand]


def _register():
    table = pd.DataFrame(
        {
            "row": [1, 2, 3, 4, 5, 6],
            "core_id": ["a", "b", "b", "c", "d", "e"],
            "findings": [
                "",
                "row-duplicated",
                "cores-overlap;row-duplicated",
                "reinstatement-date-unreadable",
                "",
                "x",
            ],
            "district": ["East", "East", "East", None, "West", "West"],
            "lon": [1.0, 2, 2, 3, 4, 5],
            "lat": [1.0, 2, 2, 3, 4, 5],
            "copy_of": pd.Series([None, None, 2, None, None, None], dtype="Int64"),
        }
    )
    is_back = pd.Series([True, True, True, False, False, True])
    # the date of the fourth cannot be read
    return table, is_back, pd.Series([True, True, True, True, False, True])


def _frame(of):
    return sampling_frame(*_register(), of, pd.Series(["North", "South", "South", "North", "South", "South"]))


def test_a_core_in_two_rows_is_drawn_from_once():
    chosen = _frame("reinstated")
    assert chosen.cores["row"].tolist() == [1, 2, 6]
    assert chosen.left_out["duplicate row, counted once"] == 1


@pytest.mark.parametrize(("of", "rows"), [("reinstated", [1, 2, 6]), ("open", [5]), ("all", [1, 2, 4, 5, 6])])
def test_every_row_is_drawn_from_or_left_out_for_a_reason(of, rows):
    chosen = _frame(of)
    assert chosen.cores["row"].tolist() == rows
    assert len(rows) + sum(chosen.left_out.values()) == 6


def test_each_core_is_in_the_lot_it_was_given():
    assert _frame("all").cores["lot"].tolist() == ["North", "South", "North", "South", "South"]


def test_no_cell_of_the_sheet_breaks_its_line():
    cells = ["=1+1", "a=b", "two\nlines", "\t=x", "  =y", None, "a\x00b"]
    found = single_lines(pd.DataFrame({"text": pd.Series(cells, dtype="str")}))["text"]
    assert found.tolist()[:5] == ["=1+1", "a=b", "two lines", "=x", "=y"]
    assert pd.isna(found[5])
    assert found[6] == "a b"


def test_a_column_of_the_register_that_is_called_as_one_of_the_sheet_is_left_aside():
    cores = _cores(East=30)
    lots = draw(cores, Series(level="II", aql="2.5"), TABLES.plans, 7)
    own = cores.assign(**{name: "own" for name in SHEET_COLUMNS if name not in cores})
    found = sheet(own, lots)
    assert sorted(found["draw_order"]) == list(range(1, lots[0].plan.n + 1))
    assert found[["result", "remark"]].isna().all(axis=None)
