"""What GeoParquet says of its shapes, looked at before they are read: metadata is free text, and may say anything."""

import json
from pathlib import Path

import pyarrow as pa
from pyarrow import parquet

from pipeline.errors import InputError
from pipeline.intake.files.nested_shapes import refuse_nested_shapes

__all__ = ["refuse_unusable_shapes"]


def refuse_unusable_shapes(path: Path, schema: pa.Schema, label: str) -> None:
    """Stop at a file whose metadata names no column of shapes that it has, or whose shapes are nested too deeply.

    Raises
    ------
    InputError
        It is such a file.
    """
    try:
        said = json.loads(schema.metadata[b"geo"])
    except (ValueError, RecursionError):
        said = None
    columns = said.get("columns") if isinstance(said, dict) else None
    primary = said.get("primary_column") if isinstance(said, dict) else None
    if not isinstance(columns, dict) or not isinstance(primary, str) or primary not in columns:
        raise _unusable(label, "says nothing that can be used")
    for name in columns:
        if name not in schema.names:
            raise _unusable(label, f"names the column {name[:80]!r}, which the file does not have")
        kind = schema.field(name).type
        if columns[name] == {} or not isinstance(columns[name], dict):
            raise _unusable(label, f"says nothing of the column {name[:80]!r}")
        if columns[name].get("encoding") == "WKB" and not (
            pa.types.is_binary(kind) or pa.types.is_large_binary(kind) or pa.types.is_null(kind)
        ):
            raise _unusable(label, f"promises shapes in the column {name[:80]!r}, which holds {kind}")
        refuse_nested_shapes(parquet.read_table(path, columns=[name], partitioning=None).column(name), label)


def _unusable(label: str, what: str) -> InputError:
    return InputError(
        f'{label}: its metadata "geo" {what}; expected the primary column of shapes and how each such column is '
        "written. Export the layer as GeoParquet again."
    )
