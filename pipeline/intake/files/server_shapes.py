"""Shapes of a PostgreSQL database: from well-known bytes, and the CRS of their SRID."""

from typing import Any, Final

import numpy as np
import numpy.typing as npt
import psycopg
import pyarrow as pa
import shapely
from psycopg import sql
from pyproj import CRS
from pyproj.exceptions import CRSError

from pipeline.errors import InputError

__all__ = ["crs_of_shapes", "shapes_of"]

Shapes = npt.NDArray[np.object_]
_MOST_LISTED: Final = 6


def shapes_of(column: pa.ChunkedArray, label: str, name: str) -> Shapes:
    """Return shapes from well-known bytes written as hexadecimal digits; one that cannot be built is missing.

    Raises
    ------
    InputError
        There are curves among them.
    """
    digits = column.combine_chunks()
    if isinstance(digits, pa.ChunkedArray):
        digits = pa.concat_arrays(digits.chunks)
    offsets = np.frombuffer(digits.buffers()[1], np.int64)[digits.offset : digits.offset + len(digits) + 1]
    text = digits.buffers()[2]
    written = memoryview(text)[offsets[0] : offsets[-1]] if text is not None else b""
    # all at once: no shape's digits are an object of their own
    content = bytes.fromhex(bytes(written).decode("ascii"))
    halves = pa.py_buffer(((offsets - offsets[0]) // 2).tobytes())
    packed = pa.Array.from_buffers(
        pa.large_binary(), len(digits), [_validity(digits), halves, pa.py_buffer(content)]
    ).to_numpy(zero_copy_only=False)
    try:
        shapes: Shapes = shapely.from_wkb(packed, on_invalid="ignore")
    except NotImplementedError as error:
        raise InputError(
            f"{label}: there are curves, which cannot be read. Read them with straight segments: "
            f"ST_CurveToLine(...) in {name}.sql."
        ) from error
    return shapes


def _validity(digits: pa.Array) -> pa.Buffer | None:
    """Return the bits that tell which shapes are there, from the first on."""
    return pa.array(digits.is_valid()).buffers()[1] if digits.null_count else None


def crs_of_shapes(
    connection: "psycopg.Connection[Any]", shapes: Shapes, postgis: str, label: str, notices: list[str]
) -> tuple[Shapes, int, CRS | None]:
    """Return shapes without their SRID, it, and the CRS that it stands for; None where it stands for none.

    Raises
    ------
    InputError
        The shapes do not all have the same SRID.
    """
    own = shapely.get_srid(shapes[~shapely.is_missing(shapes)])
    found, counts = np.unique(own, return_counts=True)
    if len(found) > 1:
        listed = ", ".join(
            f"{srid} ({count:,} rows)" for srid, count in list(zip(found, counts, strict=True))[:_MOST_LISTED]
        )
        raise InputError(
            f"{label}: its shapes have {len(found)} SRIDs: {listed}; expected one. Give all rows the same, with "
            "ST_Transform, or ST_SetSRID where it is only missing, in the table or in `sql`."
        )
    shapes = shapely.set_srid(shapes, 0)
    if not len(found) or found[0] == 0:
        if len(found):
            notices.append(f"{label}: its shapes have no SRID (0).")
        return shapes, 0, None
    return shapes, int(found[0]), _crs(connection, int(found[0]), postgis, label, notices)


def _crs(connection: "psycopg.Connection[Any]", srid: int, postgis: str, label: str, notices: list[str]) -> CRS | None:
    """Return the CRS of an SRID, by its code, else by the definition that the database has of it."""
    query = sql.SQL("SELECT auth_name, auth_srid, srtext FROM {} WHERE srid = %s").format(
        sql.Identifier(postgis, "spatial_ref_sys")
    )
    found = connection.execute(query, [srid]).fetchone()
    if found:
        authority, code, text = found
        for written in (f"{authority}:{code}" if authority and code else "", text or ""):
            try:
                crs: CRS = CRS.from_user_input(written)
            except CRSError:
                continue
            return crs
    notices.append(f"{label}: its SRID, {srid}, is not one that the database or this program knows.")
    return None
