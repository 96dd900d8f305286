"""The command that shows what was understood of a programme's inputs, and what it prints."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.cli.group import ALLOW_REMOTE, PROGRAMME, commands
from pipeline.cli.progress import progress_of
from pipeline.cli.terminal import lines, printer, say
from pipeline.wording import counted

if TYPE_CHECKING:
    from rich.console import Console

    from pipeline.publish.words import Words
    from pipeline.results import Checked

__all__ = ["print_check"]

_MOST_ASIDE = 10
_MOST_NOTICES = 10
_BAR = 40


@commands.command("check", short_help="Show what was understood of a programme's inputs.")
@click.argument("programme", type=PROGRAMME)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), default=Path("outputs"), show_default=True,
              help="Folder for the page, which is written to <programme>/check.html in it.")  # fmt: skip
@click.option("--no-page", is_flag=True, help="Write nothing.")
@ALLOW_REMOTE
def check_command(programme: Path, out: Path, no_page: bool, allow_remote: bool) -> None:  # noqa: FBT001 - click fills flags by name
    """Read the inputs of PROGRAMME, a TOML file, and show what was understood of them.

    What looks misread comes first. An input that cannot be used does not hide the others: all errors are listed at the
    end. The same is written as a page, check.html.
    """
    from pipeline.commands.check import check_inputs
    from pipeline.intake.files.remote import remote_inputs

    with progress_of(quiet=False) as progress, remote_inputs(allowed=allow_remote) as remote:
        remote.told = progress.detail
        checked = check_inputs(programme, None if no_page else out, progress)
    print_check(checked)
    if checked.errors:
        for error in checked.errors:
            say(f"Error: {error}", err=True)
        # the error that an audit would end with
        sys.exit(checked.errors[0].exit_code)


def print_check(checked: "Checked") -> None:
    """Print what was understood of the inputs, the most important first."""

    from pipeline.publish.check.shown import check_shown
    from pipeline.publish.check.voice import for_text
    from pipeline.publish.words import words_of

    words = words_of("en")
    shown = check_shown(checked, for_text(words))
    # nothing of a register is markup
    console = printer()
    console.print(words.plainly("check.page", name=checked.settings.programme.name), soft_wrap=True)
    console.print(shown["verdict"])
    _print_suspicions(console, shown["suspicions"], words)
    for register in shown["registers"]:
        _print_register(console, register, words)
    if shown["registers"]:
        console.print()
        console.print(f"{words.plainly('check.rules_title')}: {shown['rules']}")
    if shown["lacking"]:
        _print_table(console, words, shown["lacking"], lacks="lacks", registers="in_registers", rules="not_assessed")
    _print_layers(console, shown, words)
    _print_notices(console, shown["notices"])
    console.print()
    console.print(f"{shown['measured']} {shown['cores']}")
    if checked.page is not None:
        console.print(f"Page: {checked.page}", soft_wrap=True)


def _print_layers(console: "Console", shown: dict[str, Any], words: "Words") -> None:
    if shown["layers"]:
        console.print()
        console.print(words.plainly("check.layers"))
    for layer in shown["layers"]:
        parts = [layer["geometry"], layer["crs"], layer["extent"], *layer["columns"], *layer["notes"]]
        console.print(f"[{layer['name']}] {layer['file']}: features: {layer['rows']}; {'; '.join(parts)}")
    if shown["stock"]:
        console.print(shown["stock"])


def _print_notices(console: "Console", notices: list[str]) -> None:
    if notices:
        console.print()
    for notice in notices[:_MOST_NOTICES]:
        console.print(f"Note: {notice}")
    if len(notices) > _MOST_NOTICES:
        console.print(f"{counted(len(notices) - _MOST_NOTICES, 'more note')} on the page.")


def _print_suspicions(console: "Console", suspicions: list[str], words: "Words") -> None:
    if not suspicions:
        return
    console.print()
    console.print(words.plainly("check.look"))
    for number, suspicion in enumerate(suspicions, start=1):
        console.print(f"{number:>3}. {suspicion}")


def _print_register(console: "Console", register: dict[str, Any], words: "Words") -> None:
    say = words.plainly
    console.print()
    console.print(f"{say('check.register', name=register['name'])}: {register['files']}")
    if register["headers"]:
        console.print(f"{register['headers'][:1].upper()}{register['headers'][1:]}.")
    console.print(f"{register['counts']}.")
    for line in register["positions"]:
        console.print(line)
    if register["distances"] is not None:
        _print_bars(console, say("check.chart"), register["distances"])
    elif register["no_roads"]:
        console.print(say("check.no_roads"))
    rows = [
        {**column, "values": lines(*filter(None, [column["values"], *column["unread"], column["order"]]))}
        for column in register["columns"]
    ]
    _print_table(console, words, rows, label="column", header="header", read="read", unit="unit", values="values")
    for key in ("not_kept", "unused"):
        if register[key]:
            console.print(say(f"check.{key}", names=register[key]))
    if register["aside_rows"]:
        console.print(f"{say('check.set_aside')}: {register['aside']}")
    for row in register["aside_rows"][:_MOST_ASIDE]:
        where = " ".join(filter(None, [row["file"], row["place"]]))
        console.print("  " + ": ".join(filter(None, [where, row["reason"], row["text"]])), soft_wrap=True)
    if len(register["aside_rows"]) > _MOST_ASIDE:
        console.print(f"  {len(register['aside_rows']) - _MOST_ASIDE + register['aside_more']:,} more.")


def _print_table(console: "Console", words: "Words", rows: list[dict[str, Any]], **heads: str) -> None:
    """Print a table: ``heads`` has for each key of the rows the sentence over its column."""
    from rich import box
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False)
    for key, head in heads.items():
        table.add_column(words.plainly(f"check.{head}"), overflow="fold", ratio=None if key != "values" else 1)
    for row in rows:
        table.add_row(*(row[key] if key == "values" else str(row[key]) for key in heads))
    console.print(table)


def _print_bars(console: "Console", title: str, counts: dict[str, int]) -> None:
    """Print a histogram: a line per band, its bar in proportion to the greatest."""
    console.print(f"{title}:")
    most, wide = max(counts.values(), default=0) or 1, max(map(len, counts))
    for name, count in counts.items():
        # the smallest count still shows
        bar = "█" * max(round(_BAR * count / most), 1 if count else 0)
        console.print(f"  {name:>{wide}}  {bar} {count:,}" if count else f"  {name:>{wide}}")
