"""What a run leaves in a real database, read by another library and compared with the files of its folder."""

import datetime as dt
import json

import geopandas as gpd
import numpy as np
import pandas as pd
import pyarrow as pa
import pytest
import shapely
from pyarrow import csv as arrow_csv

from pipeline.contracts import CORE_COLUMNS
from pipeline.spreadsheet_text import as_written
from tests.publish.database.runs import TABLES, counts, frame, keep

_OWN = ("id", "run", "geom", "own_columns")


@pytest.fixture
def kept(database, demo, tmp_path):
    """The demo's run of September, in a folder and in a database: the folder."""
    programme = tmp_path / "programme.toml"
    programme.write_text("as it was")
    return keep(database, (programme, demo), tmp_path / "out")


def _texts(path):
    """A CSV file as text, without the apostrophes before formulas; a cell without quotation marks is missing if empty."""
    convert = arrow_csv.ConvertOptions(
        column_types=dict.fromkeys(pd.read_csv(path, nrows=0).columns, pa.string()),
        null_values=[""], strings_can_be_null=True, quoted_strings_can_be_null=False,
    )  # fmt: skip
    parse = arrow_csv.ParseOptions(newlines_in_values=True)
    texts = arrow_csv.read_csv(path, parse_options=parse, convert_options=convert).to_pandas()
    cells = texts.apply(lambda column: as_written(column.astype("str"))).astype("object")
    return cells.where(cells.notna(), None)


def _same(stored, written):
    """Whether a value of the database is the one that the text of a file stands for."""
    if stored is None or written is None:
        return stored is None and written is None
    if isinstance(stored, bool):
        return written == ("yes" if stored else "no")
    if isinstance(stored, int | float):
        return float(written) == stored
    return written == (stored.isoformat() if isinstance(stored, dt.date) else stored)


def _differences(stored, written):
    assert len(stored) == len(written) > 0
    return [
        (name, one, other)
        for name in written
        for one, other in zip(stored[name], written[name], strict=True)
        if not _same(one, other)
    ]


@pytest.mark.parametrize(
    ("table", "file"), [("findings", "findings.csv"), ("orders", "orders.csv"), ("plan", "plan.csv")]
)
def test_every_cell_of_a_table_is_that_of_its_file(database, kept, table, file):
    written = _texts(kept / file)
    stored = frame(database, table)
    assert [name for name in stored if name not in _OWN] == [*written]
    assert _differences(stored, written) == []


def test_every_cell_of_a_core_is_that_of_the_parquet_file(database, kept):
    written, stored = pd.read_parquet(kept / "cores.parquet"), frame(database, "cores")
    assert [name for name in stored if name not in _OWN] == list(CORE_COLUMNS)
    for name in CORE_COLUMNS:
        cells = written[name].astype("object").where(written[name].notna(), None)
        assert stored[name].tolist() == cells.tolist(), name
    # the points and their boxes are in the file alone
    own = written.drop(columns=[*CORE_COLUMNS, "geometry", "bbox"]).astype("object")
    assert len(own.columns) == 31
    assert stored["own_columns"].tolist() == own.where(own.notna(), None).to_dict("records")
    assert _differences(stored, _texts(kept / "cores.csv")[list(CORE_COLUMNS)]) == []


def test_positions_are_where_the_run_measured_them(database, kept, demo):
    """PostGIS's own transformation to the run's CRS, against ours; a core without a position has no point."""
    assert kept.exists()
    code = demo.inputs.crs.to_epsg()
    rows = database.rows(
        "SELECT row, ST_X(p), ST_Y(p), lon, lat, ST_X(geom), ST_Y(geom) "
        f"FROM (SELECT *, ST_Transform(geom, {code}) p FROM kerfbook.cores) c WHERE geom IS NOT NULL ORDER BY row"
    )
    placed = demo.cores[demo.cores["x_m"].notna()].set_index("row")
    found = pd.DataFrame(rows, columns=["row", "x", "y", "lon", "lat", "px", "py"]).set_index("row")
    assert found.index.tolist() == placed.index.tolist()
    assert 0 < len(placed) < len(demo.cores)
    assert np.hypot(found["x"] - placed["x_m"], found["y"] - placed["y_m"]).max() < 0.005
    assert (found["lon"] == found["px"]).all()
    assert (found["lat"] == found["py"]).all()


def test_a_desktop_finds_layers_with_one_kind_of_shape_one_crs_and_a_key(database, kept):
    assert kept.exists()
    layers = database.rows("SELECT f_table_name, f_geometry_column, srid, type FROM geometry_columns ORDER BY 1")
    names = ["cores", "cores_latest", "findings_latest", "plan", "plan_latest"]
    assert layers == [(name, "geom", 4326, "POINT") for name in names]
    for name in names:
        assert database.rows(
            f"SELECT count(*) = count(DISTINCT id), pg_typeof(min(id))::text FROM kerfbook.{name}"
        ) == [(True, "bigint")]
    drawn = frame(database, "cores_latest")
    shapes = gpd.GeoSeries([shapely.from_wkb(one) for one in drawn["geom"]], crs=4326)
    assert shapes.geom_type.dropna().unique().tolist() == ["Point"]
    indexes = database.rows(
        "SELECT tablename FROM pg_indexes WHERE schemaname = 'kerfbook' AND indexdef LIKE '%gist (geom)%' ORDER BY 1"
    )
    assert indexes == [("cores",), ("plan",)]


def test_a_finding_is_drawn_where_its_core_is(database, kept):
    assert kept.exists()
    total, apart = database.rows(
        "SELECT count(*), count(*) FILTER (WHERE f.geom IS DISTINCT FROM c.geom OR f.status <> c.status) "
        "FROM kerfbook.findings_latest f JOIN kerfbook.cores c USING (run, row)"
    )[0]
    assert (total, apart) == (counts(database)["findings"], 0)


def test_every_table_and_column_is_described(database, kept):
    assert kept.exists()
    bare = database.rows(
        "SELECT c.relname, a.attname FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 "
        "WHERE c.relnamespace = 'kerfbook'::regnamespace AND c.relkind IN ('r', 'v') "
        "AND (col_description(c.oid, a.attnum) IS NULL OR obj_description(c.oid) IS NULL)"
    )
    assert bare == []
    ((said,),) = database.rows(
        "SELECT col_description('kerfbook.cores'::regclass, attnum) FROM pg_attribute WHERE attrelid = 'kerfbook.cores'::regclass AND attname = 'chainage_m'"
    )
    assert said == "Chainage (m): distance along the segment from its start"


def test_the_record_is_that_of_the_folder_and_names_the_database_without_credentials(database, kept):
    record = json.loads((kept / "run.json").read_text())
    ((stored, identity, programme, as_of, cores),) = database.rows(
        "SELECT record, identity, programme, as_of, cores FROM kerfbook.runs"
    )
    assert stored == record
    assert record["database"] == {"path": database.address, "schema": "kerfbook"}
    assert (identity, programme, as_of.isoformat(), cores) == (
        record["run"],
        record["programme"],
        record["as_of"],
        record["account"]["cores"],
    )
    assert set(counts(database)) == set(TABLES)
