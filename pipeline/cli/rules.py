"""The command that lists the rule book: as it is shipped, as a programme sets it, or as a run applied it."""

from pathlib import Path
from typing import Any, Final

import click

from pipeline.cli.group import commands
from pipeline.cli.terminal import lines, printer
from pipeline.errors import InputError
from pipeline.visible_text import in_line
from pipeline.wording import counted

_APPLIES_TO: Final = {"all": "all cores", "open": "open cores", "reinstated": "reinstated cores"}
_SHOWN: Final = ("rule", "family", "title", "severity", "limits", "source", "needs", "applies_to")
_SET: Final = "Limits set by the programme or its code of practice"
_COUNTS: Final = ("found", "assessed", "not_assessed", "not_applicable", "at_limit")
_CANNOT_BE_TOLD: Final = (
    "At the limit, cannot be told: rounded as it was written, a value stands for values of which some breach the limit "
    "and some do not."
)
_LAST: Final = "urgency"
_OF_THRESHOLD: Final = ("rule", "threshold", "value", "where", "origin", "source")


@commands.command("rules", short_help="List the rules with urgency, severity, thresholds and source.")
@click.argument("source", required=False, type=click.Path(path_type=Path))
@click.option("--rule", "slug", help="Show only this rule, with its source and the data it needs.")
@click.option("--csv", "as_csv", is_flag=True, help="Print all columns as CSV, for a spreadsheet.")
def rules_command(source: Path | None, slug: str | None, as_csv: bool) -> None:  # noqa: FBT001 - click fills flags by name
    """List the rules with their urgency, severity, limits and source, the most urgent first.

    SOURCE is a programme file, to see the limits in force for it, or the folder of a run, to see also how many cores
    each rule found, assessed, could not assess, or does not apply to. Without it, the shipped rules are listed.
    """
    from pipeline.audit import rule_book
    from pipeline.audit.limits import limit_in_words
    from pipeline.commands.rules import read_rules

    if source is not None and source.is_dir():
        book, thresholds = _of_run(source)
    else:
        bound = read_rules(source)
        book = [row | {_LAST: one.urgency} for row, one in zip(rule_book(bound), bound, strict=True)]
        thresholds = [
            {"rule": one.rule.slug, "threshold": setting.name, "value": limit_in_words(setting.written),
             "where": setting.where, "origin": setting.origin, "source": setting.source}
            for one in bound
            for setting, _ in one.settings
        ]  # fmt: skip
    if slug is not None:
        if slug not in {one["rule"] for one in book}:
            raise click.UsageError(f"--rule: no rule is called {slug!r}. `kerfbook rules` lists them.")
        book = [one for one in book if one["rule"] == slug]
        thresholds = [one for one in thresholds if one["rule"] == slug]
    else:
        thresholds = [one for one in thresholds if one["origin"] != "shipped"]
    book = _by_urgency(book)
    if as_csv:
        _print_csv(book)
    else:
        _print(book, thresholds, in_full=slug is not None)


def _of_run(folder: Path) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    from pipeline.readback.json_text import parse_json
    from pipeline.readback.record_shape import refuse_wrong_rules

    try:
        record = parse_json((folder / "run.json").read_text("utf-8"))
        refuse_wrong_rules(record)
        rules = [{name: one[name] for name in (*_SHOWN, *_COUNTS, _LAST)} for one in record["rules"]]
        return rules, [{name: one[name] for name in _OF_THRESHOLD} for one in record["thresholds"]]
    except (OSError, ValueError, KeyError, RecursionError) as error:
        reason = error.strerror if isinstance(error, OSError) else f"not as this version writes it, {error}"
        raise InputError(
            f"{folder}: no run of this version was found there (run.json: {reason}). Give the folder of a run, such as "
            "outputs/harbour-vale-2026/2026-09-30, or a programme file, or nothing."
        ) from error


def _by_urgency(book: list[dict[str, Any]]) -> list[dict[str, Any]]:
    import pandas as pd

    from pipeline.audit.ranking import by_urgency

    order = by_urgency(
        pd.DataFrame(book)[[name for name in ("rule", "urgency", "severity", "found") if name in book[0]]]
    )
    return [book[at] for at in order.index]


def _print_csv(book: list[dict[str, Any]]) -> None:
    import csv
    import sys

    writer = csv.DictWriter(sys.stdout, list(book[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(
        {name: in_line(cell) if isinstance(cell, str) else cell for name, cell in one.items()} for one in book
    )


def _print(book: list[dict[str, Any]], thresholds: list[dict[str, Any]], *, in_full: bool) -> None:
    from rich.table import Table

    console = printer()
    table = Table()
    table.add_column("Rule", overflow="fold", min_width=16)
    table.add_column("Urgency")
    table.add_column("Severity")
    table.add_column("What is wrong, limits and source")
    for one in book:
        said = [one["title"], *([f"Limits: {one['limits']}."] if one["limits"] else []), f"Source: {one['source']}."]
        if in_full:
            applies_to = _APPLIES_TO.get(one["applies_to"], one["applies_to"])
            said.append(f"Needs: {one['needs'] or 'no data'}. Applies to: {applies_to}.")
        if "assessed" in one:
            said.append(_outcome(one))
        table.add_row(one["rule"], one["urgency"], one["severity"], lines(*said))
    console.print(table)
    if any(one.get("at_limit") for one in book):
        console.print(_CANNOT_BE_TOLD)
    if thresholds:
        title = "Each limit, a later one overriding an earlier one" if in_full else _SET
        console.print(f"{title}:")
    for one in thresholds:
        console.print(
            f"{one['rule']}: {one['threshold'].replace('_', ' ')} {one['value']}, {one['where']} "
            f"({one['origin']}; {one['source']})"
        )


def _outcome(one: dict[str, Any]) -> str:
    """Return what became of the cores of a run under one rule, in words."""
    if not one["assessed"] and one["not_assessed"]:
        return "Check not run: no data supplied."
    return (
        f"Found on {one['found']:,} of {counted(one['assessed'], 'core')} assessed; "
        f"at the limit, cannot be told: {one['at_limit']:,}; {one['not_assessed']:,} not assessed; "
        f"not applicable to {one['not_applicable']:,}."
    )
