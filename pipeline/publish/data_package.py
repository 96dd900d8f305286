"""The dictionary of a folder's CSV files for programs: a Tabular Data Package with a Table Schema for each file.

As the Frictionless specifications, version 1, describe them. Names, units and meanings are those of ``contracts``.
"""

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final, NamedTuple

import pandas as pd

from pipeline.contracts import AUDIT_TABLES, CORE_TABLE, FINDING_TABLE, Column
from pipeline.publish.folder import folder_name
from pipeline.publish.guarded_cells import header_cells
from pipeline.publish.record import as_json
from pipeline.readback.packs import sha256_of
from pipeline.results import RunResult

__all__ = ["DATA_PACKAGE", "DescribedTable", "data_package", "described", "write_run_dictionary"]

DATA_PACKAGE: Final = "datapackage.json"
_TYPES: Final = {"number": "number", "integer": "integer", "boolean": "boolean", "day": "date"}
# a day alone where no time of day was recorded, so that neither "date" nor "datetime" fits every cell
_INSTANT: Final = r"\d{4}-\d{2}-\d{2}(T\d{2}:\d{2}(:\d{2})?([+-]\d{2}:\d{2}|Z)?)?"
_OWN: Final = "the register's own column, as it was read"
_DIALECT: Final = {"delimiter": ",", "quoteChar": '"', "doubleQuote": True, "header": True, "caseSensitiveHeader": True}


class DescribedTable(NamedTuple):
    """A CSV file: its column names in their order, what is known of them by name, its keys.

    ``key``: the columns that identify a row. ``refers``: by column, the file and column that its values are in.
    """

    names: Sequence[str]
    columns: Mapping[str, Column]
    title: str
    key: tuple[str, ...] = ()
    refers: Mapping[str, tuple[str, str]] = {}


def data_package(
    name: str, title: str, tables: Mapping[str, DescribedTable], sources: Sequence[str] = (), folder: Path | None = None
) -> dict[str, Any]:
    """Return what ``datapackage.json`` holds.

    Parameters
    ----------
    name, title
        Of the package, for programs and for people.
    tables
        By file name.
    sources
        Who has to be credited.
    folder
        Where the files are: their size and SHA-256 are given. None leaves these out.
    """
    package: dict[str, Any] = {
        "profile": "tabular-data-package",
        "name": re.sub(r"[^a-z0-9._-]+", "-", folder_name(name)).strip("-") or "programme",
        "title": title,
        "resources": [_resource(file, table, tables, folder) for file, table in tables.items()],
    }
    return package | ({"sources": [{"title": source} for source in sources]} if sources else {})


def _resource(
    file: str, table: DescribedTable, tables: Mapping[str, DescribedTable], folder: Path | None
) -> dict[str, Any]:
    found = (
        {}
        if folder is None
        else {"bytes": (folder / file).stat().st_size, "hash": f"sha256:{sha256_of(folder / file)}"}
    )
    return {
        "profile": "tabular-data-resource",
        "name": _resource_name(file),
        "path": file,
        "title": table.title,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        **found,
        "dialect": _DIALECT,
        "schema": _schema(table, tables),
    }


def _resource_name(file: str) -> str:
    return file.removesuffix(".csv").casefold()


def _schema(table: DescribedTable, tables: Mapping[str, DescribedTable]) -> dict[str, Any]:
    written = header_cells(table.names)
    fields = [
        _field(cell, table.columns.get(name), is_key=(name,) == table.key)
        for cell, name in zip(written, table.names, strict=True)
    ]
    schema: dict[str, Any] = {"fields": fields, "missingValues": [""]}
    if table.key:
        schema["primaryKey"] = list(table.key)
    keys = [
        {"fields": column, "reference": {"resource": _resource_name(file), "fields": of}}
        for column, (file, of) in table.refers.items()
        if column in table.names and file in tables
    ]
    return schema | ({"foreignKeys": keys} if keys else {})


def _field(name: str, column: Column | None, *, is_key: bool) -> dict[str, Any]:
    if column is None:
        return {"name": name, "title": name, "description": _OWN, "type": "string"}
    constraints: dict[str, Any] = {"required": True, "unique": True} if is_key else {}
    if column.values:
        constraints["enum"] = [value for value, _ in column.values]
    if column.kind == "instant":
        constraints["pattern"] = _INSTANT
    return {
        "name": name,
        "title": column.title,
        "description": column.meaning,
        "type": _TYPES.get(column.kind, "string"),
        **({"unit": column.shown_unit} if column.unit else {}),
        **({"constraints": constraints} if constraints else {}),
    }


def described(tables: Mapping[str, pd.DataFrame], known: Mapping[str, DescribedTable]) -> dict[str, DescribedTable]:
    """Return the tables of ``known`` that are there, with the names that each has."""
    return {file: table._replace(names=[*map(str, tables[file])]) for file, table in known.items() if file in tables}


# tables of a run that programs read: columns, title, key, and columns whose values are those of another table
_CORES: Final = "cores.csv"
_RULES: Final = "rules.csv"
_OF_RUN: Final = {
    _CORES: DescribedTable((), {column.published: column for column in CORE_TABLE}, "Cores", ("row",)),
    "findings.csv": DescribedTable(
        (),
        {column.published: column for column in FINDING_TABLE},
        "Findings",
        ("row", "rule"),
        {"row": (_CORES, "row"), "rule": (_RULES, "rule")},
    ),
    **{
        f"{name}.csv": DescribedTable((), {column.name: column for column in AUDIT_TABLES[name]}, title, key, refers)
        for name, title, key, refers in (
            ("rules", "Rules", ("rule",), {}),
            ("thresholds", "Thresholds", (), {"rule": (_RULES, "rule")}),
            ("evidence", "Missing inputs", ("input",), {}),
            ("rates", "Groups compared", (), {}),
            ("completeness", "What the registers record", (), {}),
        )
    },
}


def write_run_dictionary(result: RunResult, folder: Path) -> None:
    """Write ``datapackage.json`` into the folder of a run, in which its tables are."""
    tables = {_CORES: result.table} | {
        name: getattr(result.audit, name.removesuffix(".csv")) for name in _OF_RUN if name != _CORES
    }
    programme, day = result.settings.programme.name, result.as_of.isoformat()
    package = data_package(
        f"{programme} {day}",
        f"{programme}: audit as of {day}",
        described(tables, _OF_RUN),
        result.inputs.credits,
        folder,
    )
    (folder / DATA_PACKAGE).write_text(as_json(package), encoding="utf-8", newline="\n")
