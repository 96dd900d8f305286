"""The group that every command registers with, and the kinds of arguments they share."""

import datetime as dt
from pathlib import Path
from typing import Any

import click

from pipeline.version import __version__

__all__ = ["PROGRAMME", "WIDTH", "Day", "commands", "for_terminal"]

WIDTH = 100
PROGRAMME = click.Path(path_type=Path, dir_okay=False)


def for_terminal(text: str) -> str:
    """Return text of a file without what a terminal would obey: only line ends stay of its control characters."""
    return "".join(letter if letter.isprintable() or letter == "\n" else "\N{REPLACEMENT CHARACTER}" for letter in text)


class Day(click.ParamType[dt.date]):
    """A date as it stands in a TOML file."""

    name = "date"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> dt.date:  # noqa: ANN401
        """Return the date, or fail in words."""
        if isinstance(value, dt.date):
            return value
        try:
            return dt.date.fromisoformat(value)
        except ValueError:
            self.fail(f"found {value!r}, expected a date such as 2026-09-30.", param, ctx)


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": WIDTH})
@click.version_option(__version__, prog_name="kerfbook")
def commands() -> None:
    """Audit every pavement core of a programme: where it lies, what it needs, what is wrong with it."""
