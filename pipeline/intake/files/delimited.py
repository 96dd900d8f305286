"""Delimited text: its header, its delimiter, and every line of it in its place."""

import csv
import io
import re
from pathlib import Path
from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
from pyarrow import csv as arrow_csv

from pipeline.errors import InputError, SettingsError
from pipeline.intake.files.encodings import as_utf8, with_line_feeds
from pipeline.intake.files.header_rows import ANY_TABLE, Head, Wanted, find_head
from pipeline.intake.files.odd_rows import DELIMITERS, refuse_other_delimiter, with_odd_rows
from pipeline.intake.files.quotation_marks import (
    Rows,
    refuse_joined_cells,
    refuse_open_quotes,
    refuse_text_after_quotes,
)
from pipeline.intake.files.table_body import Body, as_raw_table, no_cores
from pipeline.intake.files.tables import RawTable, refuse_too_wide, unique_names

__all__ = ["read_csv"]

# where a header is searched for
_HEAD_BYTES: Final = 1 << 20
_HEAD_RECORDS: Final = 1000
# the block size of the reader is a 32-bit number
_MOST_BLOCK_BYTES: Final = 2**31 - 1


class _TextHead(NamedTuple):
    """The header of a text: its delimiter, its first line, the lines before and with it, the filled lines
    above it, and the blank ones after the first of those."""

    mark: str
    head: Head
    line: int
    lines: int
    above: list[tuple[int, str]]
    blank: list[int]


def read_csv(
    path: Path, label: str, encoding: str | None, delimiter: str | None, wanted: Wanted = ANY_TABLE
) -> RawTable:
    """Return a delimited text file in UTF-8, UTF-16 or a legacy encoding.

    Parameters
    ----------
    path, label
        The file, and its name in errors.
    encoding, delimiter
        None: found from the file; the delimiter is the one by which a line holds the names that are wanted.
    wanted
        What the header has to hold; without names the first filled line is the header.

    Raises
    ------
    InputError
        The file is not text, is empty, has no data rows, changes its delimiter, or has a quotation mark that takes
        in other cells or rows.
    SettingsError
        There is no such encoding, or the delimiter cannot be used.
    """
    notices: list[str] = []
    text = with_line_feeds(as_utf8(path.read_bytes(), label, encoding, notices, wanted.section), label, notices)
    if delimiter is not None and (not delimiter.isascii() or delimiter in '\0"\r\n'):
        raise SettingsError(
            f"{wanted.section}.delimiter: found {delimiter!r}, expected a character such as ',', ';', '|' or a tab. "
            "Correct it."
        )
    declared = re.match(rb"sep=([!-~\t])\n", text)
    if declared:
        # a first line for spreadsheets, which names the delimiter and is not the header
        delimiter = delimiter or declared[1].decode()
    if not text or text.isspace():
        raise InputError(
            f"{label}: the file is empty; expected a header line and one line per {wanted.one}. Export it again."
        )
    found = _find_head(text, label, delimiter, wanted, 1 if declared else 0)
    refuse_too_wide(len(found.head.names), label)
    names = unique_names(found.head.names, label, notices)
    body = _without_end(text, _offset(text, found.lines))
    if not body or body.isspace():
        raise no_cores(label, "a header and no rows", "Export it again.", is_known=found.head.holds_all)
    frame, odd = _parse(body, names, found.mark, label, wanted)
    lines = body.count(b"\n") + 1
    places = _places(lines, frame, odd, found.lines + 1)
    refuse_other_delimiter(frame, odd, places, found.mark, label)
    rows = Rows(names, found.mark, places, label)
    frame, ragged = with_odd_rows(frame, odd, found.mark)
    refuse_joined_cells(odd, ragged.notna().to_numpy(), rows)
    if not text.endswith(b"\n") and ragged.notna().iloc[-1] and frame.iloc[-1].isna().iloc[-1]:
        notices.append(_cut_short(label, places[-1]))
    if len(frame) < lines:
        refuse_open_quotes(frame, rows)
        refuse_text_after_quotes(body, rows, found.lines + 1)
    whole = Body(frame, places, found.above, found.blank, found.head.texts, ragged, is_known=found.head.holds_all)
    table = as_raw_table(whole, label, wanted, notices)
    table.header_place = found.lines
    table.hint = _hint(found, wanted, notices)
    return table


def _cut_short(label: str, line: int) -> str:
    return (
        f"{label}: line {line:,}, the last one, ends in the middle of a row: the file may be cut short. Compare it "
        "with its source."
    )


def _without_end(text: bytes, start: int) -> bytes:
    """Return a text from a place on, without the line feeds at its end; a large text is copied once only."""
    end = len(text)
    while end > start and text[end - 1] == ord("\n"):
        end -= 1
    return text[start:end]


def _find_head(text: bytes, label: str, delimiter: str | None, wanted: Wanted, skipped: int) -> _TextHead:
    """Return the header, by the delimiter that gives most of the names wanted; in a tie, by the most frequent one."""
    start = _offset(text, skipped)
    sample = text[start : start + _HEAD_BYTES].decode("utf-8", errors="ignore")
    best: tuple[tuple[int, int, int], _TextHead] | None = None
    unread: InputError | None = None
    for mark in [delimiter] if delimiter else DELIMITERS:
        try:
            records, ends = _records(sample, mark, label)
        except InputError as error:
            # by another delimiter the line may have many short cells
            unread = error
            continue
        lines = [skipped + 1, *(skipped + end + 1 for end in ends)]
        row = None
        if wanted.header_row is not None:
            row = next((n for n, end in enumerate(ends) if lines[n] <= wanted.header_row <= skipped + end), None)
            if row is None or not any(records[row]):
                raise InputError(
                    f"{label}: line {wanted.header_row:,} is blank or beyond the end of the file; expected the header "
                    f"there. Correct {wanted.section}.header_row."
                )
        head = find_head(records, (), wanted, row)
        if head is None:
            continue
        above = [
            (lines[n], " | ".join(cell.strip() for cell in records[n] if cell.strip()))
            for n in range(head.top)
            if any(cell.strip() for cell in records[n])
        ]
        blank = [lines[n] for n in range(head.top) if above and lines[n] > above[0][0] and not any(records[n])]
        found = _TextHead(mark, head, lines[head.bottom], skipped + ends[head.bottom], above, blank)
        score = (head.held, head.hints, len(head.names))
        if best is None or score > best[0]:
            best = score, found
        if wanted.needed and head.holds_all:
            break
    if best is None:
        raise unread or InputError(
            f"{label}: the file is blank; expected a header line and one line per {wanted.one}. Export it again."
        )
    return best[1]


def _records(sample: str, mark: str, label: str) -> tuple[list[list[str]], list[int]]:
    """Return the first records of a text, and the 1-based line that each ends in."""
    reader = csv.reader(io.StringIO(sample), delimiter=mark)
    records: list[list[str]] = []
    ends: list[int] = []
    try:
        for record in reader:
            records.append(record)
            ends.append(reader.line_num)
            if len(records) >= _HEAD_RECORDS:
                break
    except csv.Error as error:
        if not any(any(record) for record in records):
            line = sample.split("\n")[reader.line_num - 1]
            if '"' not in line:
                refuse_too_wide(max(map(line.count, ",;\t|")) + 1, label)
            remedy = "Close the quotation mark" if '"' in line else "Shorten it"
            raise InputError(
                f"{label}: line {reader.line_num:,}: a cell of more than {csv.field_size_limit():,} characters, "
                f"expected the header. {remedy}, or export the file again."
            ) from error
    return records, ends


def _offset(text: bytes, lines: int) -> int:
    """Return where the line after so many lines begins."""
    at = 0
    for _ in range(lines):
        end = text.find(b"\n", at)
        if end < 0:
            return len(text)
        at = end + 1
    return at


def _parse(
    body: bytes, names: list[str], mark: str, label: str, wanted: Wanted
) -> tuple[pd.DataFrame, list[tuple[int, str]]]:
    """Return the rows that fit the header, and the number and text of those that do not."""
    odd: list[tuple[int, str]] = []

    def keep_apart(row: Any) -> str:  # noqa: ANN401 - pyarrow names no type for it
        odd.append((row.number - 1, row.text))
        return "skip"

    # only a quoted cell holds line feeds
    may_span_lines = b'"' in body

    def parsed(*, every_row_fits: bool, block: int = _HEAD_BYTES) -> pa.Table:
        return arrow_csv.read_csv(
            pa.BufferReader(body),
            # a row that does not fit has its number only if a single thread reads
            read_options=arrow_csv.ReadOptions(use_threads=every_row_fits, column_names=names, block_size=block),
            parse_options=arrow_csv.ParseOptions(
                delimiter=mark,
                newlines_in_values=may_span_lines,
                ignore_empty_lines=False,
                invalid_row_handler=None if every_row_fits else keep_apart,
            ),
            convert_options=arrow_csv.ConvertOptions(
                column_types=dict.fromkeys(names, pa.string()),
                strings_can_be_null=True,
                null_values=[""],
                quoted_strings_can_be_null=True,
            ),
        )

    try:
        try:
            table = parsed(every_row_fits=True)
        except pa.ArrowInvalid:
            # a row may be longer than a block: then the whole text is one
            odd.clear()
            table = parsed(every_row_fits=False, block=min(max(len(body) + 1, _HEAD_BYTES), _MOST_BLOCK_BYTES))
    except pa.ArrowInvalid as error:
        raise InputError(
            f"{label}: cannot be read as a table ({error}); expected one line per {wanted.one} and one delimiter "
            f"throughout ({mark!r} was used). Close an open quotation mark, set {wanted.section}.delimiter, or export "
            "the file again."
        ) from error
    return table.to_pandas(), odd


def _places(lines: int, frame: pd.DataFrame, odd: list[tuple[int, str]], first: int) -> npt.NDArray[np.int64]:
    """Return the line that each row begins in; a quoted cell may span several."""
    count = len(frame) + len(odd)
    if lines == count:
        return np.arange(first, first + count)
    more = np.zeros(count, dtype=np.int64)
    fitting = np.arange(count)
    if odd:
        fitting = np.delete(fitting, [number for number, _ in odd])
    for name in frame:
        cells = pa.array(frame[name], pa.large_string(), from_pandas=True)
        more[fitting] += pc.fill_null(pc.count_substring(cells, "\n"), 0).to_numpy(zero_copy_only=False)
    for number, text in odd:
        more[number] = text.count("\n")
    before = np.cumsum(more) - more
    return np.arange(first, first + count) + before


def _hint(found: _TextHead, wanted: Wanted, notices: list[str]) -> str:
    """Return what is likely where a name is not among the columns; empty where every name was found."""
    if found.head.holds_all:
        return ""
    section = wanted.section
    if len(found.head.names) == 1:
        hint = f"The header in line {found.line:,} holds one column only: set {section}.delimiter."
    elif not found.head.held and not found.head.hints:
        hint = (
            f"No line holds an expected name; line {found.line:,} was taken for the header. If the file has no "
            f"header, add one; if it is another line, set {section}.header_row."
        )
    else:
        hint = f"Line {found.line:,} was taken for the header; if it is another, set {section}.header_row."
    if any("Windows-1252" in notice for notice in notices):
        hint += f' The file is not UTF-8: if letters look wrong, set {section}.encoding, such as "cp1250".'
    return hint
