"""Quotation marks that take in other cells or rows of a delimited text: the reason why it cannot be read."""

import re
from typing import Final, NamedTuple, NoReturn

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.errors import InputError
from pipeline.wording import counted

__all__ = ["Rows", "refuse_joined_cells", "refuse_open_quotes", "refuse_text_after_quotes"]

_CLOSE: Final = 'Close it, or write "" for a quotation mark inside a quoted cell.'
# how a quotation mark takes in other cells, where that has a message of its own
_UNDOUBLED: Final = "not doubled"
_ALONE: Final = "alone"
# the start of a row up to text after the quotation mark that closes a cell of several lines
_AFTER: Final = (
    r'\A(?:(?:"(?:[^"]|"")*"(?:[^"{mark}\n][^{mark}\n]*)?|[^"{mark}\n][^{mark}\n]*)?{mark})*'
    r'"(?:[^"]|"")*\n(?:[^"]|"")*"[^"{mark}\n]'
)


class Rows(NamedTuple):
    """How the rows of a text were read: the names of its columns, its delimiter, the line that each row begins in,
    and its name in errors."""

    names: list[str]
    mark: str
    places: npt.NDArray[np.int64]
    label: str


class _Cell(NamedTuple):
    """A cell as written: what is inside its quotation marks, or all of it, and what follows the closing mark."""

    inside: str
    after: str = ""
    is_quoted: bool = False
    is_closed: bool = True

    @property
    def is_filled(self) -> bool:
        return bool((self.inside + self.after).strip())


def refuse_open_quotes(frame: pd.DataFrame, rows: Rows) -> None:
    """Stop where a cell holds line breaks and enough delimiters to be other rows."""
    for name in frame:
        cells = frame[name]
        many = cells[cells.str.contains("\n", regex=False).eq(True)]
        swallowed = many[many.str.count(re.escape(rows.mark)) >= max(len(frame.columns) - 1, 1)]
        if len(swallowed):
            lines = swallowed.iloc[0].count("\n") + 1
            _refuse(rows, swallowed.index[0], str(name), f"that spans {lines} lines and takes in other rows")


def refuse_joined_cells(odd: list[tuple[int, str]], is_ragged: npt.NDArray[np.bool_], rows: Rows) -> None:
    """Stop where a row does not fit the header because a quotation mark takes in cells of its own or of another row.

    ``odd`` has the number and text of each row that does not fit; those that are not ragged have blank cells too many.
    """
    found = [
        (number, at, how)
        for number, text in odd
        if '"' in text and (is_ragged[number] or "\n" in text)
        for at, how in [_first_joined(_cells(text, rows.mark), rows)]
        if how
    ]
    undoubled = [(number, at) for number, at, how in found if how == _UNDOUBLED]
    if undoubled:
        number, at = undoubled[0]
        raise InputError(
            f"{rows.label}: in {len(undoubled):,} of {counted(len(rows.places), 'row')} the cells do not fit the "
            f"header, first in line {rows.places[number]:,}, column {_name(rows, at)!r}: a quotation mark (such as an "
            'inch mark) inside quotation marks must be doubled. Export the file again so that 6" is written "6""", or '
            "without quotation marks around the cells."
        )
    if found:
        number, at, how = found[0]
        if how != _ALONE:
            _refuse(rows, number, _name(rows, at), how)
        raise InputError(
            f"{rows.label}: line {rows.places[number]:,}, column {_name(rows, at)!r}: the cell is a single quotation "
            "mark, which takes in the next cell. Write the value that it stands for, or leave the cell blank."
        )


def refuse_text_after_quotes(body: bytes, rows: Rows, first: int) -> None:
    """Stop where text follows the quotation mark that closes a cell of several lines; ``body`` begins in line
    ``first``."""
    ends = np.flatnonzero(np.frombuffer(body, dtype=np.uint8) == ord("\n"))
    starts = np.concatenate([[0], ends + 1])[rows.places - first]
    offsets = np.concatenate([starts, [len(body)]]).astype(np.int64)
    texts = pa.LargeStringArray.from_buffers(len(starts), pa.py_buffer(offsets), pa.py_buffer(body))
    many = np.flatnonzero(np.diff(np.append(rows.places, first + len(ends) + 1)) > 1)
    texts = texts.take(pa.array(many))
    followed = pc.match_substring_regex(texts, _AFTER.format(mark=re.escape(rows.mark)))
    found = pc.index(followed, value=True).as_py()
    if found >= 0:
        cells = _cells(texts[found].as_py(), rows.mark)
        at = next(n for n, cell in enumerate(cells) if cell.is_quoted and "\n" in cell.inside and cell.after)
        _refuse(rows, int(many[found]), _name(rows, at), _over_lines(cells, at, rows))


def _cells(text: str, mark: str) -> list[_Cell]:
    """Return the cells of a row as they are written; a quotation mark opens a cell only where it is the first
    character."""
    cells: list[_Cell] = []
    at = 0
    while True:
        if text[at : at + 1] == '"':
            inside, close = _quoted(text, at + 1)
            end = text.find(mark, close)
            end = len(text) if end < 0 else end
            after = text[close + 1 : end]
            cells.append(_Cell(inside, after, is_quoted=True, is_closed=close < len(text)))
        else:
            end = text.find(mark, at)
            end = len(text) if end < 0 else end
            cells.append(_Cell(text[at:end]))
        if end >= len(text):
            return cells
        at = end + 1


def _quoted(text: str, start: int) -> tuple[str, int]:
    """Return what is inside quotation marks, and where the closing one is; the end of the text where none is."""
    at = start
    while (close := text.find('"', at)) >= 0:
        if text[close + 1 : close + 2] != '"':
            return text[start:close], close
        at = close + 2
    return text[start:], len(text)


def _first_joined(cells: list[_Cell], rows: Rows) -> tuple[int, str]:
    """Return the first cell of a row that does not fit in which a quotation mark takes in other cells, and how; an
    empty text where none does."""
    width = len(rows.names)
    spanning = [at for at, cell in enumerate(cells) if cell.is_quoted and "\n" in cell.inside]
    if spanning:
        over = ((at, _over_lines(cells, at, rows)) for at in spanning)
        return next(((at, how) for at, how in over if how), (0, ""))
    if len(cells) < width:
        within = ((at, _within_line(cell, rows.mark)) for at, cell in enumerate(cells))
        return next(((at, how) for at, how in within if how), (0, ""))
    if any(cell.is_filled for cell in cells[width:]):
        # a cell goes on after a quotation mark, and another ends with one that nothing opened
        ends = [at for at, cell in enumerate(cells) if not cell.is_quoted and cell.inside.endswith('"')]
        early = (at for at, cell in enumerate(cells) if cell.after and ends and at < ends[-1])
        return next(((at, _UNDOUBLED) for at in early), (0, ""))
    return 0, ""


def _within_line(cell: _Cell, mark: str) -> str:
    """Return how a cell of a row with too few cells takes in the next one; an empty text where it may be a note."""
    if not cell.is_quoted or mark not in cell.inside:
        return ""
    if cell.inside.lstrip(" ").startswith(mark):
        return _ALONE
    if '""' in cell.inside and cell.after:
        return _UNDOUBLED
    return "and takes in the next cell" if cell.after or not cell.is_closed else ""


def _over_lines(cells: list[_Cell], at: int, rows: Rows) -> str:
    """Return what is wrong with a cell of several lines in a row that does not fit; an empty text where it may be
    a note."""
    width = len(rows.names)
    cell = cells[at]
    first, *_, last = cell.inside.split("\n")
    lines = cell.inside.count("\n") + 1
    spans = f"that spans {lines} lines"
    # the cells of its first and last line, if its quotation marks are taken for text
    ends_row = at + 1 + first.count(rows.mark) >= width
    begins_row = rows.mark in last and last.count(rows.mark) + len(cells) - at >= width
    if cell.inside.count(rows.mark) >= max(width - 1, 1) or (ends_row and begins_row):
        return f"{spans} and takes in other rows"
    if not cell.is_closed:
        return f"{spans} and is never closed"
    if cell.after:
        return f"{spans}, and text follows the quotation mark that closes it"
    if any(one.is_filled for one in cells[width:]):
        return f"{spans}, and its row has {len(cells)} cells where the header has {width}"
    return ""


def _refuse(rows: Rows, number: int, name: str, how: str) -> NoReturn:
    raise InputError(
        f"{rows.label}: line {rows.places[number]:,}, column {name!r}: a quotation mark opens a cell {how}. {_CLOSE}"
    )


def _name(rows: Rows, at: int) -> str:
    """Return the name of a column; cells beyond the header count as its last column."""
    return rows.names[min(at, len(rows.names) - 1)]
