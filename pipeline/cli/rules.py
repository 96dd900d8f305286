"""The command that lists the rule book: as it is shipped, as a programme sets it, or as a run applied it."""

import json
from pathlib import Path
from typing import Any

import click

from pipeline.cli.group import commands
from pipeline.cli.summary import line_width
from pipeline.errors import InputError

_CONCERNS = {"all": "all cores", "open": "cores that are not back", "back": "cores that are back"}


@commands.command("rules", short_help="List the rules with severity, thresholds and source.")
@click.argument("source", required=False, type=click.Path(path_type=Path))
@click.option("--rule", "slug", help="Only this rule, with its source and what it needs.")
@click.option("--csv", "as_csv", is_flag=True, help="Print a table for a spreadsheet, every column of it.")
def rules_command(source: Path | None, slug: str | None, as_csv: bool) -> None:  # noqa: FBT001
    """List the rules with severity, thresholds and source.

    SOURCE: a programme file shows the thresholds in force for it; the folder of a run also shows how many cores each
    rule assessed, found, could not assess, or does not speak of. Without it: the rules as they are shipped.
    """
    from pipeline.audit import rule_book
    from pipeline.commands.rules import read_rules

    if source is not None and source.is_dir():
        book, thresholds = _of_run(source)
    else:
        bound = read_rules(source)
        book = rule_book(bound)
        thresholds = [
            {"rule": one.rule.slug, "threshold": saying.name, "value": str(saying.written), "where": saying.where,
             "origin": saying.origin, "source": saying.source}
            for one in bound
            for saying, _ in one.said
            if saying.origin != "shipped"
        ]  # fmt: skip
    if slug is not None:
        known = {one["rule"] for one in book}
        if slug not in known:
            raise click.UsageError(f"no rule is called {slug!r}. `kerfbook rules` lists them.")
        book = [one for one in book if one["rule"] == slug]
        thresholds = [one for one in thresholds if one["rule"] == slug]
    if as_csv:
        _print_csv(book)
    else:
        _print(book, thresholds, whole=slug is not None)


def _of_run(folder: Path) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    try:
        record = json.loads((folder / "run.json").read_text("utf-8"))
        return record["rules"], [one for one in record["thresholds"] if one["origin"] != "shipped"]
    except (OSError, ValueError, KeyError) as error:
        raise InputError(
            f"{folder}: no run of this version lies there (run.json: {error}). "
            "Give a folder such as outputs/harbour-vale-2026/2026-09-30, a programme file, or nothing."
        ) from error


def _print_csv(book: list[dict[str, Any]]) -> None:
    import csv
    import sys

    writer = csv.DictWriter(sys.stdout, list(book[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(book)


def _print(book: list[dict[str, Any]], thresholds: list[dict[str, Any]], *, whole: bool) -> None:
    from rich.console import Console
    from rich.markup import escape
    from rich.table import Table

    console = Console(width=line_width(), highlight=False)
    counted = "assessed" in book[0]
    table = Table("rule", "severity", "what is wrong, by which threshold and source")
    for name in ("found", "assessed", "not assessed", "not concerned") if counted else ():
        table.add_column(name, justify="right")
    for one in book:
        said = [one["title"], *([one["limits"]] if one["limits"] else []), f"Source: {one['source']}."]
        if whole:
            said.append(f"Needs: {one['needs'] or 'nothing but the row'}. Speaks of: {_CONCERNS[one['concerns']]}.")
        counts = [f"{one[key]:,}" for key in ("found", "assessed", "not_assessed", "not_concerned")] if counted else []
        table.add_row(one["rule"], one["severity"], escape("\n".join(said)), *counts)
    console.print(table)
    for one in thresholds:
        console.print(
            f"{one['rule']}, {one['threshold']} {escape(one['value'])}, {escape(one['where'])}: "
            f"{one['origin']}, {escape(one['source'])}"
        )
