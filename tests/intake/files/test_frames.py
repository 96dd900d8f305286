"""Typed frames as raw tables, and what their CRS may need."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from pyproj import CRS

from pipeline.errors import InputError
from pipeline.intake.files.frames import first_sentence, raw_table


def _raw(frame, crs=None, notices=()):
    return raw_table(frame, np.arange(1, len(frame) + 1), len(frame), "a.gpkg", crs, list(notices))


def test_attributes_come_as_text_and_geometry_apart():
    frame = gpd.GeoDataFrame({"n": [1.0, 2.5], "n ": ["x", None]}, geometry=[shapely.Point(0, 0), None], crs=32617)
    table = _raw(frame, frame.crs, ["one"])
    assert table.frame["n"].tolist() == ["1", "2.5"]
    assert table.frame.columns.tolist() == ["n", "n.2"]
    assert table.geometry.tolist() == [shapely.Point(0, 0), None]
    assert table.notices[0] == "one"
    assert table.notices[1] == "a.gpkg: column 2 has the name of an earlier column, 'n'; it is read as 'n.2'."
    assert _raw(pd.DataFrame({"a": [1]})).geometry is None


@pytest.mark.parametrize("path", ["/dev/stdin", "../grid.gsb", "https://grids.test/a.tif", "C:\\grids\\a.gsb"])
def test_a_crs_that_names_a_file_is_refused(path):
    crs = CRS.from_user_input(f"+proj=longlat +ellps=GRS80 +nadgrids={path} +type=crs")
    with pytest.raises(InputError) as error:
        _raw(pd.DataFrame({"a": [1]}), crs)
    assert str(error.value) == (
        f"a.gpkg: its CRS needs the file {path!r}, a link to other data; expected a CRS that is complete in itself. Save "
        'the layer in a CRS with a code, such as "EPSG:32617".'
    )


@pytest.mark.parametrize(
    "crs",
    [
        "EPSG:3857",
        # Web Mercator as many programs write it, and a grid by its name
        "+proj=merc +a=6378137 +b=6378137 +nadgrids=@null +wktext +type=crs",
        "+proj=longlat +ellps=clrk66 +nadgrids=conus +type=crs",
    ],
)
def test_a_crs_that_is_complete_in_itself_passes(crs):
    assert _raw(pd.DataFrame({"a": [1]}), CRS.from_user_input(crs)).crs == CRS.from_user_input(crs)


def test_the_first_sentence_of_a_message_is_kept():
    assert first_sentence(ValueError("no such layer; use a keyword.\nMore")) == "no such layer"
    assert first_sentence("x" * 300) == "x" * 200
