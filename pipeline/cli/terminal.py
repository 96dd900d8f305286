"""The one way to a terminal: whatever is printed passes here, and no text of a file or a path can control it.

Names, notes and paths come from others. A control character in one could colour or hide what follows, a mark of
direction turn it around, a square bracket be taken for Rich's own markup, and a line end begin a line that passes for
ours, such as a verdict. ``guard_streams`` stands before the streams, so that whatever a library prints passes too;
``printer`` writes past it, as the colours of tables are its own. What is printed is one line or one cell, unless the
caller asks for several; of an error of several lines the further ones are indented.
"""

import shutil
import sys
from typing import IO, TYPE_CHECKING, Any

import click

from pipeline.visible_text import in_line, visible

if TYPE_CHECKING:
    from rich.console import Console
    from rich.text import Text

__all__ = ["WIDTH", "guard_streams", "indented", "line_width", "lines", "printer", "say", "say_lines"]

WIDTH = 100


class _Guarded:
    """A stream that shows characters nobody sees by their number; everything else is the stream's own."""

    def __init__(self, stream: IO[str]) -> None:
        self.stream = stream

    def write(self, text: str) -> int:
        self.stream.write(visible(text))
        return len(text)

    def writelines(self, lines: list[str]) -> None:
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401 - whatever a stream has
        return getattr(self.stream, name)


def guard_streams() -> None:
    """Let nothing that is printed from now on control the terminal."""
    sys.stdout, sys.stderr = (_guarded(stream) for stream in (sys.stdout, sys.stderr))


def _guarded(stream: Any) -> Any:  # noqa: ANN401 - a stream stands for another kind of stream
    return stream if stream is None or isinstance(stream, _Guarded) else _Guarded(stream)


def say(text: object = "", *, err: bool = False, is_line: bool = True) -> None:
    """Print a text on one line, with the characters that nobody sees shown."""
    click.echo(in_line(str(text)), err=err, nl=is_line)


def say_lines(text: str, *, err: bool = False, is_line: bool = True) -> None:
    """Print a text of several lines, of which none begins with a text of others."""
    click.echo(visible(text), err=err, nl=is_line)


def indented(text: str) -> str:
    """Return a text of several lines, the further ones indented: none of them can pass for a line of its own."""
    return text.replace("\n", "\n  ")


def lines(*texts: str) -> "Text":
    """Return texts for the printer, each on a line."""
    from rich.text import Text

    return Text("\n".join(map(in_line, texts)))


def line_width() -> int:
    """Return how many characters fit on a line."""
    return min(WIDTH, shutil.get_terminal_size((WIDTH, 24)).columns)


def printer(*, err: bool = False) -> "Console":
    """Return what prints sentences and tables.

    No text is markup, a code of a picture or a control of the terminal; each is one line or cell, but for ``lines``.
    """
    from rich.console import Console
    from rich.text import Text

    class _Printer(Console):
        """A console whose texts are made visible, each on one line, before they are laid out, also in cells."""

        def render_str(self, text: str, **options: Any) -> Text:  # noqa: ANN401 - as the library declares them
            return super().render_str(in_line(text), **options)

    stream = sys.stderr if err else sys.stdout
    own = stream.stream if isinstance(stream, _Guarded) else stream
    width = None if err else line_width()
    return _Printer(file=own, width=width, highlight=False, markup=False, emoji=False)
