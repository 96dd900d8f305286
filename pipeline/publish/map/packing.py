"""Columns packed for a page: whole numbers as byte planes, repeated texts by their code, all gzipped.

A bundle is the gzip of: the length of a JSON header (4 bytes, little-endian), the header, the planes one after
another. A plane holds one byte of every value, so that bytes that hardly change compress to almost nothing. It is
written as text, seven bits per letter, which adds less than half of what base64 adds.
"""

import json
import zlib
from collections.abc import Collection
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.publish.map.squeezing import TRIED, Squeeze, as_letters, squeezed
from pipeline.visible_text import UNSEEN_IN_ARROW, visible, visible_texts

__all__ = [
    "Ints",
    "Packed",
    "as_days",
    "bundle",
    "bundle_in_two",
    "distinct_rows",
    "pack_ids",
    "pack_ints",
    "pack_numbers",
    "pack_texts",
    "shown_text",
    "shown_texts",
]

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
# a register cell can hold a whole file; the tables keep all of it, the page shows its beginning
TEXT_LIMIT = 400
# no name, no date, no system: the same bytes everywhere
GZIP_HEADER = b"\x1f\x8b\x08" + bytes(6) + b"\xff"
# a plane of this many bytes gets its own way
ALONE = 32_768
BYTE = 256
NARROW = 2**31
# whole numbers up to here are exact in a browser too
MOST = 2.0**52


class Packed(NamedTuple):
    """One column: what the page must know to read it, and its bytes."""

    how: dict[str, Any]
    planes: bytes = b""


def shown_text(value: object) -> str:
    """Return a text as the page shows it: visible, all of it up to the limit, otherwise its beginning."""
    text = visible(str(value))
    return text if len(text) <= TEXT_LIMIT else f"{text[:TEXT_LIMIT]}…"


def shown_texts(texts: pd.Series) -> pd.Series:
    """Return N texts, each as ``shown_text`` has it; a missing one stays missing."""
    text = visible_texts(texts.astype("str"))
    return text.where(text.str.len().fillna(0).le(TEXT_LIMIT), text.str.slice(0, TEXT_LIMIT) + "…")


def _shown_texts(words: pd.Index | npt.NDArray[Any]) -> list[str]:
    """Return different texts as the page shows them."""
    return [
        word
        if isinstance(word, str) and len(word) <= TEXT_LIMIT and word.isascii() and word.isprintable()
        else shown_text(word)
        for word in words.tolist()
    ]


def bundle_in_two(columns: dict[str, Packed], first: Collection[str], squeeze: Squeeze = squeezed) -> tuple[str, str]:
    """Return the columns that a page reads first as one text, and the others as another.

    The first text also describes the others, without their words: a page knows at once which columns there are.

    Parameters
    ----------
    columns
        By name.
    first
        Names of those in the first text; a name without a column counts for nothing.
    squeeze
        As for ``bundle``.
    """
    later = {name: column for name, column in columns.items() if name not in first}
    described = {name: {key: fact for key, fact in how.items() if key != "words"} for name, (how, _) in later.items()}
    one = bundle({name: columns[name] for name in columns if name in first}, squeeze, later=described)
    return one, bundle(later, squeeze)


def bundle(columns: dict[str, Packed], squeeze: Squeeze = squeezed, **facts: object) -> str:
    """Return columns and a few plain facts as one text; the same columns give the same text.

    ``squeeze``: compresses a piece; a ``Squeezer`` where the pieces of another page may be the same.
    """
    header = json.dumps(
        {"columns": {name: column.how for name, column in columns.items()}, **facts},
        allow_nan=False,
        separators=(",", ":"),
    ).encode()
    pieces = [len(header).to_bytes(4, "little") + header]
    for column in columns.values():
        size = len(column.planes) // (int(column.how["planes"]) or 1) or 1
        pieces += [column.planes[start : start + size] for start in range(0, len(column.planes), size)]
    return as_letters(_gzip(pieces, squeeze))


def _gzip(pieces: list[bytes], squeeze: Squeeze) -> bytes:
    """Return pieces one after another as one gzip, each large one compressed in the way that suits it."""
    grouped = [b""]
    for piece in pieces:
        # what is small shares a block with its neighbours
        if len(piece) < ALONE and len(grouped[-1]) < ALONE:
            grouped[-1] += piece
        else:
            grouped.append(piece)
    packed = [squeeze(piece, is_last=at == len(grouped)) for at, piece in enumerate(grouped, 1)]
    checksum, size = 0, 0
    for piece in grouped:
        checksum, size = zlib.crc32(piece, checksum), size + len(piece)
    ending = [checksum.to_bytes(4, "little"), (size % 2**32).to_bytes(4, "little")]
    return b"".join([GZIP_HEADER, *packed, *ending])


def pack_ints(values: Ints, **how: object) -> Packed:
    """Return whole numbers packed as they are, or as steps from one to the next, whichever is smaller."""
    plain = _planes(values)
    steps = np.diff(values, prepend=np.int64(0))
    folded = (steps << 1) ^ (steps >> 63)
    stepped = _planes(folded)
    sizes = [sum(len(zlib.compress(plane[:TRIED], 1)) for plane in way[1]) for way in (plain, stepped)]
    is_stepped = sizes[1] < sizes[0]
    least, planes = stepped if is_stepped else plain
    # beyond 32 bits the page reads into doubles
    wide = int(np.abs(values).max(initial=0)) >= NARROW or (is_stepped and int(folded.max()) >= 2 * NARROW)
    about = {"n": len(values), "planes": len(planes), "least": least, "steps": is_stepped, "wide": wide}
    return Packed({**about, **how}, b"".join(planes))


def _planes(values: Ints) -> tuple[int, list[bytes]]:
    if not len(values):
        return 0, []
    least = int(values.min())
    above = values - least
    count = (int(above.max()).bit_length() + 7) // 8
    return least, [(above >> (8 * p)).astype(np.uint8).tobytes() for p in range(count)]


def pack_numbers(column: pd.Series, digits: int, **how: object) -> Packed:
    """Return numbers packed, rounded to ``digits`` decimals; those that are not finite are missing."""
    numbers = column.to_numpy(dtype=np.float64, na_value=np.nan) * 10.0**digits
    is_there = np.isfinite(numbers) & (np.abs(numbers) < MOST)
    whole = np.rint(np.where(is_there, numbers, 0)).astype(np.int64)
    first = int(whole[is_there].min()) if is_there.any() else 0
    # zero stands for a missing value
    counted = np.where(is_there, whole - first + 1, 0)
    codes, words = pd.factorize(counted)
    if len(words) <= BYTE < int(counted.max(initial=0)):
        among = [int(word) for word in words]
        return pack_ints(codes.astype(np.int64), kind="number", digits=digits, first=first, among=among, **how)
    return pack_ints(counted, kind="number", digits=digits, first=first, **how)


def as_days(column: pd.Series) -> Floats:
    """Return dates or ISO text as days since 1970-01-01; NaN for anything else."""
    codes, words = pd.factorize(column)
    dates = pd.to_datetime(pd.Series(words), format="%Y-%m-%d", errors="coerce").to_numpy().astype("datetime64[D]")
    days = np.where(np.isnat(dates), np.nan, dates.astype(np.int64).astype(np.float64))
    return np.append(days, np.nan)[codes]


def pack_texts(column: pd.Series) -> Packed:
    """Return texts packed as a list of the distinct ones and a code per row."""
    codes, words = pd.factorize(column)
    return pack_ints(codes.astype(np.int64), kind="text", words=_shown_texts(words))


def pack_ids(name: str, column: pd.Series) -> tuple[dict[str, Packed], Ints | None]:
    """Return texts that end in a number, such as "HV-0012", packed as prefix, width and number.

    The numbers are returned too; None where most texts do not end in one, which are packed as texts.
    """
    try:
        is_text = isinstance(column.dtype, pd.StringDtype)
        texts = pa.array(column if is_text else column.map(str, na_action="ignore"), pa.string(), from_pandas=True)
    except (pa.ArrowException, UnicodeError):
        return {name: pack_texts(column)}, None
    parts = pc.extract_regex(texts, r"(?s)^(?P<before>.*?)(?P<number>[0-9]{1,9})$")
    longest = pc.max(pc.utf8_length(texts)).as_py() or 0
    is_odd = pc.any(pc.match_substring_regex(texts, UNSEEN_IN_ARROW)).as_py()
    if parts.null_count > len(texts) / 2 or longest > TEXT_LIMIT or is_odd:
        return {name: pack_texts(column)}, None
    digits = pc.fill_null(pc.struct_field(parts, "number"), "")
    width = pc.binary_length(digits).to_numpy().astype(np.int64)
    has_leading_zero = pc.starts_with(digits, "0").to_numpy(zero_copy_only=False)
    if not (has_leading_zero & (width > 1)).any():
        width = np.minimum(width, 1)
    number = pc.cast(pc.if_else(pc.equal(digits, ""), "0", digits), pa.int64()).to_numpy()
    before = pc.if_else(pc.is_null(parts), texts, pc.struct_field(parts, "before")).to_pandas()
    packed = pack_texts(before)
    packed.how.update(kind="id", numbers=f"{name} number", widths=f"{name} width")
    return {name: packed, f"{name} number": pack_ints(number), f"{name} width": pack_ints(width)}, number


def distinct_rows(frame: pd.DataFrame, order: Ints) -> tuple[Ints, pd.DataFrame]:
    """Return the code of each row among the distinct rows, and those rows, in the order in which they first appear.

    ``order``: the rows of ``frame`` by position, as the page has them; one code per entry.
    """
    key = np.zeros(len(frame), dtype=np.int64)
    for name in frame.columns:
        codes, words = pd.factorize(frame[name])
        key, _ = pd.factorize(key * (len(words) + 1) + codes + 1)
    codes, _ = pd.factorize(key[order])
    first = np.flatnonzero(~pd.Series(codes).duplicated().to_numpy())
    return codes.astype(np.int64), frame.iloc[order[first]]
