"""Found, noticed, missed and blamed: planted by hand and counted by hand."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binomtest

from pipeline.audit.outcomes import FOUND, PASSED
from pipeline.rehearse.making import Kind
from pipeline.rehearse.planting import Planted
from pipeline.rehearse.score import Audited, judge, tally, tally_sizes

_KINDS = [
    Kind("moved", "position", ("x",), ("off-network",), lambda cells, _: cells, has_size=True),
    Kind("copied", "row", ("core_id",), ("id-duplicated",), lambda cells, _: cells, has_partner=True),
    Kind("unknown", "name", ("crew",), (), lambda cells, _: cells),
]
_RULES = ["off-network", "id-duplicated", "open-too-long"]


def _audited(x, found):
    """Eight cores, 100 m apart along a street; ``found``: the pairs of a row and a rule."""
    outcomes = pd.DataFrame(PASSED, index=range(8), columns=_RULES)
    for row, rule in found:
        outcomes.loc[row, rule] = FOUND
    cores = pd.DataFrame({"row": range(1, 9), "core_id": list("ABCDEFGH"), "x_m": x, "y_m": 0.0})
    return Audited(cores, outcomes)


@pytest.fixture(scope="module")
def faults():
    x = np.arange(8) * 100.0
    # core D is open too long already: that is no news
    before = _audited(x, [(3, "open-too-long")])
    after = x.copy()
    after[0], after[3] = 5000.0, 312.0
    planted = Planted(
        rows=np.array([0, 3, 5, 7]),
        kinds=np.array([0, 0, 1, 2]),
        after=pd.DataFrame(index=[0, 3, 5, 7]),
        partners=np.array([4]),
        written=pd.Series(["a", "b", "c", "d"]),
    )
    found = [
        (0, "off-network"),  # A: found
        (3, "open-too-long"),  # D: had it before, so the slip of 12 m is missed
        (5, "id-duplicated"), (4, "id-duplicated"),  # F: found; E is the row it was copied from, and not blamed
        (7, "open-too-long"),  # H: noticed by a rule that does not know its kind
        (6, "off-network"),  # G: nobody touched it; it lies as near to F as to H, the first of which counts
        (2, "open-too-long"),  # C: nobody touched it; D, moved to 312 m, is nearest
    ]  # fmt: skip
    return judge(planted, _KINDS, before, _audited(after, found))


def test_each_fault_comes_out_as_counted_by_hand(faults):
    assert faults["core_id"].tolist() == ["A", "D", "F", "H"]
    assert faults["outcome"].tolist() == ["found", "missed", "found", "noticed"]
    assert faults["found_by"].tolist() == ["off-network", "", "id-duplicated", ""]
    assert faults["noticed_by"].tolist() == ["", "", "", "open-too-long"]
    assert faults["moved_m"].tolist() == [5000.0, 12.0, 0.0, 0.0]


def test_a_row_that_nobody_touched_is_blamed_on_the_nearest_fault_and_a_partner_on_none(faults):
    assert faults["blamed"].tolist()[:2] == [0, 1]
    assert faults["blamed"].sum() == 2


def test_the_tally_has_the_counts_and_exact_intervals(faults):
    table = tally(faults, "kind")
    assert table[["planted", "found", "noticed", "missed"]].loc["moved"].tolist() == [2, 1, 0, 1]
    assert table[["planted", "found", "noticed", "missed"]].loc["unknown"].tolist() == [1, 0, 1, 0]
    for row in table.to_dict("records"):
        exact = binomtest(row["found"], row["planted"]).proportion_ci(0.95, method="exact")
        assert (row["low"], row["high"]) == pytest.approx((exact.low, exact.high))


def test_the_interval_is_that_of_the_published_table():
    """Five of ten: 18.7% to 81.3%, as tables of exact binomial limits print it."""
    ten = pd.DataFrame({"kind": "one", "outcome": ["found"] * 5 + ["missed"] * 5, "blamed": 0})
    low, high = tally(ten, "kind").loc["one", ["low", "high"]]
    assert (round(low, 3), round(high, 3)) == (0.187, 0.813)


def test_slips_are_counted_by_size(faults):
    sizes = tally_sizes(faults, _KINDS)
    assert sizes[["from_m", "to_m", "planted", "found"]].to_numpy().tolist() == [
        [10.0, 30.0, 1, 0], [1000.0, np.inf, 1, 1],
    ]  # fmt: skip
