"""What the workbook reader does not report about a sheet: its size, errors, formulas without values, hidden rows."""

import html
import re
import zipfile
from collections import deque
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import pyarrow as pa
import pyarrow.compute as pc

__all__ = ["MOST_CELLS", "SheetFacts", "counts_from_1904", "scan_sheet"]

_CHUNK: Final = 1 << 20
# longer than any start tag of a row
_OVERLAP: Final = 4096
# a text without any of these is an ordinary part of a sheet of at most 52 columns and 99,999 rows: nothing to look up
_UNUSUAL: Final = (
    r'<c r="(?:[A-Z]{3}|[B-Z][A-Z]|[A-Z]{1,2}[0-9]{6})'
    r'|<c(?:[>/\t\r\n]| [^r]| r[^=]| r=[^"])|<row(?:[>/\t\r\n]| [^r]| r[^=]| r=[^"])'
    r"|<[A-Za-z0-9_]+:(?:row|c)[ >/\t\r\n]"
    r'| t="e"|hidden=|</f>(?:<v ?/>|<v></v>)?</c>|<f[^>]*/>(?:<v ?/>|<v></v>)?</c>'
)
_ORDINARY_ROWS, _ORDINARY_COLUMNS = 99_999, 52
_MOST_WAITING: Final = 8
# all cells of a sheet are held in memory at once, the blank ones between others too
MOST_CELLS: Final = 60_000_000
_CELL: Final = re.compile(rb'<c r="([A-Z]+)(\d+)"')
_ODD_TAG: Final = re.compile(
    rb'<c(?:[>/\t\r\n]| [^r]| r[^=]| r=[^"])|<row(?:[>/\t\r\n]| [^r]| r[^=]| r=[^"])|<\w+:(?:row|c)[ >/\t\r\n]'
)
_HIDDEN_ROW: Final = re.compile(rb'<row\b[^>]*\shidden="(?:1|true)"')
_COLUMN: Final = re.compile(rb"<col\s[^>]*>")
_ERROR: Final = re.compile(rb'<c r="([A-Z]+)(\d+)"[^>]* t="e"[^>]*>(?:<f[^>]*/>|<f[^>]*>[^<]*</f>)?<v>([^<]*)</v>')
_UNSTORED: Final = re.compile(
    rb'<c r="([A-Z]+)(\d+)"((?:\s[^>]*)?)>(?:<f[^>]*/>|<f[^>]*>([^<]*)</f>)(?:<v ?/>|<v></v>)?</c>'
)
_SHEET: Final = re.compile(rb"<(?:\w+:)?sheet\s[^>]*>")
_LINK: Final = re.compile(rb"<(?:\w+:)?Relationship\s[^>]*>")


@dataclass
class SheetFacts:
    """Facts of one sheet.

    ``last_row``, ``last_column``: 1-based, no cell lies further down or further right; at least 99,999 and 52, within
    which any sheet fits in memory. ``hidden_rows``, ``hidden_columns``: how many. ``replaced``: 1-based row and column,
    and the text, of cells that the reader gives as blanks: errors such as ``#N/A``, and formulas without a stored value
    (``=A1+B1``). ``unstored``: the cells of the latter. ``is_certain``: every cell states where it is, so that the size
    is known.
    """

    last_row: int = _ORDINARY_ROWS
    last_column: int = _ORDINARY_COLUMNS
    hidden_rows: int = 0
    hidden_columns: int = 0
    replaced: list[tuple[int, int, str]] = field(default_factory=list)
    unstored: list[str] = field(default_factory=list)
    is_certain: bool = True


def scan_sheet(path: Path, number: int) -> SheetFacts | None:
    """Return the facts of a sheet of an ``.xlsx`` or ``.xlsm`` workbook; None where its part cannot be found.

    Parameters
    ----------
    path
        The workbook.
    number
        0-based place of the sheet among the sheets of the workbook.

    Raises
    ------
    zipfile.BadZipFile, zlib.error, OSError, EOFError
        The archive is damaged.
    """
    with zipfile.ZipFile(path) as archive:
        part = _part_of(archive, number)
        if part is None:
            return None
        facts = SheetFacts()
        hidden_columns: list[tuple[int, int]] = []
        with ThreadPoolExecutor(1) as other_core:
            # pieces are looked through while later ones are unpacked
            pieces = ((text, other_core.submit(_is_unusual, text)) for text in _pieces(archive, part))
            waiting: deque[tuple[bytes, Future[bool]]] = deque()
            for piece in pieces:
                waiting.append(piece)
                if len(waiting) > _MOST_WAITING:
                    _look_closely(*waiting.popleft(), facts, hidden_columns)
            for text, is_unusual in waiting:
                _look_closely(text, is_unusual, facts, hidden_columns)
        if facts.last_row * facts.last_column > MOST_CELLS:
            facts.last_row, facts.last_column = _size(_pieces(archive, part))
        facts.hidden_columns = sum(
            min(last, facts.last_column) - first + 1 for first, last in hidden_columns if first <= facts.last_column
        )
        return facts


def _pieces(archive: zipfile.ZipFile, part: str) -> Iterator[bytes]:
    """Yield a part of the archive in pieces that cut no cell in two."""
    rest = b""
    with archive.open(part) as stream:
        while chunk := stream.read(_CHUNK):
            text = rest + chunk
            cut = max(text.rfind(b"<row "), text.rfind(b"<c "))
            # where no cell begins in a long stretch, tags are still kept in one piece
            cut = cut if cut > 0 else max(len(text) - _OVERLAP, 1)
            rest = text[cut:]
            yield text[:cut]
    yield rest


def _size(pieces: Iterator[bytes]) -> tuple[int, int]:
    """Return the last row and column that hold a cell, 1-based."""
    last_row = last_column = 0
    for text in pieces:
        cells = _CELL.findall(text)
        last_row = max(last_row, *(int(row) for _, row in cells), 0)
        last_column = max(last_column, *(_column_number(letters) for letters in {letters for letters, _ in cells}), 0)
    return last_row, last_column


def _is_unusual(text: bytes) -> bool:
    found: bool = pc.match_substring_regex(pa.scalar(text, pa.large_binary()), _UNUSUAL).as_py()
    return found


def _look_closely(
    text: bytes, is_unusual: Future[bool], facts: SheetFacts, hidden_columns: list[tuple[int, int]]
) -> None:
    """Add what a piece of a sheet holds, if it is unusual."""
    if not is_unusual.result():
        return
    last_row, last_column = _size(iter([text]))
    facts.last_row, facts.last_column = max(facts.last_row, last_row), max(facts.last_column, last_column)
    facts.is_certain = facts.is_certain and _ODD_TAG.search(text) is None
    facts.hidden_rows += len(_HIDDEN_ROW.findall(text))
    hidden_columns.extend(
        (int(_attribute(tag, b"min") or 0), int(_attribute(tag, b"max") or 0))
        for tag in _COLUMN.findall(text)
        if _attribute(tag, b"hidden") in {"1", "true"}
    )
    facts.replaced.extend(
        (int(row), _column_number(letters), _unescaped(shown)) for letters, row, shown in _ERROR.findall(text)
    )
    for letters, row, attributes, formula in _UNSTORED.findall(text):
        # a formula whose value is an empty text is stored as a text, and is a blank
        if b't="str"' not in attributes and b't="e"' not in attributes:
            facts.replaced.append((int(row), _column_number(letters), "=" + _unescaped(formula)))
            facts.unstored.append((letters + row).decode())


def counts_from_1904(path: Path) -> bool:
    """Return whether an ``.xlsx`` or ``.xlsm`` workbook counts days from 1904 instead of 1900."""
    with zipfile.ZipFile(path) as archive:
        book = _read_small(archive, "xl/workbook.xml")
    tag = re.search(rb"<(?:\w+:)?workbookPr\s[^>]*>", book)
    return tag is not None and _attribute(tag[0], b"date1904") in {"1", "true"}


def _part_of(archive: zipfile.ZipFile, number: int) -> str | None:
    """Return the name of the part of the archive that holds a sheet."""
    sheets = _SHEET.findall(_read_small(archive, "xl/workbook.xml"))
    if number >= len(sheets):
        return None
    wanted = _attribute(sheets[number], rb"\w+:id")
    for link in _LINK.findall(_read_small(archive, "xl/_rels/workbook.xml.rels")):
        if _attribute(link, b"Id") == wanted:
            target = _attribute(link, b"Target") or ""
            name = target.removeprefix("/") if target.startswith("/") else f"xl/{target}"
            return name if name in archive.NameToInfo else None
    return None


def _read_small(archive: zipfile.ZipFile, name: str) -> bytes:
    """Return a part that is small in every workbook, without what is too long to be one."""
    if name not in archive.NameToInfo:
        return b""
    with archive.open(name) as part:
        return part.read(16 * _CHUNK)


def _attribute(tag: bytes, name: bytes) -> str | None:
    found = re.search(rb"\s" + name + rb"""\s*=\s*["']([^"']*)["']""", tag)
    return _unescaped(found[1]) if found else None


def _unescaped(text: bytes) -> str:
    return html.unescape(text.decode("utf-8", errors="replace"))


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - ord("A") + 1
    return number
