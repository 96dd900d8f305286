"""The mix a core takes its grout from, the cores that share it, and the order lines it is part of."""

import pandas as pd

from pipeline.publish.explain.supply import supply_section
from tests.publish.explain.rows import SHOW, row, texts

_PLAN = {
    "row": 7, "day": pd.Timestamp("2026-10-08"), "crew": "East 1", "stop": 3, "period": "2026-W41",
    "visit": "2026-10-08, A, B", "mix": 18, "bags_mixed": 0.75,
}  # fmt: skip
_NONE = pd.DataFrame()


def test_a_shared_mix_names_every_core_that_shares_it():
    other = _PLAN | {"row": 3, "bags_mixed": 1.25}
    said = texts(supply_section(row(plan=_PLAN, mix=[_PLAN, other]), {3: "HV-3", 7: "HV-7"}, _NONE, SHOW))
    assert said == [
        "To be reinstated on 8 Oct 2026 by crew East 1, stop 3, period 2026-W41.",
        "Mix 18 is shared by 2 cores. Bags to mix for all of them: 2.",
        "HV-3", "3", "1.25", "HV-7", "7", "0.75",
    ]  # fmt: skip


def test_a_mix_for_one_core_alone_needs_no_table():
    said = texts(supply_section(row(plan=_PLAN, mix=[_PLAN | {"bags_mixed": 1.0}]), {}, _NONE, SHOW))
    assert said[1:] == ["Mix 18 is for this core alone. Bags to mix: 1."]


def test_order_lines_are_shown_as_the_order_has_them():
    lines = pd.DataFrame(
        {"district": "Mill Bank", "item": ["grout dark", "water"], "unit": ["kg", "L"], "needed": ["11.12", "1.1"],
         "order": ["20", "2"], "packs": ["1", None]}
    )  # fmt: skip
    said = texts(supply_section(row(plan=_PLAN, mix=[_PLAN]), {}, lines, SHOW))
    assert said[-8:] == ["grout dark", "11.12 kg", "20 kg", "1", "water", "1.1 L", "2 L", ""]


def test_where_nothing_is_ordered_the_reason_is_given():
    assert texts(supply_section(row(is_copy=True, copy_of=3), {}, _NONE, SHOW)) == [
        "Nothing is ordered for this row: the order for this core is under row 3."
    ]
    assert "its need is not known" in texts(supply_section(row(), {}, _NONE, SHOW))[0]
    assert "has been reinstated" in texts(supply_section(row(is_open=False), {}, _NONE, SHOW))[0]
