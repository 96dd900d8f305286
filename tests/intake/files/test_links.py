"""Files that lead to other data are refused as such, whatever they are called."""

import json

import pytest

from pipeline.errors import InputError
from pipeline.intake.files import links
from pipeline.intake.files.links import refuse_links

_VRT = "<OGRVRTDataSource><OGRVRTLayer name='a'><SrcDataSource>/etc/x</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>"
_POINT = {"type": "Feature", "properties": {"type": "link"}, "geometry": {"type": "Point", "coordinates": [0, 0]}}
_POINTS = {"type": "FeatureCollection", "features": [_POINT]}
_NEXT = [{"rel": "next", "href": "http://roads.test/2"}]
_LINKS = {
    "a.vrt": _VRT,
    "a.gpkg": _VRT,
    "a.geojson": "\ufeff\n" + _VRT,
    "a.fgb": "<?xml version='1.0'?>" + _VRT,
    "b.xml": "<OGRWFSDataSource><URL>http://roads.test</URL></OGRWFSDataSource>",
    "c.xml": "<GDAL_WMS/>",
    "d.xml": '<wfs:WFS_Capabilities xmlns:wfs="http://www.opengis.net/wfs"/>',
    "e.json": json.dumps({"type": "gdal_streamed_alg", "command_line": "gdal vector pipeline ! read x"}),
    "f.json": json.dumps({"title": "roads", "links": [{"rel": "data", "href": "http://roads.test"}]}),
    "g.tab": '!table\n!version 300\nDefinition Table\n  Type NATIVE\nbegin_metadata\n"\\IsSeamless" = "TRUE"\n',
    "h.tab": '!table\n!version 100\nOpen Table "other" Hide\nCreate View x As\nSelect * from other\n',
    "i.kml": "<kml><NetworkLink><Link><href>http://roads.test</href></Link></NetworkLink></kml>",
}
_DATA = {
    "a.geojson": json.dumps(_POINTS),
    "a.topojson": json.dumps({"type": "Topology", "objects": {}, "links": []}),
    "a.tab": '!table\n!version 300\nDefinition Table\n  Type NATIVE Charset "Neutral"\n  Fields 1\n    Type Char (9) ;\n',
    "a.kml": "<kml><Document><NetworkLink/><Placemark/></Document></kml>",
    "a.gml": "<FeatureCollection xmlns='http://www.opengis.net/gml'/>",
    "a.csv": "id,note\n1,<OGRVRTDataSource>\n",
    "a.gpkg": "",
}


@pytest.mark.parametrize("name", _LINKS)
def test_a_link_is_refused_as_one(tmp_path, name):
    (tmp_path / name).write_text(_LINKS[name], encoding="utf-8")
    with pytest.raises(InputError) as error:
        refuse_links(tmp_path / name, name)
    assert str(error.value) == (
        f"{name}: this is a link to other data, not data. Save the data that it leads to as a file, and give the path of "
        "that file."
    )


@pytest.mark.parametrize("name", _DATA)
def test_data_passes(tmp_path, name):
    (tmp_path / name).write_text(_DATA[name], encoding="utf-8")
    refuse_links(tmp_path / name, name)


@pytest.mark.parametrize(
    "page",
    [
        {**_POINTS, "links": _NEXT},
        {"type": "FeatureCollection", "links": _NEXT, "features": [_POINT]},
        {"exceededTransferLimit": True, "features": []},
        {"features": [{"attributes": {}, "geometry": {}}], "exceededTransferLimit": True},
    ],
)
def test_one_page_of_several_is_refused(tmp_path, page):
    (tmp_path / "a.json").write_text(json.dumps(page), encoding="utf-8")
    with pytest.raises(InputError) as error:
        refuse_links(tmp_path / "a.json", "a.json")
    assert str(error.value) == (
        "a.json: this is one page of several: it has a link to the next one. Save all pages as one file."
    )


@pytest.mark.parametrize("is_first", [True, False])
def test_a_crs_that_is_a_link_is_refused_wherever_it_stands(tmp_path, is_first):
    crs = {"crs": {"type": "link", "properties": {"href": "http://roads.test/crs"}}}
    # longer than what is read of the beginning and the end
    many = {"features": [_POINT] * 2000, "more": ["x" * 100] * 2000}
    (tmp_path / "a.geojson").write_text(
        json.dumps(crs | many if is_first else {"features": many["features"]} | crs | many)
    )
    with pytest.raises(
        InputError, match=r"^a\.geojson: its CRS is a link to other data; expected the name of the CRS\."
    ):
        refuse_links(tmp_path / "a.geojson", "a.geojson")


def test_a_crs_across_the_border_of_two_blocks_is_seen(tmp_path, monkeypatch):
    monkeypatch.setattr(links, "_BLOCK", 70_000)
    crs = '"crs": {"type": "link"}}'
    for shift in range(len(crs)):
        (tmp_path / "a.json").write_text('{"a": "' + "x" * (70_000 - 10 - shift) + '", ' + crs, encoding="utf-8")
        with pytest.raises(InputError, match="its CRS is a link"):
            refuse_links(tmp_path / "a.json", "a.json")


@pytest.mark.parametrize(
    ("name", "start", "what"),
    [
        ("a.geojson", b"SQLite format 3\x00", "an SQLite file such as a GeoPackage"),
        ("a.gpkg", b"fgb\x03fgb", "a FlatGeobuf file"),
        ("a.gpkg", b"PK\x03\x04", "a zip archive or an .xlsx workbook"),
        ("a.shp", b"PAR1", "a Parquet file"),
    ],
)
def test_a_file_of_another_kind_is_refused_with_its_own(tmp_path, name, start, what):
    (tmp_path / name).write_bytes(start)
    with pytest.raises(
        InputError, match=rf"^{name}: this is {what}, not what '\.\w+' stands for\. Give the file its prop"
    ):
        refuse_links(tmp_path / name, name)


def test_a_folder_passes(tmp_path):
    refuse_links(tmp_path, "a.gdb")


@pytest.mark.parametrize(("content", "kind"), [(b"%PDF-1.7", "a PDF"), (b"GIF89a", "a picture")])
def test_what_people_can_only_look_at_is_refused_whatever_its_name(tmp_path, content, kind):
    for name in ("a.pdf", "a.gpkg"):
        (tmp_path / name).write_bytes(content)
        with pytest.raises(InputError, match=f"{name}: this is {kind}: no table and no layer can be read from it"):
            refuse_links(tmp_path / name, name)
