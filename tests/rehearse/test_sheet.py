"""Spoiled cells are written back where they are from, whatever way a register has of writing positions."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline.clock import silent
from pipeline.intake.reread import read_raw_registers
from pipeline.rehearse.sheet import sheet_of
from pipeline.run import read_programme

_EAST, _NORTH = 478_000.0, 4_963_000.0
_PLACES = {
    "columns": 'path = "cores.csv"\nx = "east"\ny = "north"\ncrs = "EPSG:32617"',
    "one cell": 'path = "cores.csv"\nposition = "place"\nposition_order = "x y"\ncrs = "EPSG:32617"',
    "points": 'path = "cores.gpkg"',
}


@pytest.fixture(params=_PLACES)
def town(request, tmp_path):
    """A street with four cores, in a register with few columns."""
    street = shapely.LineString([(_EAST, _NORTH), (_EAST + 500, _NORTH)])
    gpd.GeoDataFrame({"segment_id": ["1"]}, geometry=[street], crs=32617).to_file(tmp_path / "roads.gpkg")
    x = _EAST + 100.5 * np.arange(1, 5)
    table = pd.DataFrame(
        {
            "no": list("ABCD"), "dia": 450, "deep": 200, "east": x, "north": _NORTH + 1.5,
            "place": [f"E {one} / N {_NORTH + 1.5}" for one in x],
        }
    )  # fmt: skip
    table.to_csv(tmp_path / "cores.csv", index=False)
    points = gpd.points_from_xy(table["east"], table["north"])
    gpd.GeoDataFrame(table[["no", "dia", "deep"]], geometry=points, crs=32617).to_file(tmp_path / "cores.gpkg")
    path = tmp_path / "programme.toml"
    path.write_text(
        '[programme]\nname = "Street"\nas_of = 2026-09-30\n[roads]\npath = "roads.gpkg"\n'
        f"[cores]\n{_PLACES[request.param]}\n"
        'columns = { core_id = "no", diameter = "dia", depth = "deep" }\nunits = { diameter = "mm", depth = "mm" }\n'
    )
    settings, catalogue, _, inputs = read_programme(path)
    raw = read_raw_registers(settings, tmp_path, catalogue, silent)
    return inputs, raw, sheet_of(inputs, raw.tables)


def test_cells_have_the_two_numbers_of_the_position(town):
    _, _, sheet = town
    assert sheet.cells["x"].astype(float).tolist() == [_EAST + 100.5 * n for n in range(1, 5)]
    assert sheet.cells["y"].astype(float).unique().tolist() == [_NORTH + 1.5]
    assert set(sheet.cells) == {"core_id", "diameter_mm", "depth_mm", "x", "y"}


def test_spoiled_cells_are_read_as_an_audit_would_read_them(town):
    inputs, raw, sheet = town
    rows = np.array([1, 3])
    after = sheet.cells.iloc[rows].copy()
    after["x"] = pd.Series(["478021.5", after["x"].iloc[1]], after.index, dtype="str")
    after["depth_mm"] = pd.Series([after["depth_mm"].iloc[0], None], after.index, dtype="str")
    assert sheet.holdable(rows, after).all()
    typed = raw.typed(sheet.written(raw.tables, rows, after), inputs)
    assert typed.cores["x_m"].round(3).tolist() == [_EAST + 100.5, 478021.5, _EAST + 301.5, _EAST + 402]
    assert typed.cores["depth_mm"].fillna(0).tolist() == [200, 200, 200, 0]
    # what was read stays as it was
    untouched = raw.typed(raw.tables, inputs)
    pd.testing.assert_frame_equal(untouched.cores, inputs.cores)


def test_both_coordinates_can_be_left_blank(town):
    inputs, raw, sheet = town
    rows = np.array([2])
    after = sheet.cells.iloc[rows].assign(x=pd.Series(None, [2], dtype="str"), y=pd.Series(None, [2], dtype="str"))
    assert sheet.holdable(rows, after).all()
    typed = raw.typed(sheet.written(raw.tables, rows, after), inputs)
    assert typed.cores["x_m"].isna().tolist() == [False, False, True, False]


def test_a_point_holds_no_word_and_a_cell_that_stays_as_it_is_no_fault(town):
    _, _, sheet = town
    rows = np.array([0])
    after = sheet.cells.iloc[rows]
    assert not sheet.holdable(rows, after).any()
    word = after.assign(x=pd.Series("see photo", after.index, dtype="str"))
    assert sheet.holdable(rows, word).tolist() == ["x" in sheet.headers[0]]
