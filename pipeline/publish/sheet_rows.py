"""A sheet of a workbook whose rows are written as whole columns.

The library takes a sheet cell by cell, which costs more than all that a run otherwise writes. Here the rows of a table
are put together column by column, to the same bytes; headings and whatever else is on a sheet are the library's.
"""

from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pyarrow as pa
from pyarrow import compute as pc
from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.worksheet import Worksheet

from pipeline.clock import Counted
from pipeline.publish.sheet_cells import Cells, Codes

__all__ = ["RowsWritten", "TableSheet"]

# rows that share the range of columns that a reader may expect in them
_BLOCK: Final = 16
# rows that are put together at a time, so that a long table does not take its whole text in memory
_ROWS: Final = 65_536
# the height of one line of text, in points
_LINE_HEIGHT: Final = 15


class _Column(NamedTuple):
    """One column: its cells, the place of each text among those of all sheets, the formats of texts and of numbers."""

    cells: Cells
    places: Codes
    text_format: Any
    number_format: Any

    @property
    def uses(self) -> tuple[tuple[Codes, Any], tuple[Codes, Any]]:
        """The formats, each with codes that are 0 or more where a cell has it."""
        return (self.cells.text_codes, self.text_format), (self.cells.number_codes, self.number_format)

    def written(self, start: str, number: pa.Array, rows: slice) -> list[pa.Array]:
        """The cells of some rows as the text of the sheet; ``number``: those of the rows."""
        texts = []
        if self.cells.texts:
            places = self.places[rows]
            shown = pc.cast(pa.array(places, mask=places < 0), pa.string())
            style = self.text_format._get_xf_index()  # noqa: SLF001 - it has no other name
            texts.append(_joined(start, number, f'" s="{style}" t="s"><v>', shown, "</v></c>"))
        if self.cells.numbers:
            codes = self.cells.number_codes[rows]
            shown = pa.array(self.cells.numbers, pa.string()).take(pa.array(codes, mask=codes < 0))
            style = self.number_format._get_xf_index()  # noqa: SLF001 - as above
            texts.append(_joined(start, number, f'" s="{style}"><v>', shown, "</v></c>"))
        return texts


class RowsWritten:
    """Counts the rows of all sheets of a workbook as they are written."""

    def __init__(self, tell: Counted) -> None:
        self._tell, self._done, self._all = tell, 0, 0

    def expect(self, rows: int) -> None:
        """Add so many rows to those that will be written."""
        self._all += rows

    def add(self, rows: int) -> None:
        """Tell of so many more that are written."""
        self._done += rows
        self._tell(self._done, self._all, "rows")


class TableSheet(Worksheet):  # type: ignore[misc]
    """A sheet with one table below its first row."""

    # the library's own, of which it does not say the kinds
    dim_rowmin: int
    dim_rowmax: int
    row_spans: dict[int, str]
    # of the workbook; None counts nothing
    rows_written: RowsWritten | None = None

    def __init__(self) -> None:
        """Make a sheet without a table."""
        super().__init__()
        self._columns: list[_Column] = []
        self._lines: Codes = np.zeros(0, dtype=np.int32)

    def add_column(self, cells: Cells, text_format: Any, number_format: Any) -> None:  # noqa: ANN401 - untyped library
        """Put the next column, from the first of the sheet on, under its heading; all have N rows."""
        texts = self.str_table
        places = [texts._get_shared_string_index(text) for text in cells.cut_texts]  # noqa: SLF001 - as write_string does
        # the library counts cells, not texts
        texts.count += int((cells.text_codes >= 0).sum()) - len(places)
        of_cells = np.array([*places, -1], dtype=np.int32)[cells.text_codes]
        self._columns.append(_Column(cells, of_cells, text_format, number_format))

    def set_lines(self, lines: Codes) -> None:
        """Set how many lines of text each of the N rows has room for, once all columns are there."""
        self._lines = lines
        if self.rows_written:
            self.rows_written.expect(len(lines))
        filled = [np.flatnonzero(column.cells.has_cell)[-1:] for column in self._columns]
        if last := max((int(at[0]) + 1 for at in filled if len(at)), default=0):
            self._check_dimensions(last, 0)

    def _calculate_spans(self) -> None:
        if self.row_spans:
            return
        super()._calculate_spans()
        blocks = len(self._lines) // _BLOCK + 1
        low, high = np.full(blocks, len(self._columns) + 1), np.zeros(blocks, dtype=np.int32)
        for place, column in enumerate(self._columns, start=1):
            # the heading is the first row of the first block
            here = np.unique(np.append(False, column.cells.has_cell).nonzero()[0] // _BLOCK)
            low[here], high[here] = np.minimum(low[here], place), place
        for block in np.flatnonzero(high).tolist():
            ends = self.row_spans.get(block, f"{low[block]}:{high[block]}").split(":")
            self.row_spans[block] = f"{min(int(ends[0]), low[block])}:{max(int(ends[1]), high[block])}"

    def _write_rows(self) -> None:
        if not len(self._lines):
            super()._write_rows()
            return
        # the spans are those of all rows
        self._calculate_spans()
        top, bottom = self.dim_rowmin, self.dim_rowmax
        self.dim_rowmax = 0
        super()._write_rows()
        self._number_formats()
        for start in range(0, len(self._lines), _ROWS):
            self.fh.write(self._text_of(slice(start, start + _ROWS)))
            if self.rows_written:
                self.rows_written.add(min(_ROWS, len(self._lines) - start))
        # a long table is held no longer than it takes to write it
        self._columns = []
        self.dim_rowmin, self.dim_rowmax = len(self._lines) + 1, bottom
        super()._write_rows()
        self.dim_rowmin = top

    def _number_formats(self) -> None:
        """Let each format have its number where a sheet first uses it, row by row, as the library does."""
        uses = [(codes, at, form) for at, column in enumerate(self._columns) for codes, form in column.uses]
        first = [(int((codes >= 0).argmax()), at, form) for codes, at, form in uses if (codes >= 0).any()]
        for _, _, form in sorted(first, key=lambda use: use[:2]):
            form._get_xf_index()  # noqa: SLF001 - see above

    def _text_of(self, rows: slice) -> str:
        """The rows as the text of the sheet; a row without cells is not written."""
        lines = self._lines[rows]
        at = np.arange(rows.start, rows.start + len(lines)) + 1
        number = pc.cast(pa.array(at + 1), pa.string())
        parts = [self._row_heads(at, number, lines)]
        some = np.zeros(len(lines), dtype=bool)
        for place, column in enumerate(self._columns):
            some |= column.cells.has_cell[rows]
            parts += column.written(f'<c r="{xl_col_to_name(place)}', number, rows)
        text = pc.binary_join_element_wise(*parts, "</row>", "").filter(pa.array(some))
        return "".join(text.to_pylist())

    def _row_heads(self, at: npt.NDArray[np.int64], number: pa.Array, lines: Codes) -> pa.Array:
        blocks = at // _BLOCK
        different, which = np.unique(blocks, return_inverse=True)
        spans = pa.array([f'" spans="{self.row_spans.get(int(block), "")}"' for block in different], pa.string())
        counts, height = np.unique(lines, return_inverse=True)
        heights = pa.array(
            [f' ht="{_LINE_HEIGHT * count}" customHeight="1">' if count > 1 else ">" for count in counts.tolist()],
            pa.string(),
        )
        return pc.binary_join_element_wise(
            '<row r="', number, spans.take(pa.array(which)), heights.take(pa.array(height)), ""
        )


def _joined(*parts: object) -> pa.Array:
    """N texts side by side; nothing where any of them is missing."""
    return pc.fill_null(pc.binary_join_element_wise(*parts, ""), "")
