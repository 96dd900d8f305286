"""Shapes in shapes in shapes: refused beyond any depth that data have, as reading them ends the process."""

from pathlib import Path
from typing import Final, Literal

import pyarrow as pa
import pyarrow.compute as pc
import pyogrio

from pipeline.errors import InputError

__all__ = ["refuse_nested_in_geopackage", "refuse_nested_shapes"]

# the library goes down a level by a call of itself; every other reader of this form stops at 32
_DEEPEST: Final = 32
# how shapes made of shapes begin in well-known binary: in each dialect, either end first, with heights or without
_KINDS: Final = r"[\x04-\x0C\xEC-\xF4\xD4-\xDC\xBC-\xC4][\x00\x03\x07\x0B]"
_KINDS_BIG_END: Final = r"[\x00\x03\x07\x0B][\x04-\x0C\xEC-\xF4\xD4-\xDC\xBC-\xC4]"
_FLAGS: Final = r"[\x00\x20\x40\x60\x80\xA0\xC0\xE0]"
_OF_SHAPES: Final = rf"\x01{_KINDS}\x00{_FLAGS}|\x00{_FLAGS}\x00{_KINDS_BIG_END}"
_POINT: Final = 1
_LINES: Final = (2, 8)
_POLYGONS: Final = (3, 17)


def refuse_nested_shapes(shapes: pa.ChunkedArray | pa.Array, label: str, first_row: int = 1) -> None:
    """Stop at a shape that may be nested too deeply to be read.

    Parameters
    ----------
    shapes
        N shapes in well-known binary; anything else is passed over.
    label, first_row
        The file's name, and the number of the first shape, for the error.

    Raises
    ------
    InputError
        A shape is nested more than 32 deep.
    """
    # some versions of the library end the process where there is nothing to count
    if not len(shapes) or not (pa.types.is_binary(shapes.type) or pa.types.is_large_binary(shapes.type)):
        return
    # a polygon of a thousand parts has one such beginning: the parts are plain shapes
    several = pc.greater(pc.count_substring_regex(shapes, _OF_SHAPES), _DEEPEST)
    for number in pc.indices_nonzero(pc.fill_null(several, fill_value=False)).to_pylist():
        if _depth(shapes[number].as_py()) > _DEEPEST:
            raise InputError(
                f"{label}: the shape of row {first_row + number:,} holds shapes in shapes more than {_DEEPEST} deep; "
                "expected points, lines or polygons. Export the layer again."
            )


def refuse_nested_in_geopackage(path: Path, layer: str, where: str | None, label: str) -> None:
    """Stop at shapes nested too deeply in a GeoPackage, whose shapes GDAL hands on as they lie in the file.

    Raises
    ------
    InputError
        A shape is nested more than 32 deep.
    """
    first_row = 1
    with pyogrio.raw.open_arrow(path, layer=layer, where=where, columns=[], use_pyarrow=True) as (facts, batches):
        name = facts["geometry_name"] or "wkb_geometry"
        for batch in batches:
            if name in batch.schema.names:
                refuse_nested_shapes(batch.column(name), label, first_row)
            first_row += batch.num_rows


def _depth(shape: bytes) -> int:
    """Return how deep a shape is nested, as far as it can be followed."""
    # how many shapes are still to come at each level
    left: list[int] = []
    at = deepest = 0
    while at + 5 <= len(shape) and deepest <= _DEEPEST:
        order: Literal["little", "big"] = "little" if shape[at] else "big"
        code = int.from_bytes(shape[at + 1 : at + 5], order)
        dialect, flags = code % 0x10000 // 1000, code >> 29
        size = 8 * (2 + (dialect in {1, 2}) + 2 * (dialect == 3) + (flags >> 2) + (flags >> 1 & 1))
        at += 9 if flags & 1 else 5
        kind = code % 0x10000 % 1000
        count = 1 if kind == _POINT else int.from_bytes(shape[at : at + 4], order)
        if kind == _POINT:
            at += size
        elif kind in _LINES:
            at += 4 + size * count
        else:
            at += 4
            if kind not in _POLYGONS and count:
                left.append(count)
                deepest = max(deepest, len(left))
                continue
            for _ in range(count if kind in _POLYGONS else 0):
                at += 4 + size * int.from_bytes(shape[at : at + 4], order)
                if at > len(shape):
                    break
        while left and left[-1] == 1:
            left.pop()
        if not left:
            break
        left[-1] -= 1
    return deepest
