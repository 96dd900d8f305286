"""What learning changed is counted by weighing the cores once more as if nothing had been learnt."""

import numpy as np
import pandas as pd
import pytest

from pipeline.locate.changed import _street, changed_by_learning
from pipeline.locate.learning.masses import WIDTHS_M
from pipeline.locate.learnt_errors import LearntErrors
from pipeline.locate.lines import lines_of
from pipeline.locate.posterior import Evidence
from pipeline.locate.segments import find_segments
from tests.locate.test_reasons import _town

_EVIDENCE = Evidence(name_right=0.9, names_near=5, underground=0.02)
_SHADES = {"asphalt": "dark", "concrete": "pale"}


def _cores(*y):
    """Cores on x = 500 of the town: the avenue runs along y = 0 and is 10 m wide, the lane along y = 15 and 5 m."""
    count = len(y)
    return pd.DataFrame(
        {
            "x_m": 500.0, "y_m": np.array(y, dtype=float), "sigma_m": 2.0, "rounding_m": 0.0, "reach_m": 15.0,
            "may_learn": True, "street": pd.Series([None] * count, dtype="str"),
            "street_form": pd.Series([None] * count, dtype="str"), "register": "cores",
        },
        index=range(10, 10 + count),
    )  # fmt: skip


def _changed(cores, after, is_learnt, evidence=_EVIDENCE):
    widths = np.zeros((len(cores), len(WIDTHS_M) + 1))
    widths[np.array(is_learnt), 0] = 1
    segments = _town().assign(street_form=["avenue", "lane"], is_underground=False)
    recorded = pd.Series([None] * len(cores), cores.index, dtype="str")
    learnt = LearntErrors(widths, np.append(WIDTHS_M, 7.5), [])
    return changed_by_learning(
        cores, segments, None, recorded, evidence, learnt, after, _SHADES, lines_of(segments, are_weighed=True)
    )


def _after(cores, *streets):
    number = {"Avenue": ("A", "asphalt"), "Lane": ("L", "concrete"), None: (None, "unknown")}
    ids, surfaces = zip(*(number[street] for street in streets), strict=True)
    columns = {"street_matched": streets, "segment_id": ids, "surface": surfaces}
    return pd.DataFrame({name: pd.Series(values, cores.index, dtype="str") for name, values in columns.items()})


def test_a_core_whose_street_is_another_without_learning_has_changed():
    """By default both lie on the avenue, 2 m from its centre line; with what was learnt, the second is in the lane."""
    cores = _cores(2, 2)
    changed = _changed(cores, _after(cores, "Avenue", "Lane"), [True, True])
    assert changed.index.tolist() == [10, 11]
    for name in ("street", "surface", "shade"):
        assert changed[name].tolist() == [False, True]
    # 2 m from the centre line of a road of 10 m, the lane's edge 10.5 m off: next to certain
    assert changed["segment_before"].tolist() == pytest.approx([1, 1], abs=1e-3)


def test_only_cores_with_a_learnt_error_are_looked_at():
    cores = _cores(2, 2, 2)
    assert _changed(cores, _after(cores, "Avenue", "Avenue", "Lane"), [False, True, False]).index.tolist() == [11]


def test_where_nothing_was_learnt_there_is_nothing_to_compare():
    cores = _cores(2)
    assert _changed(cores, _after(cores, "Avenue"), [False]) is None


def test_a_core_without_a_street_before_and_after_has_not_changed():
    cores = _cores(500)
    changed = _changed(cores, _after(cores, None), [True])
    assert changed[["street", "surface", "shade"]].to_numpy().tolist() == [[False, False, False]]


def test_of_very_many_cores_some_are_looked_at_spread_evenly(monkeypatch):
    monkeypatch.setattr("pipeline.locate.changed._MOST", 3)
    cores = _cores(*[2] * 9)
    assert _changed(cores, _after(cores, *["Avenue"] * 9), [True] * 9).index.tolist() == [10, 14, 18]


def test_a_segment_without_a_name_is_a_street_of_its_own():
    names = {"street_matched": ["Mill", None, None], "segment_id": ["S1", "S2", None]}
    found = pd.DataFrame({name: pd.Series(cells, dtype="str") for name, cells in names.items()})
    assert _street(found).tolist() == ["Mill", "S2", ""]


def test_what_would_be_without_learning_is_found_without_learning(monkeypatch):
    """The programme learns; the comparison must not, or nothing would ever have changed."""
    asked = []

    def find(cores, segments, reach, evidence, lines):
        asked.append(evidence)
        return find_segments(cores, segments, reach, evidence, lines)

    monkeypatch.setattr("pipeline.locate.changed.find_segments", find)
    cores = _cores(2)
    _changed(cores, _after(cores, "Avenue"), [True], evidence=_EVIDENCE._replace(learn=True))
    assert asked == [_EVIDENCE]
