"""The positions of a register: two columns, one column, points; what is a note, and what is how it is written."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from pyproj import CRS

from pipeline.errors import InputError, SettingsError
from pipeline.intake.files.tables import RawTable
from pipeline.intake.register_positions import read_positions, without_usual_forms
from pipeline.programme.settings import Cores

_DEGREES = CRS.from_epsg(4326)
_ROADS = (-82.25, 44.75, -82.15, 44.85)


def _table(**columns):
    frame = pd.DataFrame({name: pd.Series(cells, dtype="str") for name, cells in columns.items()})
    return RawTable(frame, np.arange(1, len(frame) + 1), len(frame), "cores.csv")


def _read(table, roads=_ROADS, roads_crs=_DEGREES, **settings):
    found = read_positions(table, Cores(path="cores.csv", **settings), roads, roads_crs)
    return pd.DataFrame(found.columns)


def test_a_crs_that_cannot_be_transformed_is_told_with_the_file_and_its_key():
    """A degree of no angle: every coordinate is the same."""
    wkt = CRS.from_epsg(32617).to_wkt("WKT1_ESRI").replace("0.0174532925199433]", "0.0]")
    with pytest.raises(
        InputError, match=r"^cores\.csv: its CRS \('.*'\) cannot be transformed .* Correct cores\.crs\.$"
    ):
        _read(_table(x=["404000"], y=["4961000"]), crs=wkt)


def test_a_cell_that_holds_both_is_kept_whole_and_the_other_is_missing():
    found = _read(_table(gps=["44.8, -82.2", "44.81; see sketch"]), position="GPS")
    assert found["x_text"].tolist() == ["44.8, -82.2", "44.81; see sketch"]
    assert found["y_text"].isna().all()
    assert (found["lon"][0], found["lat"][0]) == (-82.2, 44.8)
    assert found["position_problem"].fillna("").tolist() == ["", "unreadable"]


def test_a_cell_in_the_other_order_than_the_register_is_exchanged_and_marked():
    cells = ["44.8001, -82.2"] * 30 + ["-82.20, 44.8001"]
    found = _read(_table(gps=cells), position="GPS")
    assert found["position_repair"].tolist()[-1] == "swapped"
    assert (found["lon"].iloc[-1], found["lat"].iloc[-1]) == (-82.2, 44.8001)
    # its digits go with it: the longitude has two decimals, which are 790 m here
    assert found["position_step_m"].iloc[-1] == pytest.approx(789, abs=1)


def test_where_no_core_lies_near_the_roads_the_keys_of_one_column_are_named():
    with pytest.raises(
        InputError, match=r"Check cores\.crs, cores\.position and cores\.position_order\. Check roads\."
    ):
        _read(_table(gps=["12.8, -62.2", "12.81, -62.2"]), position="GPS")


def test_one_column_and_two_at_once_are_refused():
    with pytest.raises(SettingsError, match=r"cores\.position: found together with"):
        _read(_table(gps=["44.8, -82.2"], lon=["-82.2"]), position="gps", x="lon")
    with pytest.raises(InputError, match="no column 'GPS' for the position; the file has: lon"):
        _read(_table(lon=["-82.2"]), position="GPS")


def test_a_declared_decimal_comma_is_neither_a_note_nor_a_fault():
    table = _table(lon=["-82,2001", "-82,2002"], lat=["44,8001", "44,8002"])
    found = _read(table, decimal=",")
    assert found["position_repair"].isna().all()
    assert table.notices == []
    assert found["lon"].tolist() == [-82.2001, -82.2002]


def test_a_form_is_a_note_only_where_it_is_the_exception():
    plain, comma, minutes = ("-82.2001", "44.8001"), ("-82,2001", "44,8001"), ("W 82 12.0", "N 44 48.0")
    rows = [comma, *[minutes] * 4, plain]
    table = _table(lon=[x for x, _ in rows], lat=[y for _, y in rows])
    assert _read(table)["position_repair"].fillna("").tolist() == ["decimal comma", "", "", "", "", ""]
    assert table.notices == []


def test_a_decimal_comma_where_points_are_declared_is_a_note():
    repair = pd.Series(["decimal comma", "grouped digits", None, None], dtype="str")
    assert without_usual_forms(repair, ".").fillna("").tolist() == ["decimal comma", "", "", ""]
    assert without_usual_forms(repair, ",").isna().all()
    assert without_usual_forms(repair, None).fillna("").tolist() == ["decimal comma", "grouped digits", "", ""]


def test_most_positions_with_their_axes_exchanged_are_reported_with_the_settings():
    table = _table(lon=["44.8001", "44.8002", "-82.2001"], lat=["-82.2001", "-82.2002", "44.8001"])
    _read(table)
    assert "2 of 3 positions have the same fault: swapped. A setting may be wrong" in table.notices[0]
    assert "check cores.x, cores.y and cores.crs." in table.notices[0]
    table = _table(gps=["44.8, -82.2"] * 3)
    _read(table, position="gps", position_order="lon lat")
    assert "check cores.position_order and cores.crs" in table.notices[0]


def test_the_accuracy_of_a_register_is_given_to_each_of_its_rows():
    assert _read(_table(lon=["-82.2"], lat=["44.8"]), position_accuracy="3 m")["accuracy_by_register_m"].tolist() == [3]
    assert _read(_table(lon=["-82.2"], lat=["44.8"]))["accuracy_by_register_m"].isna().all()


def test_points_of_a_layer_have_no_digits():
    table = _table(id=["1"])
    table.geometry, table.crs = np.array([shapely.Point(-82.2, 44.8)]), _DEGREES
    found = _read(table)
    assert found[["position_step_m", "rounding_sigma_m"]].isna().all(axis=None)
    assert found["lon"].tolist() == [-82.2]


def test_cells_that_a_workbook_stores_as_numbers_have_lost_their_zeros():
    # 100 neighbouring numbers, of which ten end in one zero and one in two
    lon, lat = ([f"{start}{last:02d}".rstrip("0") for last in range(100)] for start in ("-82.2013", "44.8012"))
    table = _table(lon=[*lon, "-82.2"], lat=[*lat[::-1], "44.801234"])
    table.stored_as_number = pd.DataFrame(data=True, index=table.frame.index, columns=["lon", "lat"])
    found = _read(table)
    assert found["position_step_m"].iloc[:-1].max() < 1
    assert found["position_step_m"].iloc[-1] == pytest.approx(7890, abs=10)


@pytest.mark.parametrize(
    ("crs", "unit_m"),
    [
        ("EPSG:2225", 1200 / 3937),
        ("ESRI:102649", 1200 / 3937),
        ("EPSG:2222", 0.3048),
        ("EPSG:27700", 1),
        ("EPSG:29902", 1),
        ("EPSG:2157", 1),
        ("EPSG:2056", 1),
        ("EPSG:21781", 1),
        ("EPSG:31467", 1),
        ("EPSG:32612", 1),
    ],
)
def test_national_grids_and_feet_are_read_in_one_cell_and_in_two_columns(crs, unit_m):
    # cores around the middle of the area that the CRS is made for; the roads are in degrees
    west, south, east, north = CRS.from_user_input(crs).area_of_use.bounds
    lon, lat = np.array([0.0, 0.002, 0.004]) + (west + east) / 2, np.array([0.0, 0.001, 0.003]) + (south + north) / 2
    points = gpd.GeoSeries(gpd.points_from_xy(lon, lat), crs=4326).to_crs(crs)
    x, y = [f"{value:.2f}" for value in points.x], [f"{value:.2f}" for value in points.y]
    roads = (lon.min() - 0.01, lat.min() - 0.01, lon.max() + 0.01, lat.max() + 0.01)
    in_two = _read(_table(e=x, n=y), roads, x="e", y="n", crs=crs)
    in_one = _read(_table(p=[f"{a} / {b}" for a, b in zip(x, y, strict=True)]), roads, position="p", crs=crs)
    for found in (in_two, in_one):
        assert found["position_problem"].isna().all()
        assert found["position_repair"].isna().all()
        assert found["lon"].to_numpy() == pytest.approx(lon, abs=2e-7)
        assert found["lat"].to_numpy() == pytest.approx(lat, abs=2e-7)
        assert found["position_step_m"].to_numpy() == pytest.approx([0.01 * unit_m] * 3)


def test_the_right_numbers_in_a_wrong_zone_are_refused():
    x, y = [["424000.5"], ["4513000.5"]]
    roads = (-112.0, 40.5, -111.5, 41.0)
    assert _read(_table(e=x, n=y), roads, x="e", y="n", crs="EPSG:32612")["position_problem"].isna().all()
    with pytest.raises(InputError, match=r"no core lies near the roads.*Check cores\.crs"):
        _read(_table(e=x, n=y), roads, x="e", y="n", crs="EPSG:32611")
    # a Gauss-Krueger easting begins with the digit of its zone
    gk = gpd.GeoSeries(gpd.points_from_xy([9.5], [50.0]), crs=4326).to_crs(31467)
    assert f"{gk.x[0]:.0f}".startswith("35")
    with pytest.raises(InputError, match="no core lies near the roads"):
        _read(
            _table(e=[f"{gk.x[0]:.2f}"], n=[f"{gk.y[0]:.2f}"]), (9.4, 49.9, 9.6, 50.1), x="e", y="n", crs="EPSG:31466"
        )
