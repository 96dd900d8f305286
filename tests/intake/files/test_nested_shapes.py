"""Shapes in shapes: refused beyond a depth that no data have, before the library that reads them ends the process."""

import sqlite3
import struct

import geopandas as gpd
import numpy as np
import pyarrow as pa
import pytest
import shapely
from pyarrow import parquet

from pipeline.errors import InputError
from pipeline.intake.files.layers import read_raw
from pipeline.intake.files.nested_shapes import _depth, refuse_nested_shapes
from pipeline.programme.settings import Layer

_POINT = shapely.to_wkb(shapely.Point(478_000, 4_963_000))
_PLAIN = shapely.to_wkb(shapely.LineString([(0, 0), (1, 1)]))


def _nested(depth, kind=7, order="<"):
    """Return a point in so many collections, each with a plain line before the next."""
    head = struct.pack(f"{order}BII", order == "<", kind, 2)
    return (head + _PLAIN) * depth + _POINT + _POINT * depth


@pytest.mark.parametrize("dialect", ["iso", "extended"])
@pytest.mark.parametrize("order", [0, 1])
@pytest.mark.parametrize("dimension", [2, 3])
def test_the_depth_is_that_of_shapes_built_by_another_library(dialect, order, dimension):
    point = shapely.Point(1, 2) if dimension == 2 else shapely.Point(1, 2, 3)
    square = shapely.force_3d(shapely.box(0, 0, 1, 1)) if dimension == 3 else shapely.box(0, 0, 1, 1)
    shape = shapely.MultiPolygon([square, square])
    for depth in range(1, 12):
        written = shapely.to_wkb(
            shape, flavor=dialect, byte_order=order, output_dimension=dimension, include_srid=False
        )
        assert _depth(written) == depth
        shape = shapely.GeometryCollection([point, square, shape, point])


def test_an_srid_in_each_shape_is_passed_over():
    shape = shapely.set_srid(shapely.GeometryCollection([shapely.MultiPoint([(0, 0), (1, 1)])]), 32617)
    assert _depth(shapely.to_wkb(shape, include_srid=True)) == 2


@pytest.mark.parametrize("kind", [4, 5, 6, 7, 11, 12, 1007, 3006])
@pytest.mark.parametrize("order", ["<", ">"])
def test_a_shape_nested_a_thousand_times_is_refused_by_its_row(kind, order):
    with pytest.raises(InputError, match=r"a\.parquet: the shape of row 12 holds shapes in shapes more than 32 deep"):
        refuse_nested_shapes(pa.array([_POINT, None, _nested(1000, kind, order)]), "a.parquet", 10)


def test_large_plain_shapes_are_passed():
    squares = [shapely.box(n, 0, n + 0.5, 1) for n in range(2000)]
    shapes = [
        shapely.MultiPolygon(squares),
        shapely.MultiPoint(np.zeros((5000, 2))),
        shapely.GeometryCollection(squares),
    ]
    refuse_nested_shapes(pa.array(shapely.to_wkb(shapes).tolist()), "a.gpkg")


def _read(tmp_path, name):
    return read_raw(Layer(path=name), tmp_path, "roads", None)


def test_such_a_shape_in_a_file_ends_no_process(tmp_path):
    frame = gpd.GeoDataFrame({"seg": ["1"]}, geometry=[shapely.LineString([(0, 0), (9, 0)])], crs=32617)
    frame.to_parquet(tmp_path / "roads.parquet")
    table = parquet.read_table(tmp_path / "roads.parquet")
    at = table.schema.get_field_index("geometry")
    parquet.write_table(table.set_column(at, "geometry", pa.array([_nested(50_000)])), tmp_path / "roads.parquet")
    frame.to_file(tmp_path / "roads.gpkg")
    with sqlite3.connect(tmp_path / "roads.gpkg") as database:
        for (trigger,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            database.execute(f'DROP TRIGGER "{trigger}"')
        blob = b"GP\x00\x01" + struct.pack("<i", 32617) + _nested(50_000)
        database.execute("UPDATE roads SET geom = ?", (blob,))
    database.close()
    for name in ("roads.parquet", "roads.gpkg"):
        with pytest.raises(InputError, match="more than 32 deep"):
            _read(tmp_path, name)


@pytest.mark.parametrize(
    ("metadata", "says"),
    [
        (b'{"primary_column": "nowhere", "columns": {"nowhere": {"encoding": "WKB"}}}', "names the column 'nowhere'"),
        (b'{"primary_column": 3, "columns": {}}', "says nothing that can be used"),
        (b"[[[[", "says nothing that can be used"),
        (b"[" * 100_000, "says nothing that can be used"),
        (b'{"primary_column": "geometry", "columns": {"geometry": {}}}', "says nothing of the column 'geometry'"),
        (
            b'{"primary_column": "seg", "columns": {"seg": {"encoding": "WKB"}}}',
            "promises shapes in the column 'seg', which holds",
        ),
    ],
)
def test_metadata_of_shapes_that_say_something_else_are_named(tmp_path, metadata, says):
    frame = gpd.GeoDataFrame({"seg": ["1"]}, geometry=[shapely.LineString([(0, 0), (-0.1, 9.7)])], crs=32617)
    frame.to_parquet(tmp_path / "roads.parquet")
    table = parquet.read_table(tmp_path / "roads.parquet")
    parquet.write_table(table.replace_schema_metadata({b"geo": metadata}), tmp_path / "roads.parquet")
    with pytest.raises(InputError, match=rf'roads\.parquet: its metadata "geo" {says}'):
        _read(tmp_path, "roads.parquet")
    parquet.write_table(table.replace_schema_metadata(None), tmp_path / "roads.parquet")
    with pytest.raises(InputError, match=r"column 'geometry' is not UTF-8 text.*as GeoParquet, which says so"):
        _read(tmp_path, "roads.parquet")
