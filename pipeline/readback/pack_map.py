"""The columns that a pack's map holds, decoded from the page by a second reading of their description."""

import re
import zlib
from pathlib import Path
from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.errors import InputError
from pipeline.readback.json_text import parse_json
from pipeline.readback.pack_files import MOST_COLUMNS
from pipeline.wording import plain_reason

__all__ = ["MapColumns", "read_map_columns"]

_SCRIPT: Final = r'<script type="[a-z/]+" id="%s">(.*?)</script>'
# bytes of a bundle once unpacked; a million cores take 60 MB
_MOST_BYTES: Final = 1 << 30
# they are unpacked from a fifth of that; a bundle that unpacks to far more is made to fill a memory
_MOST_RATIO: Final = 100
_ALWAYS: Final = 16 << 20
# columns of a bundle: several of them make one of the table; and bytes of a whole number
_MOST_PARTS: Final = 5 * MOST_COLUMNS
_MOST_PLANES: Final = 8
# cells of all columns together, and digits of a number in an id: a million cores take 60 million
_MOST_CELLS: Final = 300_000_000
_MOST_DIGITS: Final = 400
_MOST_DECIMALS: Final = 30
_GZIP: Final = 31
# of the byte that marks a core, the bits that hold its status
_STATUS_BITS: Final = 3
# a column beside another that says which core each of its texts is of
_OF_CORE: Final = "_core"
_WHAT_TO_DO: Final = "Ask the sender for the pack again."
Ints = npt.NDArray[np.int64]


class MapColumns(NamedTuple):
    """What a map holds of the cores, in the order of the page.

    ``cores``: N rows with ``row``, whole numbers ``x`` and ``y`` (2**30 to the width of the world; missing without a
    position), ``status`` as its place among the page's statuses, and each column of the cards: texts as shown, numbers,
    days since 1970-01-01. ``digits``: decimal places of each number. ``days``: names of the columns that are days.
    ``findings``: ``row``, ``rule``, ``severity``, ``message`` and what else each finding has. ``lists``: what may be
    several times on a core, by column: ``row`` and that column. ``page``: the plain facts of the page.
    """

    cores: pd.DataFrame
    digits: dict[str, int]
    days: list[str]
    findings: pd.DataFrame
    lists: dict[str, pd.DataFrame]
    page: dict[str, Any]


class _Bundle:
    def __init__(self, letters: str) -> None:
        count, _, packed = letters.partition(" ")
        sevens = np.frombuffer(packed.encode("latin-1"), dtype=np.uint8) & np.uint8(127)
        octets = np.packbits(np.unpackbits(sevens[:, None], axis=1)[:, 1:].ravel())[: int(count)]
        unpacking = zlib.decompressobj(_GZIP)
        content = unpacking.decompress(octets.tobytes(), min(_MOST_BYTES, max(_MOST_RATIO * len(octets), _ALWAYS)))
        if not unpacking.eof:
            raise ValueError("the packed data is cut off, or too large")
        length = int.from_bytes(content[:4], "little")
        self.how: dict[str, dict[str, Any]] = parse_json(content[4 : 4 + length].decode("utf-8"))["columns"]
        if not isinstance(self.how, dict):
            raise TypeError(f"columns: found {type(self.how).__name__}, expected an object")
        if len(self.how) > _MOST_PARTS or any(not 0 <= how["planes"] <= _MOST_PLANES for how in self.how.values()):
            raise ValueError(f"{len(self.how):,} columns, or a wider one than any map has")
        self.planes: dict[str, bytes] = {}
        at = 4 + length
        cells = sum(int(how["n"]) for how in self.how.values())
        if cells > _MOST_CELLS or any(int(how["n"]) < 0 for how in self.how.values()):
            raise ValueError(f"{cells:,} cells, more than any map has")
        for name, how in self.how.items():
            size = int(how["n"]) * int(how["planes"])
            self.planes[name] = content[at : at + size]
            at += size
        if at != len(content):
            raise ValueError(f"{len(content):,} bytes found where the columns take {at:,}")

    def add(self, other: "_Bundle") -> None:
        twice = sorted(set(self.how) & set(other.how))
        if twice:
            raise ValueError(f"two columns {twice[0]!r} found, expected one")
        self.how |= other.how
        self.planes |= other.planes

    def ints(self, name: str) -> Ints:
        how = self.how[name]
        planes = np.frombuffer(self.planes[name], dtype=np.uint8).reshape(how["planes"], how["n"]).astype(np.int64)
        values: Ints = (planes << (8 * np.arange(how["planes"], dtype=np.int64)[:, None])).sum(axis=0) + how["least"]
        if how["steps"]:
            values = np.cumsum((values >> 1) ^ -(values & 1))
        values = values * how.get("times", 1) + how.get("shift", 0)
        return values + self.ints(how["plus"]) if "plus" in how else values

    def texts(self, name: str) -> npt.NDArray[np.object_]:
        how = self.how[name]
        words = np.array([*how["words"], None], dtype=object)[self.ints(name)]
        if how["kind"] == "id":
            widths, numbers = self.ints(how["widths"]), self.ints(how["numbers"])
            if (widths > _MOST_DIGITS).any():
                raise ValueError(f"an id of {widths.max():,} digits, more than any core has")
            words = np.array(
                [
                    word + str(number).zfill(width) if width and word is not None else word
                    for word, number, width in zip(words, numbers, widths, strict=True)
                ],
                dtype=object,
            )
        return words

    def numbers(self, name: str) -> npt.NDArray[np.float64]:
        how = self.how[name]
        counted = self.ints(name)
        if "among" in how:
            counted = np.array([*how["among"], 0], dtype=np.int64)[counted]
        if not 0 <= how["digits"] <= _MOST_DECIMALS:
            raise ValueError(f"{how['digits']} decimal places, more than any number has")
        return np.where(counted == 0, np.nan, (counted - 1 + how["first"]) / 10.0 ** how["digits"])


def read_map_columns(file: Path) -> MapColumns:
    """Return what a map holds of the cores and their findings.

    Raises
    ------
    InputError
        It is not a map that Kerfbook wrote.
    """
    try:
        text = file.read_text("utf-8")
        page = parse_json(_script(text, "page-data"))
        drawing, cards = _Bundle(_script(text, "core-data")), _Bundle(_script(text, "card-data"))
        cards.add(_Bundle(_script(text, "detail-data")))
        cores, digits, days = _cores(drawing, cards)
        row = cores["row"].to_numpy()
        return MapColumns(cores, digits, days, _findings(cards, row), _lists(cards, row), page)
    except (OSError, ValueError, KeyError, TypeError, IndexError, OverflowError, RecursionError, zlib.error) as error:
        raise InputError(f"{file}: not a readable map ({plain_reason(error)}). {_WHAT_TO_DO}") from error


def _script(text: str, name: str) -> str:
    found = re.findall(_SCRIPT % name, text, re.DOTALL)
    if len(found) != 1:
        raise ValueError(f"{len(found)} elements {name!r} found, expected one")
    return str(found[0])


def _cores(drawing: _Bundle, cards: _Bundle) -> tuple[pd.DataFrame, dict[str, int], list[str]]:
    row = cards.ints("row")
    columns: dict[str, Any] = {"row": row}
    digits, days = {}, []
    inner = {how[key] for how in cards.how.values() for key in ("numbers", "widths", "group") if key in how}
    # what counts from another column comes after it
    for name, how in sorted(cards.how.items(), key=lambda column: "since" in column[1]):
        if "kind" not in how or name in inner or "finding" in name or f"{name}{_OF_CORE}" in cards.how:
            continue
        values = cards.texts(name) if how["kind"] in {"text", "id"} else cards.numbers(name)
        if "group" in how:
            values = values[cards.ints(how["group"])]
        if how.get("by_row"):
            values = values[np.argsort(np.argsort(row, kind="stable"), kind="stable")]
        if "since" in how:
            values = values + np.nan_to_num(columns[how["since"]])
        if len(values) != len(row):
            continue
        columns[name] = values
        if how["kind"] == "number":
            digits[name] = int(how["digits"])
    days = [name for name in digits if name.endswith(("_on", "_at"))]
    placed = len(drawing.ints("x"))
    for name in ("x", "y"):
        columns[name] = np.concatenate([drawing.ints(name), np.full(len(row) - placed, -1)])
    columns["status"] = drawing.ints("marks") & _STATUS_BITS
    return pd.DataFrame(columns), digits, days


def _findings(cards: _Bundle, row: Ints) -> pd.DataFrame:
    names = [name.removeprefix("finding_") for name in cards.how if name.startswith("finding_")]
    columns = {name: cards.texts(f"finding_{name}") for name in names if name != "core"}
    return pd.DataFrame({"row": row[cards.ints("finding_core")], **columns})


def _lists(cards: _Bundle, row: Ints) -> dict[str, pd.DataFrame]:
    names = [name.removesuffix(_OF_CORE) for name in cards.how if name.endswith(_OF_CORE)]
    return {
        name: pd.DataFrame({"row": row[cards.ints(f"{name}{_OF_CORE}")], name: cards.texts(name)})
        for name in names
        if name in cards.how
    }
