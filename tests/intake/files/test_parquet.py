"""Parquet files of every oddity: read, or refused in words."""

import json

import geopandas as gpd
import pandas as pd
import pyarrow as pa
import pytest
import shapely
from pyarrow import parquet

from pipeline.errors import InputError
from pipeline.intake.files.header_rows import Wanted
from pipeline.intake.files.layers import read_raw
from pipeline.intake.files.parquet import read_parquet
from pipeline.programme.settings import Cores

_FRAME = gpd.GeoDataFrame({"id": ["a", "b"]}, geometry=[shapely.Point(0, 0), None], crs=32617)


@pytest.fixture
def spoiled(tmp_path):
    """Write the frame with other metadata or another geometry column."""

    def write(geo=None, wkb=None, pandas=None):
        _FRAME.to_parquet(tmp_path / "a.parquet")
        table = parquet.read_table(tmp_path / "a.parquet")
        metadata = dict(table.schema.metadata)
        if wkb is not None:
            table = table.set_column(1, "geometry", pa.array([wkb, None], pa.binary()))
        if geo is not None:
            metadata[b"geo"] = geo if isinstance(geo, bytes) else json.dumps({**json.loads(metadata[b"geo"]), **geo})
        if pandas is not None:
            metadata[b"pandas"] = pandas
        parquet.write_table(table.replace_schema_metadata(metadata), tmp_path / "a.parquet")
        return tmp_path / "a.parquet"

    return write


def test_a_point_may_be_missing(spoiled):
    table = read_parquet(spoiled(), "a.parquet")
    assert (table.frame["id"].tolist(), table.crs.to_epsg()) == (["a", "b"], 32617)
    assert table.geometry[0] == shapely.Point(0, 0)
    assert table.geometry[1] is None


@pytest.mark.parametrize(
    "how",
    [
        {"wkb": b"no geometry"},
        {"wkb": b"\x01\x02\x00\x00\x00\xff\xff\xff\xff"},
        {"geo": {"primary_column": "nothing"}},
        {"geo": {"primary_column": 7}},
        {"geo": {"columns": []}},
        {"geo": {"columns": {"geometry": {"encoding": "other"}}}},
        {"geo": {"columns": {"geometry": {"encoding": "WKB", "crs": "not a known CRS"}}}},
        {"geo": {"version": None}},
        {"geo": b"no json"},
        {"geo": b"[1, 2]"},
        {"geo": b"\xff\xfe"},
        {"pandas": b"no json"},
    ],
)
def test_what_cannot_be_read_is_refused_in_words(spoiled, how):
    with pytest.raises(
        InputError, match=r"^a\.parquet: (cannot be read as Parquet \(.+\)|its metadata \"geo\" .+)\. Export .+\.$"
    ):
        read_parquet(spoiled(**how), "a.parquet")


def test_a_file_of_no_rows_is_refused(tmp_path):
    pd.DataFrame({"a": []}).to_parquet(tmp_path / "a.parquet")
    with pytest.raises(InputError, match=r"^a\.parquet: the file has no rows\. Export it again, with the data\.$"):
        read_parquet(tmp_path / "a.parquet", "a.parquet")


def _noted_by_pandas(path, **columns):
    """Write a table whose columns are not what its note of pandas says: text throughout."""
    rows = len(next(iter(columns.values())))
    noted = pa.Table.from_pandas(pd.DataFrame({name: ["a"] * rows for name in columns}), preserve_index=False)
    parquet.write_table(pa.table(columns).replace_schema_metadata(noted.schema.metadata), path)
    return path


def _noted_with_shapes(table, path):
    frame = table.to_pandas(types_mapper={pa.int64(): pd.Int64Dtype(), pa.uint16(): pd.UInt16Dtype()}.get)
    gpd.GeoDataFrame(frame, geometry=[shapely.Point(at, at) for at in range(3)], crs=32617).to_parquet(path)
    # as others write it, without a note of pandas
    whole = parquet.read_table(path)
    parquet.write_table(whole.replace_schema_metadata({b"geo": whole.schema.metadata[b"geo"]}), path)


def _in_two_parts(table, path):
    path.mkdir()
    parquet.write_table(table.slice(0, 2), path / "1.parquet")
    parquet.write_table(table.slice(2), path / "2.parquet")


def test_a_column_is_read_as_what_it_is_and_not_as_pandas_noted(tmp_path):
    path = _noted_by_pandas(tmp_path / "a.parquet", id=["a", "b"], note=pa.array([[1, 2], [3]]))
    assert read_parquet(path, "a.parquet").frame.to_dict("list") == {"id": ["a", "b"], "note": ["[1 2]", "[3]"]}


@pytest.mark.parametrize("write", [parquet.write_table, _noted_with_shapes, _in_two_parts])
def test_whole_numbers_stay_whole_beside_a_blank(tmp_path, write):
    long = pa.array([20260930123456784, None, 20260930123456785])
    short = pa.array([1, None, 2], pa.uint16())
    write(pa.table({"id": long, "crew": short}), tmp_path / "a.parquet")
    table = read_raw(Cores(path="a.parquet"), tmp_path, "cores", None)
    assert table.frame["id"].fillna("").tolist() == ["20260930123456784", "", "20260930123456785"]
    assert table.frame["crew"].fillna("").tolist() == ["1", "", "2"]


def test_times_of_an_unknown_zone_are_read_as_utc_and_told(tmp_path):
    times = pa.array([0], pa.timestamp("s", "Mars/Base"))
    table = read_parquet(_noted_by_pandas(tmp_path / "a.parquet", cut=times), "a.parquet")
    assert table.frame["cut"].tolist() == ["1970-01-01 00:00:00+00:00"]
    assert "'Mars/Base', which is not known" in table.notices[0]


def test_bytes_that_a_register_does_not_read_are_kept_as_digits_and_those_it_reads_are_named(tmp_path):
    path = tmp_path / "a.parquet"
    parquet.write_table(pa.table({"id": ["a"], "shape": pa.array([b"\x01\xff"])}), path)
    table = read_parquet(path, "a.parquet", Wanted(needed=(("id",),)))
    assert table.frame["shape"].tolist() == ["01ff"]
    assert table.notices == ["a.parquet: column 'shape' holds bytes, not text; it is kept as hexadecimal digits."]
    with pytest.raises(InputError, match=r"^a\.parquet: column 'shape' is not UTF-8 text"):
        read_parquet(path, "a.parquet", Wanted(needed=(("shape",),)))
