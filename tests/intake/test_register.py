"""The register understood: which column is which, and what stops a run."""

import geopandas as gpd
import pandas as pd
import pytest
import shapely
from pyproj import CRS

from pipeline.errors import InputError
from pipeline.intake.crs import layer_crs
from pipeline.intake.files.layers import read_raw
from pipeline.intake.register import read_register
from pipeline.programme.settings import Cores

_ROADS = (-82.25, 44.75, -82.15, 44.85)
_ROWS = {
    "id": ["1", "2"],
    "lon": ["-82.2", "-82.2"],
    "lat": ["44.8", "44.8"],
    "dia": ["18 in", "450 mm"],
    "depth": ["6 in", "8 in"],
}


def _register(tmp_path, *, columns=None, units=None, **more):
    pd.DataFrame(_ROWS | more).to_csv(tmp_path / "cores.csv", index=False)
    mapping = {"core_id": "id", "diameter": "dia", "depth": "depth"} | (columns or {})
    section = Cores(path="cores.csv", columns=mapping, units=units or {})
    table = read_raw(section, tmp_path, "cores", None)
    return read_register(table, section, "UTC", _ROADS, CRS.from_epsg(4326))


def test_a_column_of_the_right_name_is_taken_without_being_asked_for(tmp_path):
    register = _register(tmp_path, Street=["Quay", "Mill Lane"], flush_mm=["1", "2"])
    assert register.frame["street"].tolist() == ["Quay", "Mill Lane"]
    assert register.frame["flush_mm"].tolist() == [1, 2]
    assert {"street", "flush_mm"} <= register.present


def test_bare_numbers_stop_the_run_only_where_the_column_was_asked_for(tmp_path):
    register = _register(tmp_path, bedding=["25", "30"])
    assert register.frame["bedding_mm"].isna().all()
    assert register.frame["bedding_mm_problem"].isna().all()
    assert "'bedding' has bare numbers such as '25'; it is ignored" in register.notices[0]
    with pytest.raises(InputError, match="`bedding` has bare numbers"):
        _register(tmp_path, bedding=["25", "30"], columns={"bedding": "bedding"})
    assert _register(tmp_path, bedding=["25", "30"], units={"bedding": "mm"}).frame["bedding_mm"].tolist() == [25, 30]


def test_dates_that_could_be_either_stop_the_run_only_where_the_column_was_asked_for(tmp_path):
    dates = ["03/04/2026", "05/06/2026"]
    register = _register(tmp_path, opened_on=dates)
    assert register.frame["opened_on"].isna().all()
    assert "it is ignored. Set cores.day_first" in register.notices[0]
    with pytest.raises(InputError, match="which may be day first or month first"):
        _register(tmp_path, cut=dates, columns={"opened_on": "cut"})


def test_one_bare_number_among_many_sizes_is_a_matter_of_its_row(tmp_path):
    register = _register(tmp_path, dia=["18", "450 mm"])
    assert register.frame["diameter_mm_problem"].tolist()[0] == "no unit"
    assert register.frame["diameter_mm"].tolist()[1] == 450


@pytest.mark.parametrize("lost", ["core_id", "diameter", "depth"])
def test_a_needed_column_that_is_not_there_stops_the_run(tmp_path, lost):
    with pytest.raises(InputError, match=f"no column 'nowhere' for `{lost}`; the file has: id, lon, lat, dia, depth"):
        _register(tmp_path, columns={lost: "nowhere"})


def test_a_register_of_another_town_stops_the_run(tmp_path):
    with pytest.raises(InputError, match="no core lies near the roads"):
        _register(tmp_path, lon=["10.0", "10.1"])


def _layer(tmp_path, points, crs=4326):
    frame = gpd.GeoDataFrame(
        {"id": [str(place) for place in range(len(points))], "dia": "18 in", "depth": "6 in"}, geometry=points, crs=crs
    )
    frame.to_file(tmp_path / "cores.gpkg")
    section = Cores(path="cores.gpkg", columns={"core_id": "id", "diameter_mm": "dia", "depth_mm": "depth"})
    table = read_raw(section, tmp_path, "cores", None)
    return read_register(table, section, "UTC", _ROADS, CRS.from_epsg(4326))


def test_one_wrong_point_of_a_layer_is_a_matter_of_its_row(tmp_path):
    good = [shapely.Point(-82.2, 44.8)] * 4
    wrong = [shapely.Point(478123.4, 4963321.0), shapely.Point(44.8, -82.2), shapely.Point(-82.2, 95)]
    register = _layer(tmp_path, good + wrong)
    assert register.frame["position_problem"].fillna("").tolist() == ["", "", "", "", "projected", "", "out of range"]
    assert register.frame["position_repair"].fillna("").tolist() == ["", "", "", "", "", "swapped", ""]


def test_a_layer_of_metres_labelled_degrees_is_refused_as_a_whole(tmp_path):
    with pytest.raises(InputError, match="in degrees, but its coordinates extend from"):
        _layer(tmp_path, [shapely.Point(478123.4, 4963321.0)] * 4)


def test_a_figure_too_many_leaves_a_place_that_no_projection_knows(tmp_path):
    pd.DataFrame(_ROWS | {"x": ["404000", "1e12"], "y": ["4961000", "4961000"]}).to_csv(tmp_path / "cores.csv")
    mapping = {"core_id": "id", "diameter_mm": "dia", "depth_mm": "depth"}
    section = Cores(path="cores.csv", columns=mapping, x="x", y="y", crs="EPSG:32617")
    table = read_raw(section, tmp_path, "cores", None)
    frame = read_register(table, section, "UTC", _ROADS, CRS.from_epsg(4326)).frame
    assert frame["position_problem"].fillna("").tolist() == ["", "out of range"]
    assert frame[["x", "y", "lon", "lat"]].isna().all(axis="columns").tolist() == [False, True]


def test_a_few_dates_that_could_be_either_are_told_with_the_setting_they_want(tmp_path):
    register = _register(tmp_path, cut=["2026-09-30", "n/a"], columns={"opened_on": "cut"})
    assert register.notices == []
    rows = {name: [*cells, cells[0]] for name, cells in _ROWS.items()} | {
        "cut": ["2026-09-30", "2026-09-29", "03/04/2026"]
    }
    pd.DataFrame(rows).to_csv(tmp_path / "cores.csv", index=False)
    columns = {"core_id": "id", "diameter_mm": "dia", "depth_mm": "depth", "opened_on": "cut"}
    section = Cores(path="cores.csv", columns=columns)
    table = read_raw(section, tmp_path, "cores", None)
    register = read_register(table, section, "UTC", _ROADS, CRS.from_epsg(4326))
    assert "column 'cut' has 1 date not read, such as '03/04/2026'" in register.notices[0]
    assert "cores.day_first" in register.notices[0]


def test_a_slip_that_most_positions_share_is_told_once(tmp_path):
    register = _register(tmp_path, lon=["44.8", "44.8"], lat=["-82.2", "-82.2"])
    assert register.frame["position_repair"].tolist() == ["swapped", "swapped"]
    assert "2 of 2 positions have the same fault: swapped" in register.notices[0]


def test_an_undefined_crs_says_no_more_than_none():
    undefined = CRS.from_wkt(
        'ENGCRS["Undefined Cartesian SRS",EDATUM["Unknown"],CS[Cartesian,2],AXIS["x",east],AXIS["y",north],UNIT["metre",1]]'
    )
    notices: list[str] = []
    extent = (404000.0, 4960000.0, 406000.0, 4962000.0)
    with pytest.raises(InputError, match=r"declares no CRS and none is set\. Set cores\.crs"):
        layer_crs(undefined, None, extent, "cores.gpkg", "cores.crs", notices)
    assert layer_crs(undefined, "EPSG:32617", extent, "cores.gpkg", "cores.crs", notices).to_epsg() == 32617
    geographic = CRS.from_wkt(CRS.from_epsg(4326).to_wkt().replace('"WGS 84"', '"Undefined geographic SRS"', 1))
    with pytest.raises(InputError, match="declares no CRS"):
        layer_crs(geographic, None, (0, 0, 1, 1), "cores.gpkg", "cores.crs", notices)


def test_what_was_written_is_kept_beside_what_was_read(tmp_path):
    frame = _register(tmp_path, opened_on=["2026-09-01", "soon"]).frame
    assert frame["diameter_mm"].tolist() == pytest.approx([457.2, 450])
    assert frame["diameter_mm_text"].tolist() == ["18 in", "450 mm"]
    assert frame["opened_on_text"].tolist() == ["2026-09-01", "soon"]
    assert frame["opened_on_problem"].fillna("").tolist() == ["", "unreadable"]
    assert frame["x_text"].tolist() == ["-82.2", "-82.2"]


def test_the_unit_of_each_measure_is_recorded_wherever_it_comes_from(tmp_path):
    register = _register(
        tmp_path, bedding_mm=["25", "30"], cover=["0.6", "0.7"], flush=["1", "2"], columns={"cover": "cover"},
        units={"cover": "m", "flush": "mm"},
    )  # fmt: skip
    assert register.units["diameter_mm"] == "in the cells"
    assert (register.units["bedding_mm"], register.units["cover_m"], register.units["flush_mm"]) == ("mm", "m", "mm")
    assert register.frame["cover_m"].tolist() == [0.6, 0.7]


def test_a_missing_id_and_a_street_called_na_are_told_apart(tmp_path):
    frame = _register(tmp_path, id=["7", " "], street=["NA", ""]).frame
    assert frame["core_id"].fillna("none").tolist() == ["7", "none"]
    assert frame["street"].fillna("none").tolist() == ["NA", "none"]


def test_a_column_that_is_named_is_found_without_regard_to_case(tmp_path):
    assert _register(tmp_path, columns={"diameter": " DIA"}).frame["diameter_mm"].notna().all()


def _text_register(tmp_path, names, cells, **settings):
    pd.DataFrame([cells], columns=names).to_csv(tmp_path / "cores.csv", index=False)
    section = Cores(path="cores.csv", **settings)
    return read_register(read_raw(section, tmp_path, "cores", None), section, "UTC", _ROADS, CRS.from_epsg(4326))


def test_without_the_usual_names_the_columns_of_the_position_have_to_be_named(tmp_path):
    names, cells = ["core_id", "a", "b", "diameter", "depth"], ["1", "-82.2", "44.8", "18 in", "6 in"]
    with pytest.raises(InputError) as error:
        _text_register(tmp_path, names, cells)
    assert str(error.value) == (
        "cores.csv: no column 'lon' or 'long' or 'longitude' or 'x' or 'easting' for the position; "
        'the file has: core_id, a, b, diameter, depth. Set cores.x = "..." in the programme file.'
    )
    assert _text_register(tmp_path, names, cells, x="a", y="b", crs="EPSG:4326").frame["lon"].tolist() == [-82.2]


def test_columns_named_for_degrees_are_degrees_and_of_others_the_crs_has_to_be_set(tmp_path):
    cells = ["1", "-82.2", "44.8", "18 in", "6 in"]
    named = _text_register(tmp_path, ["core_id", "Longitude", "Latitude", "diameter", "depth"], cells)
    assert named.crs.to_epsg() == 4326
    with pytest.raises(InputError, match=r"the CRS of the columns 'x' and 'y' is not known\. Set cores\.crs, such as"):
        _text_register(tmp_path, ["core_id", "x", "y", "diameter", "depth"], cells)


def test_a_layer_without_points_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"^cores\.gpkg: the layer has no points; expected a point layer or a table"):
        _layer(tmp_path, [shapely.LineString([(-82.2, 44.8), (-82.1, 44.8)])] * 2)


def test_a_register_elsewhere_is_refused_with_where_it_is_and_why_rows_have_no_position(tmp_path):
    with pytest.raises(InputError) as error:
        _register(tmp_path, lon=["10.0", "x"], lat=["50.0", "44.8"])
    said = str(error.value)
    assert "(those with a position extend from 10, 50 to 10, 50; 1 unreadable)" in said
    assert said.endswith("Check cores.crs, cores.x and cores.y. Check roads.path.")
    with pytest.raises(InputError, match=r"\(none has a position; 2 zero\)"):
        _register(tmp_path, lon=["0", "0"], lat=["0", "0"])


def test_everything_that_stops_the_run_is_in_one_error(tmp_path):
    """A column that is not there, sizes without a unit, and positions far from the roads."""
    with pytest.raises(InputError) as raised:
        _register(tmp_path, dia=["18", "24"], lat=["10.0", "10.0"], columns={"crew": "gang"})
    first, second, third = str(raised.value).splitlines()
    assert "'gang' for `crew`" in first
    assert "'dia' for `diameter` has bare numbers such as '18'" in second
    assert "no core lies near the roads" in third
