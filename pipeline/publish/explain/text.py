"""The document as text: tables drawn with lines, as wide as asked, without control characters."""

import io
from typing import Final

from markupsafe import Markup
from rich import box
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from pipeline.publish.explain.parts import Cell, Document, Grid, Listing, Paragraph
from pipeline.publish.words import title_text

__all__ = ["as_text"]

_LONGEST: Final = 10_000
_RULES: Final = {1: "=", 2: "-"}


def as_text(document: Document, width: int) -> str:
    """Return the document as lines of at most ``width`` characters; text of a register cannot control a terminal."""
    out = io.StringIO()
    console = Console(file=out, width=width, highlight=False, color_system=None, force_terminal=False)
    _head(console, document.title, 1)
    console.print(_plain(document.under))
    for part in document.parts:
        _print(console, part)
    for section in document.sections:
        console.print()
        _head(console, section.title, section.level)
        for part in section.parts:
            _print(console, part)
    # a blank that does not break has done its work once the lines are laid out
    lines = out.getvalue().replace("\N{NO-BREAK SPACE}", " ").splitlines()
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _head(console: Console, title: Cell, level: int) -> None:
    text = _plain(title)
    console.print(text if level in _RULES else Text.assemble("# ", text))
    if level in _RULES:
        console.print(_RULES[level] * min(text.cell_len, console.width))


def _print(console: Console, part: Paragraph | Listing | Grid) -> None:
    if isinstance(part, Paragraph):
        console.print(_plain(part.text))
        return
    if isinstance(part, Listing):
        for line in part.lines:
            console.print(Padding(_plain(line), (0, 0, 0, 2)))
        return
    console.print()
    console.print(_plain(part.caption))
    table = Table(box=box.HORIZONTALS, show_header=bool(part.heads), pad_edge=False, show_lines=True)
    for column in range(len(part.heads) or (len(part.rows[0]) if part.rows else 0)):
        table.add_column(_plain(part.heads[column]) if part.heads else "", overflow="fold")
    for row in part.rows:
        table.add_row(*(_plain(cell) for cell in row))
    console.print(table)


def _plain(cell: Cell) -> Text:
    """A cell without its markup, and without characters that could control a terminal or turn its text around."""
    return Text(title_text(cell.striptags() if isinstance(cell, Markup) else cell, _LONGEST))
