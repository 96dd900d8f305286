"""Shade and bedding by surface."""

import pandas as pd
import pytest

from pipeline.programme.catalogue import load_catalogue
from pipeline.specify import specify

_CATALOGUE = load_catalogue({}, "test")


def _specified(*surfaces):
    return specify(pd.DataFrame({"surface": pd.Series(surfaces, dtype="str")}), _CATALOGUE)


def test_bituminous_surfaces_take_dark_and_cement_ones_pale():
    found = _specified("asphalt", "composite", "concrete", "concrete footway")
    assert found["shade"].tolist() == ["dark", "dark", "pale", "pale"]
    assert found["reinstatable"].all()


@pytest.mark.parametrize("surface", ["block paving", "unbound", "unknown"])
def test_a_surface_that_takes_no_core_has_neither_shade_nor_bedding(surface):
    found = _specified(surface).iloc[0]
    assert not found["reinstatable"]
    assert pd.isna(found["shade"])
    assert pd.isna(found["bedding"])


def test_every_surface_of_the_catalogue_is_specified_as_it_says():
    names = sorted(_CATALOGUE.surfaces)
    found = _specified(*names)
    for name, row in zip(names, found.to_dict("records")):
        surface = _CATALOGUE.surfaces[name]
        assert row["reinstatable"] == surface.reinstate
        assert row["shade"] == surface.shade if surface.reinstate else pd.isna(row["shade"])


def test_the_index_is_kept_and_no_cores_are_no_error():
    located = pd.DataFrame({"surface": pd.Series(["asphalt", "concrete"], index=[7, 3], dtype="str")})
    assert specify(located, _CATALOGUE).index.tolist() == [7, 3]
    empty = _specified()
    assert empty.empty
    assert empty.columns.tolist() == ["reinstatable", "shade", "bedding"]


def test_columns_are_text_even_where_all_are_missing():
    found = _specified("unknown")
    assert found["shade"].dtype == found["bedding"].dtype == "str"
