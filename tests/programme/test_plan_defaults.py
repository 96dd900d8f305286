"""The shipped defaults of the plan."""

import tomllib

import pytest

from pipeline.programme.plan_defaults import CORE_STEPS, plan_defaults
from pipeline.programme.resources import shipped
from pipeline.programme.sources import KINDS, kind_of

_DEFAULTS = plan_defaults()


def test_sizes_are_those_of_core_barrels_in_inches():
    """12 in are 304.8 mm, 18 in 457.2 mm."""
    assert _DEFAULTS.sizes.ends_mm == pytest.approx([304.8, 457.2])
    assert _DEFAULTS.sizes.names == ["up to 12 in", "up to 18 in", "over 18 in"]


@pytest.mark.parametrize("kind", ["asphalt", "rigid"])
def test_every_step_has_minutes_for_every_size_and_a_larger_core_never_takes_less(kind):
    for step, minutes in _DEFAULTS.core_minutes(kind).items():
        assert step in CORE_STEPS
        assert len(minutes) == len(_DEFAULTS.sizes.names)
        assert minutes == sorted(minutes)


def test_the_more_urgent_weighs_more():
    weights = _DEFAULTS.weights
    assert weights.hazard > weights.booked > weights.overdue > weights.usual > 0


def test_each_table_has_its_source():
    written = tomllib.loads((shipped("config") / "plan.toml").read_text("utf-8"))
    tables = [table for name, table in written.items() if name != "minutes"] + [*written["minutes"].values()]
    assert {kind_of(table["source"]) for table in tables} <= set(KINDS) - {"code"}
