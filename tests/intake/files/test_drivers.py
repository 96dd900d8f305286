"""GDAL opens a file with the drivers for its ending, opens nothing else, and the process survives."""

import json
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import geopandas as gpd
import pyogrio
import pytest
import shapely

from pipeline.errors import InputError
from pipeline.intake.files import staging
from pipeline.intake.files.drivers import drivers_for, only_drivers
from pipeline.intake.files.layers import read_raw
from pipeline.programme.settings import Layer

_POINTS = gpd.GeoDataFrame({"id": ["a"]}, geometry=[shapely.Point(0, 0)], crs=4326)
_POINT = {"type": "Feature", "properties": {}, "geometry": {"type": "Point", "coordinates": [0, 0]}}


@pytest.fixture
def server():
    """A server on this computer: its address, and the requests that it got."""
    asked = []

    class Handler(BaseHTTPRequestHandler):
        def parse_request(self):
            is_sound = super().parse_request()
            asked.append(self.path)
            return is_sound

        def do_GET(self):
            self.send_response(200)
            self.end_headers()
            self.wfile.write(json.dumps({"type": "FeatureCollection", "features": [_POINT]}).encode())

        def do_HEAD(self):
            self.do_GET()

        def log_message(self, *_):
            pass

    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as running:
        threading.Thread(target=running.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{running.server_port}", asked
        running.shutdown()


def _vrt(source):
    return f"<OGRVRTDataSource><OGRVRTLayer name='x'><SrcDataSource>{source}</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>"


def _tricks(web, planted):
    """Files that lead elsewhere, by name."""
    features = {"type": "FeatureCollection", "features": [_POINT]}
    pipeline = f"gdal vector pipeline ! read {web}/a.geojson ! reproject --dst-crs EPSG:4326"
    gml = (
        f'<wfs:FeatureCollection xmlns:wfs="http://www.opengis.net/wfs" xmlns:gml="http://www.opengis.net/gml" '
        f'xmlns:o="http://o.test" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" xmlns:l="http://www.w3.org/1999/xlink" '
        f'xsi:schemaLocation="http://o.test {web}/wfs?SERVICE=WFS&amp;REQUEST=DescribeFeatureType&amp;TYPENAME=x">'
        f'<gml:featureMember><o:x><o:g><gml:Point srsName="{web}/crs"><gml:coordinates>1,2</gml:coordinates></gml:Point></o:g>'
        f'<o:id l:href="{web}/id">a</o:id></o:x></gml:featureMember></wfs:FeatureCollection>'
    )
    tricks = {
        f"web.{end}": _vrt(f"/vsicurl/{web}/a.geojson") for end in ("geojson", "gpkg", "fgb", "gml", "kml", "json")
    }
    tricks |= {f"disk.{end}": _vrt(planted) for end in ("geojson", "gpkg", "fgb", "gml", "kml", "json", "shp", "csv")}
    return tricks | {
        "wfs.gml": f"<OGRWFSDataSource><URL>{web}/wfs</URL></OGRWFSDataSource>",
        "gdalg.json": json.dumps({"type": "gdal_streamed_alg", "command_line": pipeline}),
        "next.geojson": json.dumps({**features, "links": [{"rel": "next", "href": f"{web}/next"}]}),
        "landing.json": json.dumps(
            {"links": [{"rel": "data", "type": "application/json", "href": f"{web}/collections"}]}
        ),
        "crs.geojson": json.dumps({**features, "crs": {"type": "link", "properties": {"href": f"{web}/crs"}}}),
        "name.geojson": json.dumps({**features, "crs": {"type": "name", "properties": {"name": f"{web}/crs"}}}),
        "schema.gml": gml,
        "net.kml": '<kml xmlns="http://www.opengis.net/kml/2.2"><Document><NetworkLink><Link>'
        f"<href>{web}/a.kml</href></Link></NetworkLink><Placemark><styleUrl>{web}/a.kml#s</styleUrl><name>n</name>"
        "<Point><coordinates>1,2</coordinates></Point></Placemark></Document></kml>",
        "entity.gpx": f'<!DOCTYPE gpx [<!ENTITY e SYSTEM "{web}/e">]><gpx version="1.1" '
        'xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="1" lon="2"><name>&e;</name></wpt></gpx>',
    }


@pytest.mark.parametrize("is_first_wall_down", [False, True])
def test_no_file_makes_gdal_open_a_connection_or_another_file(tmp_path, server, monkeypatch, is_first_wall_down):
    """With the check of the first bytes, and with GDAL's drivers and options alone."""
    web, asked = server
    if is_first_wall_down:
        monkeypatch.setattr(staging, "refuse_links", lambda *_: None)
    _POINTS.assign(id="planted").to_file(tmp_path / "planted.geojson")
    inputs = tmp_path / "inputs"
    inputs.mkdir()
    tricks = _tricks(web, tmp_path / "planted.geojson")
    for name, content in tricks.items():
        (inputs / name).write_text(content, encoding="utf-8")
        try:
            table = read_raw(Layer(path=name), inputs, "roads", None)
        except InputError:
            continue
        assert "planted" not in table.frame.to_csv()
    assert asked == []
    assert {file.name for file in inputs.iterdir()} == set(tricks)


def test_the_server_sees_what_gdal_opens_without_these_walls(tmp_path, server):
    web, asked = server
    (tmp_path / "a.geojson").write_text(_vrt(f"/vsicurl/{web}/a.geojson"), encoding="utf-8")
    pyogrio.list_layers(tmp_path / "a.geojson")
    assert asked


def test_drivers_and_options_are_as_before_afterwards(tmp_path):
    drivers, proxy = list(pyogrio.list_drivers()), pyogrio.get_gdal_config_option("GDAL_HTTP_PROXY")
    with only_drivers(("GPKG",), tmp_path):
        assert list(pyogrio.list_drivers()) == ["GPKG"]
        assert pyogrio.get_gdal_config_option("CPL_TMPDIR") == str(tmp_path)
    assert list(pyogrio.list_drivers()) == drivers
    assert pyogrio.get_gdal_config_option("GDAL_HTTP_PROXY") == proxy


def test_every_driver_that_is_named_exists(tmp_path):
    for end in (
        "gpkg",
        "shp",
        "geojson",
        "fgb",
        "gdb",
        "kml",
        "gml",
        "gpx",
        "tab",
        "osm",
        "dxf",
        "dgn",
        "csv",
        "sqlite",
    ):
        assert set(drivers_for(tmp_path / f"a.{end}", "a")) <= set(pyogrio.list_drivers())


def test_a_format_that_is_not_read_is_refused_with_those_that_are(tmp_path):
    with pytest.raises(
        InputError, match=r"^a\.doc: found the extension '\.doc'; expected a map layer in one of: parquet, zip"
    ):
        drivers_for(tmp_path / "a.doc", "a.doc")
    with pytest.raises(InputError, match=r"^a: found no extension; expected a map layer"):
        drivers_for(tmp_path / "a", "a")


_SHAPES = {
    "none": [shapely.Point(0, 0), None, shapely.Point(1, 1)],
    "first none": [None, shapely.Point(1, 1)],
    "empty": [shapely.Point(1, 1), shapely.Point()],
    "polygon and none": [shapely.box(0, 0, 1, 1), None],
    "collection": [shapely.GeometryCollection([shapely.Point(0, 0), shapely.LineString([(0, 0), (1, 1)])])],
    "height": [shapely.Point(0, 0, 5), None],
}


@pytest.mark.parametrize("shapes", _SHAPES)
def test_a_flatgeobuf_without_an_index_may_have_a_feature_without_geometry(tmp_path, shapes):
    """GDAL's own Arrow stream of this format ends the process with a segmentation fault."""
    layer = gpd.GeoDataFrame({"id": [str(n) for n in range(len(_SHAPES[shapes]))]}, geometry=_SHAPES[shapes], crs=32617)
    layer.to_file(tmp_path / "a.fgb", SPATIAL_INDEX="NO")
    table = read_raw(Layer(path="a.fgb"), tmp_path, "cores", None)
    assert table.frame["id"].tolist() == layer["id"].tolist()
    expected = [None if shape is None or shape.is_empty else shape for shape in _SHAPES[shapes]]
    found = [None if shape is None or shape.is_empty else shape for shape in table.geometry]
    assert found == expected


@pytest.mark.parametrize("end", ["gpkg", "shp", "geojson", "fgb", "gml", "kml", "tab", "sqlite", "csv"])
def test_nothing_appears_beside_an_input_and_nothing_in_it_changes(tmp_path, end):
    if end == "csv":
        (tmp_path / "a.csv").write_text("id,WKT\na,POINT (0 0)\n", encoding="utf-8")
    else:
        _POINTS.to_file(tmp_path / f"a.{end}", driver={"sqlite": "SQLite", "kml": "KML"}.get(end))
    before = {file.name: file.read_bytes() for file in tmp_path.iterdir()}
    assert len(read_raw(Layer(path=f"a.{end}"), tmp_path, "roads", None).frame) == 1
    assert {file.name: file.read_bytes() for file in tmp_path.iterdir()} == before


@pytest.mark.parametrize("count", [1, 2])
def test_a_sequence_of_features_may_be_of_one(tmp_path, count):
    (tmp_path / "a.geojsonl").write_text((json.dumps(_POINT) + "\n") * count, encoding="utf-8")
    assert len(read_raw(Layer(path="a.geojsonl"), tmp_path, "roads", None).frame) == count
