"""Quantities of items in the reader's units."""

import pandas as pd
import pytest

from pipeline.publish.item_units import in_units


def test_pounds_and_us_gallons_are_exact():
    table = pd.DataFrame({"unit": ["kg", "L"], "needed": [45.359237, 37.85411784], "order": [0.45359237, 3.785411784]})
    shown = in_units(table, "us")
    assert shown["unit"].tolist() == ["lb", "US gal"]
    assert shown["needed"].tolist() == pytest.approx([100, 10], rel=1e-12)
    assert shown["order"].tolist() == pytest.approx([1, 1], rel=1e-12)
    assert in_units(table, "metric") is table
