"""Which of two numbers is the latitude: what the numbers say, and what the roads say."""

import numpy as np
import pandas as pd
import pytest

from pipeline.intake.cells.coordinates import read_column
from pipeline.intake.cells.position_order import in_order, settle_order


def _coordinates(*values):
    return read_column(pd.Series([str(value) for value in values], dtype="str"), None, is_degrees=True)


def _settle(first, second, box, *, is_degrees=True, is_open=None):
    """Settle with roads that lie in a box: west, south, east, north."""
    west, south, east, north = box
    everything = np.ones(len(first), dtype=bool) if is_open is None else np.array(is_open)

    def near(x, y):
        return (x >= west) & (x <= east) & (y >= south) & (y <= north)

    return settle_order(_coordinates(*first), _coordinates(*second), everything, near, is_degrees=is_degrees)


_UTAH = (-112, 40, -111, 41)


def test_a_number_beyond_ninety_cannot_be_a_latitude():
    found = _settle([40.7, 40.8], [-111.9, -111.8], _UTAH)
    assert found == ("y x", "in 2 of 2 cells the second number cannot be a latitude")
    found = _settle([-111.9, -111.8], [40.7, 40.8], _UTAH)
    assert found == ("x y", "in 2 of 2 cells the first number cannot be a latitude")


def test_otherwise_the_roads_show_the_order():
    found = _settle([44.8, 44.9, 10], [-82.2, -82.1, 10], (-83, 44, -82, 45))
    assert found == ("y x", "in this order the roads are near 2 of 3 positions")
    found = _settle(
        [512_000, 513_000], [4_512_000, 4_513_000], (500_000, 4_500_000, 520_000, 4_520_000), is_degrees=False
    )
    assert found == ("x y", "in this order the roads are near 2 of 2 positions")


def test_roads_that_both_orders_lie_near_leave_it_open():
    assert _settle([45.1, 45.2], [45.3, 45.4], (45, 45, 46, 46)).order is None


def test_one_cell_written_the_other_way_round_does_not_unsettle_the_register():
    first, second = [40.7] * 30 + [-111.9], [-111.9] * 30 + [40.7]
    assert _settle(first, second, _UTAH).order == "y x"
    assert _settle(first[:3] + first[-1:], second[:3] + second[-1:], _UTAH).order is None


def test_cells_that_say_their_order_have_no_vote():
    found = _settle([40.7, -111.9], [-111.9, 40.7], _UTAH, is_open=[True, False])
    assert found == ("y x", "in 1 of 1 cell the second number cannot be a latitude")


def test_where_nothing_lies_near_the_roads_no_reason_is_given():
    assert _settle([10.0], [20.0], _UTAH) == ("y x", "")
    assert _settle([10.0], [20.0], _UTAH, is_degrees=False) == ("x y", "")


def test_everything_about_a_number_goes_along_when_the_order_is_turned():
    first, second = _coordinates("40.770", "N 40 46"), _coordinates("-111.9", "W 111 54 0.0")
    x, y = in_order(first, second, pd.Series(["y x", "x y"], dtype="str"))
    assert x.value.tolist() == pytest.approx([-111.9, 40 + 46 / 60])
    assert y.value.tolist() == pytest.approx([40.77, -111.9])
    assert x.step.tolist() == pytest.approx([0.1, 1 / 60])
    assert y.step.tolist() == pytest.approx([0.001, 0.1 / 3600])
    assert x.decimals.tolist()[0] == 1
    assert y.zeros.tolist() == [1, 2]
    assert x.form.fillna("").tolist() == ["", "dms"]
