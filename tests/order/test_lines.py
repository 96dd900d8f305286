"""The lines of an order, by hand: exact needs, whole bags and packs, and the rounding surplus between them."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.contracts import ORDER_COLUMNS
from pipeline.order.lines import item_of, order_lines, whole_packs
from pipeline.programme.catalogue import load_catalogue

_MATERIALS = load_catalogue({}, "test").materials


def _served(*rows):
    """Rows of district, period, shade and bags; 6.5 kg of gravel each."""
    frame = pd.DataFrame(rows, columns=["district", "period", "shade", "bags"])
    return frame.assign(
        bedding="pea gravel", grout_kg=frame["bags"] * 20, water_l_needed=frame["bags"] * 2, gravel_kg=6.5
    )


def _mixed(*rows):
    return pd.DataFrame(rows, columns=["district", "period", "shade", "shared"])


def _line(lines, item):
    return lines[lines["item"].eq(item)].iloc[0].to_dict()


def test_grout_is_ordered_by_the_bags_mixed():
    lines = order_lines(_served(("East", "W41", "dark", 0.5), ("East", "W41", "dark", 0.75)), _mixed(("East", "W41", "dark", 2.0)), _MATERIALS)  # fmt: skip
    assert _line(lines, "grout dark") == {
        "district": "East", "period": "W41", "item": "grout dark", "unit": "kg", "needed": 25.0, "order": 40.0,
        "reserve": 15.0, "packs": 2,
    }  # fmt: skip


def test_gravel_is_ordered_in_whole_packs_and_water_for_the_bags_mixed():
    lines = order_lines(_served(("East", "W41", "dark", 0.5)), _mixed(("East", "W41", "dark", 1.0)), _MATERIALS)
    gravel = _line(lines, "pea gravel")
    # packs of 25 kg
    assert (gravel["needed"], gravel["order"], gravel["reserve"], gravel["packs"]) == (6.5, 25, 18.5, 1)
    water = _line(lines, "water")
    assert (water["needed"], water["order"], water["unit"]) == (1, 2, "L")
    assert pd.isna(water["packs"])


def test_half_a_bag_mixed_is_half_of_one_that_is_bought():
    lines = order_lines(_served(("East", "W41", "dark", 1.4)), _mixed(("East", "W41", "dark", 1.5)), _MATERIALS)
    assert _line(lines, "grout dark")["packs"] == 2
    assert _line(lines, "water")["order"] == 3


def test_lines_are_in_the_order_district_period_grout_gravel_water():
    served = _served(("West", "W41", "pale", 0.5), ("East", "W42", "dark", 0.5), ("East", "W41", "pale", 0.5), ("East", "W41", "dark", 0.5))  # fmt: skip
    mixed = served.assign(shared=1.0)[["district", "period", "shade", "shared"]]
    lines = order_lines(served, mixed, _MATERIALS)
    assert lines.columns.tolist() == list(ORDER_COLUMNS)
    assert lines[["district", "period", "item"]].to_numpy().tolist()[:4] == [
        ["East", "W41", "grout dark"], ["East", "W41", "grout pale"], ["East", "W41", "pea gravel"], ["East", "W41", "water"],
    ]  # fmt: skip
    assert lines["district"].tolist() == ["East"] * 7 + ["West"] * 3


def test_no_cores_make_no_lines_but_all_columns():
    lines = order_lines(_served().astype({"grout_kg": float}), _mixed(), _MATERIALS)
    assert lines.empty
    assert lines.columns.tolist() == list(ORDER_COLUMNS)


@pytest.mark.parametrize(
    ("packs", "whole"), [(0.0, 0), (0.2, 1), (1.0, 1), (1.0 + 1e-12, 1), (1.0 + 1e-6, 2), (2.999999999999, 3)]
)
def test_packs_are_rounded_up_but_not_for_a_rounding_error(packs, whole):
    assert whole_packs(pd.Series([packs])).tolist() == [whole]


def test_an_item_of_grout_is_named_for_its_shade():
    assert item_of("dark") == "grout dark"


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(["East", "West"]), st.floats(0.01, 3)), min_size=1, max_size=20))
def test_needs_are_kept_exactly_and_the_surplus_is_what_was_rounded(rows):
    served = _served(*((district, "W41", "dark", bags) for district, bags in rows))
    sums = served.groupby("district", as_index=False)["bags"].sum()
    mixed = sums.assign(period="W41", shade="dark", shared=np.ceil(sums["bags"]))
    lines = order_lines(served, mixed, _MATERIALS)
    assert (lines["order"] - lines["needed"]).tolist() == pytest.approx(lines["reserve"].tolist())
    grout = lines[lines["item"].eq("grout dark")]
    assert grout["needed"].sum() == pytest.approx(served["grout_kg"].sum())
    assert grout["reserve"].between(-1e-6, 20).all()
    assert (grout["order"] == 20 * grout["packs"]).all()
    backwards = order_lines(served.iloc[::-1], mixed, _MATERIALS)
    pd.testing.assert_frame_equal(lines, backwards, check_exact=True)
