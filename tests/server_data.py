"""Files put into a real database: a table for each, with the types that its columns have in the file."""

import re
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely
from psycopg import sql

_KINDS = (
    (pd.api.types.is_bool_dtype, "boolean"),
    (pd.api.types.is_integer_dtype, "bigint"),
    (pd.api.types.is_float_dtype, "double precision"),
)


def put_frame(database, table, frame, kinds=None, *, keyed=True):
    """Write a frame into a new table; ``gid`` counts its rows if ``keyed``, and ``kinds`` names types of columns."""
    shapes = isinstance(frame, gpd.GeoDataFrame)
    srid = frame.crs.to_epsg() if shapes else 0
    types = {name: _type(column) for name, column in frame.items()}
    if shapes:
        types[frame.geometry.name] = f"geometry(Geometry, {srid})"
        written = _written(frame.geometry, srid)
        frame = pd.DataFrame(frame.drop(columns=frame.geometry.name)).assign(**{frame.geometry.name: written})
    types |= kinds or {}
    names = [*frame]
    columns = sql.SQL(", ").join(sql.SQL("{} {}").format(sql.Identifier(name), sql.SQL(types[name])) for name in names)
    first = sql.SQL("gid integer GENERATED ALWAYS AS IDENTITY PRIMARY KEY, " if keyed else "")
    target = sql.Identifier(*table.split("."))
    with database.connect() as connection:
        connection.execute(sql.SQL("CREATE TABLE {} ({}{})").format(target, first, columns))
        listed = sql.SQL(", ").join(map(sql.Identifier, names))
        values = frame.astype(object).where(frame.notna(), None).to_numpy()
        with (
            connection.cursor() as cursor,
            cursor.copy(sql.SQL("COPY {} ({}) FROM STDIN").format(target, listed)) as copy,
        ):
            for row in values:
                copy.write_row(row)


def put_file(database, table, path, **options):
    """Write a file into a new table: a map layer with its types, a table with every cell as text."""
    if Path(path).suffix == ".csv":
        cells = pd.read_csv(path, dtype="str", keep_default_na=False, na_values=[""])
        put_frame(database, table, cells.drop(columns="gid", errors="ignore"), **options)
    else:
        # whole numbers stay whole
        put_frame(database, table, pyogrio.read_dataframe(path).convert_dtypes(), **options)


def put_programme(database, folder, target, **columns):
    """Put every file that a programme names as ``path`` into the database, and write the programme that reads it there.

    ``columns``: by table, settings that are added beside it.
    """
    text = (folder / "programme.toml").read_text("utf-8")

    def move(found):
        path = Path(found[1])
        if path.suffix not in {".csv", ".gpkg", ".geojson"} or path.stem in {"decisions", "returns-1", "plan"}:
            return found[0]
        put_file(database, path.stem, folder / path)
        more = columns.get(path.stem, "")
        return f'path = "{database.address}"\ntable = "public.{path.stem}"\n{more}'

    text = re.sub(r'^ *path = "([^"]+)".*$', move, text, flags=re.MULTILINE)
    (target / "programme.toml").write_text(text, encoding="utf-8")
    return target / "programme.toml"


def _type(column):
    if pd.api.types.is_datetime64_any_dtype(column):
        return "date" if column.dropna().eq(column.dropna().dt.normalize()).all() else "timestamp"
    return next((kind for is_kind, kind in _KINDS if is_kind(column)), "text")


def _written(shapes, srid):
    return np.array(
        shapely.to_wkb(shapely.set_srid(np.asarray(shapes), srid), hex=True, include_srid=True), dtype=object
    )
