"""Inputs that try to make whoever reads them open a connection, each to a path of its own of one server."""

import json
import shutil
import sqlite3
import zipfile
from collections.abc import Iterator
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pyarrow as pa
import shapely
from pyarrow import parquet

_POINTS = gpd.GeoDataFrame(
    {"id": ["A", "B"]}, geometry=[shapely.Point(-82.2, 44.8), shapely.Point(-82.201, 44.8)], crs=4326
)
_ENTITY = '<?xml version="1.0"?>\n<!DOCTYPE {root} SYSTEM "{url}.dtd" [<!ENTITY far SYSTEM "{url}.ent">\n<!ENTITY % more SYSTEM "{url}.pe"> %more;]>\n'
_GML = (
    '{top}<ogr:FeatureCollection xmlns:ogr="http://ogr.maptools.org/" xmlns:gml="http://www.opengis.net/gml" '
    'xmlns:xlink="http://www.w3.org/1999/xlink" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" {attributes}>'
    "<gml:featureMember><ogr:p gml:id='p.1'><ogr:geometry><gml:Point{srs}><gml:pos>44.8 -82.2</gml:pos></gml:Point>"
    "</ogr:geometry><ogr:id>A</ogr:id>{more}</ogr:p></gml:featureMember></ogr:FeatureCollection>"
)
_KML = (
    '{top}<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Style id="s"><IconStyle><Icon><href>{url}.png</href></Icon>'
    "</IconStyle></Style><Placemark><name>{name}</name><styleUrl>{url}.kml#s</styleUrl><Point><coordinates>-82.2,44.8"
    "</coordinates></Point></Placemark><NetworkLink><Link><href>{url}.kml</href></Link></NetworkLink></Document></kml>"
)
_PLACED = {"type": "Feature", "properties": {"id": "A"}, "geometry": {"type": "Point", "coordinates": [-82.2, 44.8]}}


def write_links(folder: Path, base: str) -> list[str]:
    """Write files that lead to ``base`` into a folder, and return their names."""
    for name, text in _texts(base):
        (folder / name).write_text(text, encoding="utf-8")
    _write_beside_a_shapefile(folder, base)
    _write_databases(folder, base)
    _write_archives(folder, base)
    _write_workbook(folder, base)
    _write_parquet(folder, base)
    (folder / "linked.csv").symlink_to("//127.0.0.1/share/cores.csv")
    beside = {".shx", ".dbf", ".prj", ".cpg", ".qpj"}
    return sorted(file.name for file in folder.iterdir() if file.suffix not in beside and file.name.count(".") == 1)


def addresses(base: str) -> list[str]:
    """Return paths that are addresses themselves, of ``base`` where they name one."""
    host = base.removeprefix("http://")
    name, _, port = host.partition(":")
    return [
        f"{base}/a.csv", f"https://{host}/a.csv", f"HTTP://{host}/a.geojson", "s3://bucket/a.csv", "gs://bucket/a.csv",
        f"/vsicurl/{base}/b.geojson", f"/vsicurl?url={base}/c.geojson", f"/vsicurl_streaming/{base}/d.csv",
        f"/vsizip//vsicurl/{base}/e.zip/e.shp", "/vsis3/bucket/f.gpkg", "/vsigs/bucket/g.gpkg", "/vsiaz/bucket/g.gpkg",
        f"WFS:{base}/wfs", f"OAPIF:{base}/oapif", f"ESRIJSON:{base}/query?f=json", f"MVT:{base}/0/0/0.mvt",
        f"PG:host={name} port={port} dbname=x", f"MYSQL:x,host={name},port={port}", f"GML:{base}/h.gml",
        f"//{name}/share/i.csv", rf"\\{name}\share\j.csv", f"http:/{host}/k.csv", f"ftp://{host}/l.csv",
    ]  # fmt: skip


def _texts(base: str) -> Iterator[tuple[str, str]]:
    vrt = "<OGRVRTDataSource><OGRVRTLayer name='a'><SrcDataSource>/vsicurl/{}</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>"
    for name in ("plain.vrt", "vrt.geojson", "vrt.gpkg", "vrt.csv", "vrt.xml", "vrt.kml"):
        yield name, vrt.format(f"{base}/{name}.json")
    yield "service.xml", f"<OGRWFSDataSource><URL>{base}/service.xml</URL></OGRWFSDataSource>"
    yield "tiles.xml", f"<GDAL_WMS><Service name='WMS'><ServerUrl>{base}/tiles.xml</ServerUrl></Service></GDAL_WMS>"
    # what a GML file says of its schema, of a geometry elsewhere, of its CRS, and entities
    far = f"{base}/gml"
    schema = f'xsi:schemaLocation="http://ogr.maptools.org/ {far}.xsd"'
    link = f'<ogr:far xlink:href="{far}.xml#x"/><gml:pointProperty xlink:href="{far}-point.xml#x"/>'
    yield "schema.gml", _GML.format(top="", attributes=schema, srs="", more="")
    yield "xlink.gml", _GML.format(top="", attributes="", srs="", more=link)
    yield "crs.gml", _GML.format(top="", attributes="", srs=f' srsName="{far}-crs.xml"', more="")
    top = _ENTITY.format(root="ogr:FeatureCollection", url=far)
    yield "entity.gml", _GML.format(top=top, attributes="", srs="", more="<ogr:note>&far;</ogr:note>")
    yield "links.kml", _KML.format(top="", url=f"{base}/kml", name="A")
    yield "entity.kml", _KML.format(top=_ENTITY.format(root="kml", url=f"{base}/kml"), url=f"{base}/kml", name="&far;")
    yield "only.kml", f"<kml><NetworkLink><Link><href>{base}/only.kml</href></Link></NetworkLink></kml>"
    top = _ENTITY.format(root="osm", url=f"{base}/osm")
    yield (
        "entity.osm",
        f'{top}<osm version="0.6"><node id="1" lat="44.8" lon="-82.2"><tag k="name" v="A"/></node></osm>',
    )
    top = _ENTITY.format(root="gpx", url=f"{base}/gpx")
    yield (
        "entity.gpx",
        (
            f'{top}<gpx version="1.1" creator="x"><wpt lat="44.8" lon="-82.2"><name>&far;</name><link href="{base}/gpx"/></wpt></gpx>'
        ),
    )
    collection = {"type": "FeatureCollection", "features": [_PLACED]}
    named = {"type": "name", "properties": {"name": f"{base}/crs-name"}}
    linked = {"type": "link", "properties": {"href": f"{base}/crs-link", "type": "proj4"}}
    yield "name.geojson", json.dumps({**collection, "crs": named})
    yield "link.geojson", json.dumps({**collection, "crs": linked})
    yield "next.geojson", json.dumps({**collection, "links": [{"rel": "next", "href": f"{base}/next"}]})
    yield "schema.geojson", json.dumps({"$schema": f"{base}/schema.json", "@context": f"{base}/context", **collection})
    yield (
        "esri.json",
        json.dumps({"exceededTransferLimit": True, "geometryType": "esriGeometryPoint", "features": [], "url": base}),
    )
    yield (
        "pipeline.json",
        json.dumps({"type": "gdal_streamed_alg", "command_line": f"gdal vector pipeline ! read {base}/p.json"}),
    )
    yield (
        "seamless.tab",
        f'!table\n!version 300\nDefinition Table\n  Type LINKED\n  Fields 1\n id Char (9) ;\nopen table "{base}/x.tab"\n',
    )
    block = f"0\nSECTION\n2\nHEADER\n0\nENDSEC\n0\nSECTION\n2\nBLOCKS\n0\nBLOCK\n8\n0\n2\nX\n70\n4\n10\n0\n20\n0\n30\n0\n3\nX\n1\n{base}/x.dxf\n0\nENDBLK\n0\nENDSEC\n"
    yield "block.dxf", f"{block}0\nSECTION\n2\nENTITIES\n0\nPOINT\n8\n0\n10\n-82.2\n20\n44.8\n0\nENDSEC\n0\nEOF\n"


def _write_beside_a_shapefile(folder: Path, base: str) -> None:
    _POINTS.to_file(folder / "beside.shp")
    (folder / "beside.prj").write_text(f"{base}/beside.prj", encoding="utf-8")
    vrt = f"<PAMDataset><SRS>{base}/aux</SRS><Metadata><MDI key='x'>/vsicurl/{base}/aux.json</MDI></Metadata></PAMDataset>"
    for ending in (".shp.aux.xml", ".shp.xml", ".qpj"):
        (folder / f"beside{ending}").write_text(vrt, encoding="utf-8")


def _write_databases(folder: Path, base: str) -> None:
    for name, sql in {
        "virtual.gpkg": f"CREATE VIRTUAL TABLE far USING VirtualOGR('/vsicurl/{base}/virtual.json')",
        "view.gpkg": f"CREATE VIEW far AS SELECT ogr_geocode('{base}', 'geometry') FROM cores",
        "extension.sqlite": "CREATE VIEW far AS SELECT load_extension('//127.0.0.1/share/x.so')",
    }.items():
        _POINTS.to_file(folder / name, layer="cores", driver="GPKG" if name.endswith("gpkg") else "SQLite")
        with sqlite3.connect(folder / name) as database:
            database.execute("PRAGMA writable_schema = ON")
            kind = "view" if " VIEW " in sql else "table"
            database.execute("INSERT INTO sqlite_master VALUES (?, 'far', 'far', 0, ?)", (kind, sql))
        database.close()
    _POINTS.to_file(folder / "crs.gpkg", layer="cores")
    with sqlite3.connect(folder / "crs.gpkg") as database:
        database.execute("UPDATE gpkg_spatial_ref_sys SET definition = ?, organization = 'X'", (f"{base}/gpkg-crs",))
    database.close()


def _write_archives(folder: Path, base: str) -> None:
    with zipfile.ZipFile(folder / "inner.zip", "w") as archive:
        archive.writestr(f"{base}/inner.shp", b"\x00\x00\x27\x0a")
    with zipfile.ZipFile(folder / "vrt.zip", "w") as archive:
        archive.write(folder / "vrt.geojson", "vrt.geojson")
    with zipfile.ZipFile(folder / "links.kmz", "w") as archive:
        archive.write(folder / "links.kml", "doc.kml")


def _write_workbook(folder: Path, base: str) -> None:
    pd.DataFrame({"id": ["A"], "lon": [-82.2], "lat": [44.8]}).to_excel(folder / "plain.xlsx", index=False)
    with zipfile.ZipFile(folder / "plain.xlsx") as plain, zipfile.ZipFile(folder / "entity.xlsx", "w") as spoiled:
        for name in plain.namelist():
            text = plain.read(name)
            if name.endswith((".xml", ".rels")):
                head, _, body = text.partition(b"?>")
                url = f"{base}/xlsx-{name.rpartition('/')[2]}"
                text = (
                    head + b"?>" + f'<!DOCTYPE x SYSTEM "{url}" [<!ENTITY % m SYSTEM "{url}.pe"> %m;]>'.encode() + body
                )
            spoiled.writestr(name, text)
    with zipfile.ZipFile(folder / "plain.xlsx", "a") as linked:
        linked.writestr(
            "xl/externalLinks/_rels/externalLink1.xml.rels",
            f'<Relationships><Relationship Id="1" TargetMode="External" Target="{base}/book.xlsx"/></Relationships>',
        )


def _write_parquet(folder: Path, base: str) -> None:
    _POINTS.to_parquet(folder / "schema.parquet")
    table = parquet.read_table(folder / "schema.parquet")
    geo = json.loads(table.schema.metadata[b"geo"])
    for column in geo["columns"].values():
        column["crs"]["$schema"] = f"{base}/projjson"
    parquet.write_table(table.replace_schema_metadata({b"geo": json.dumps(geo)}), folder / "schema.parquet")
    odd = pa.table({"id": ["A"], "lon": [-82.2], "lat": [44.8]}).replace_schema_metadata({b"url": f"{base}/x".encode()})
    parquet.write_table(odd, folder / "far.parquet")
    (folder / "parts").mkdir()
    shutil.copy(folder / "far.parquet", folder / "parts" / "a.parquet")
    (folder / "parts" / "_SUCCESS").write_text(f"{base}/success", encoding="utf-8")
