"""What whoever sends a file writes byte by byte, and what reads it: tables, the headers of layers, the columns of a map.

Each of the readers is given bytes and a folder for its file. It returns nothing, and raises nothing but what is said to a
user; whatever else it raises is what is looked for.
"""

import json

import pyarrow as pa
import pyarrow.parquet as pq
import shapely
from pyproj import CRS

from pipeline.errors import InputError, SettingsError
from pipeline.intake.files.layers import read_raw
from pipeline.intake.map_layers import read_layer
from pipeline.intake.road_works import as_joints
from pipeline.programme.input_files import Cores, MapLayer
from pipeline.readback.pack_map import read_map_columns
from tests.fuzz.changed_maps import closed, example_map, opened

_METRES = CRS.from_epsg(32617)

# sound examples, from which cases are made
TABLES = (
    b'a.csv\nid,dia,note\n1,"18 in","x, ""y"""\n2,450 mm,\n',
    b"a.csv\nProgramme 2026\n\nid;dia;x\r\n1;0,45;2,5\r\n2;0,45;\r\n",
    b"a.tsv\n\xef\xbb\xbfid\tdia\n1\t18 in\n",
    "a.csv\nid,Größe\n1,½ in\n".encode("utf-16"),
)
HEADERS = (
    (
        b'parquet {"version": "1.1.0", "primary_column": "geometry", "columns": {"geometry": {"encoding": "WKB", '
        b'"geometry_types": ["LineString"], "crs": null, "bbox": [0, 0, 1, 1]}}}'
    ),
    b'geojson {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32617"}}',
    (
        b'prj PROJCS["x",GEOGCS["y",DATUM["z",SPHEROID["s",6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["Degree",0.0174532925]],'
        b'PROJECTION["Transverse_Mercator"],PARAMETER["Central_Meridian",-81],UNIT["Meter",1]]'
    ),
)


def read_as_table(folder, raw):
    """Read bytes as a register of text; their first line is the name of the file."""
    name, _, content = raw.partition(b"\n")
    ending = "tsv" if b"t" in name[-3:] else "csv"
    (folder / f"a.{ending}").write_bytes(content)
    _said(lambda: read_raw(Cores(path=f"a.{ending}", columns={"core_id": "id"}), folder, "cores", None))


def read_as_header(folder, raw, *, is_told=False):
    """Read bytes as what a layer of two lines says of itself; their first word is the kind of file.

    ``is_told``: what is said to a user is raised too.
    """
    kind, _, content = raw.partition(b" ")
    lines = ("LINESTRING (478100 4963002, 478110 4963002)", "LINESTRING (1 2, 3 4)")
    if kind == b"parquet":
        table = pa.table({"name": ["a", "b"], "geometry": shapely.to_wkb(shapely.from_wkt(lines))})
        pq.write_table(table.replace_schema_metadata({b"geo": content}), folder / "a.parquet")
        section = MapLayer(path="a.parquet")
    elif kind == b"geojson":
        feature = (
            b'{"type":"Feature","properties":{"name":"a"},"geometry":{"type":"LineString","coordinates":[[1,2],[3,4]]}}'
        )
        (folder / "a.geojson").write_bytes(
            b'{"type":"FeatureCollection","crs":' + content + b',"features":[' + feature + b"]}"
        )
        section = MapLayer(path="a.geojson")
    else:
        (folder / "a.csv").write_bytes(b"name,WKT\n" + b"".join(b'a,"' + line.encode() + b'"\n' for line in lines))
        (folder / "a.prj").write_bytes(content)
        section = MapLayer(path="a.csv")
    _said(lambda: as_joints(read_layer(section, "joints", folder, lambda _: None), _METRES), is_told=is_told)


def read_as_columns_of_a_map(folder, raw):
    """Read bytes as the description of the columns of a map's cards."""
    text = example_map()
    try:
        head = json.loads(raw)
    except (ValueError, RecursionError):
        return
    file = folder / "map.html"
    file.write_text(closed(text, "card-data", head, opened(text, "card-data")[1]), encoding="utf-8")
    _said(lambda: read_map_columns(file))


def columns_of_a_map():
    """Return a sound example of what the last reads."""
    return json.dumps(opened(example_map(), "card-data")[0]).encode()


def spoiled(raw, rng):
    """Return bytes with a few of them lost, doubled, exchanged or of another value."""
    octets = bytearray(raw)
    for _ in range(int(rng.integers(1, 6))):
        at, many = int(rng.integers(len(octets))), int(rng.integers(1, 20))
        match int(rng.integers(4)):
            case 0:
                del octets[at : at + many]
            case 1:
                octets[at:at] = octets[at : at + many] * int(rng.integers(1, 4))
            case 2:
                octets[at] = int(rng.integers(256))
            case _:
                octets[at:at] = _ODD[int(rng.integers(len(_ODD)))]
        octets = octets or bytearray(b" ")
    return bytes(octets)


_ODD = (b'"', b'""', b"\r", b"\n", b"\r\n", b"\0", b",", b";", b"\t", b"\xff\xfe", b"\xef\xbb\xbf", b"\xc3", b"1e999", b"-1", b"null",
        b"{}", b"[]", b"99999999999999999999", b"\\ud800", b"NaN", b"EPSG:0", b"=1+1")  # fmt: skip


def _said(read, *, is_told=False):
    try:
        read()
    except (InputError, SettingsError) as error:
        text = str(error)
        assert 20 < len(text) < 3000, text[:300]
        assert "site-packages" not in text, text[:300]
        if is_told:
            raise
