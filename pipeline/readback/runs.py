"""A finished run's folder, read back: its record, its cores, its findings."""

import datetime as dt
import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pandas as pd
import pyarrow as pa
from pyarrow import csv as arrow_csv
from pyarrow import parquet

from pipeline.contracts import (
    CORE_COLUMNS,
    FINDING_COLUMNS,
    LOCATED_COLUMNS,
    QUANTIFIED_COLUMNS,
    REGISTER_COLUMNS,
    SPECIFIED_COLUMNS,
    STATUSES,
    no_text,
)
from pipeline.errors import InputError
from pipeline.spreadsheet_text import as_written

__all__ = ["Run", "read_run", "register_text"]

_KINDS: Final = {
    "row": "whole",
    "lon": "number",
    "lat": "number",
    **{
        column.name: column.kind
        for group in (REGISTER_COLUMNS, LOCATED_COLUMNS, SPECIFIED_COLUMNS, QUANTIFIED_COLUMNS)
        for column in group
    },
}
_DTYPES: Final = {"whole": "int64", "number": "float64", "text": "str"}
_TAKEN: Final = frozenset({*CORE_COLUMNS, "fid", "geom", "geometry", "ogc_fid"})
# without these a table is none of cores; what a later version added is empty in an older run
_NEEDED: Final = ("row", "core_id", "status", "findings", "district", "lon", "lat")


@dataclass(frozen=True)
class Run:
    """A finished run.

    ``record``: what ``run.json`` holds. ``cores``: N rows in the register's order with every column of
    ``CORE_COLUMNS`` (text as ``str``, numbers as ``float64``, ``row`` as ``int64``), then the register's own columns
    as text. ``findings``: FINDING_COLUMNS, every cell text.
    """

    folder: Path
    record: dict[str, Any]
    cores: pd.DataFrame
    findings: pd.DataFrame

    @property
    def programme(self) -> str:
        """Name of the programme."""
        return str(self.record["programme"])

    @property
    def as_of(self) -> dt.date:
        """Day of the audit."""
        return dt.date.fromisoformat(self.record["as_of"])

    @property
    def register_sha256(self) -> str:
        """Checksum of the register that was audited."""
        return next(str(file["sha256"]) for file in self.record["inputs"] if file["section"] == "cores")

    @property
    def day_first(self) -> bool | None:
        """Whether the day comes first in the register's dates, as the programme says."""
        told = self.record["settings"]["cores"].get("day_first")
        return told if isinstance(told, bool) else None


def read_run(path: Path) -> Run:
    """Read a finished run's folder.

    Parameters
    ----------
    path
        The folder ``<programme>/<as_of>`` that an audit left behind.

    Raises
    ------
    InputError
        It is no run's folder, or a file in it is missing, cut short or spoiled.
    """
    if not (path / "run.json").is_file():
        raise InputError(
            f"{path}: no run's folder: it holds no run.json. "
            "Give a folder that `kerfbook audit` wrote, such as outputs/my-programme/2026-09-30."
        )
    record = _record(path)
    cores = _cores(path / "cores.parquet", record["account"]["rows_read"])
    return Run(path, record, cores, _findings(path / "findings.csv", record))


def register_text(run: Run, name: str) -> pd.Series:
    """Return the register's cells for a contract column, as they were read; missing if the register has none.

    Parameters
    ----------
    run
        The run.
    name
        A column of ``REGISTER_COLUMNS``.

    Returns
    -------
    pandas.Series
        N texts on the index of ``run.cores``.
    """
    column = next(column for column in REGISTER_COLUMNS if column.name == name)
    own = {str(one).casefold(): str(one) for one in reversed(run.cores.columns[len(CORE_COLUMNS) :].tolist())}
    wanted = run.record["settings"]["cores"]["columns"].get(name)
    for tried in [wanted] if wanted is not None else [column.name, column.short]:
        plain = tried.strip().casefold()
        # a name that the table of cores has taken stands there as register_<name>
        if plain in _TAKEN:
            plain = f"register_{plain}"
        if plain in own:
            return run.cores[own[plain]]
    return no_text(run.cores.index)


def _record(path: Path) -> dict[str, Any]:
    place = path / "run.json"
    try:
        record = json.loads(place.read_text("utf-8"))
        dt.date.fromisoformat(record["as_of"])
        sections = {file["section"]: file["sha256"] for file in record["inputs"]}
        told = (record["programme"], sections["cores"], record["account"]["rows_read"])
        columns = [*record["settings"]["cores"]["columns"].values()]
        severities = record["findings_by_severity"].values()
        is_sound = (
            re.fullmatch("[0-9a-f]{64}", told[1]) is not None
            and all(isinstance(value, kind) for value, kind in zip(told, (str, str, int), strict=True))
            and all(isinstance(count, int) for count in severities)
            and all(isinstance(name, str) for name in columns)
        )
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        raise _spoiled(place, f"{type(error).__name__}: {error}") from error
    if not is_sound:
        raise _spoiled(place, "a name, a checksum or a count is of the wrong kind")
    return dict(record)


def _cores(place: Path, rows: int) -> pd.DataFrame:
    try:
        table: pd.DataFrame = parquet.read_table(place).to_pandas()
    except (OSError, ValueError, pa.ArrowException) as error:
        raise _spoiled(place, str(error)) from error
    lost = [name for name in _NEEDED if name not in table]
    if lost:
        raise _spoiled(place, f"no column {lost[0]!r}")
    own = [name for name in table if name not in CORE_COLUMNS]
    whole: pd.DataFrame = table.reindex(columns=[*CORE_COLUMNS, *own])
    kinds = {name: _DTYPES.get(_KINDS.get(name, "text"), "str") for name in CORE_COLUMNS}
    try:
        whole = whole.astype({**dict.fromkeys(own, "str"), **kinds})
    except (ValueError, TypeError) as error:
        raise _spoiled(place, str(error)) from error
    if len(whole) != rows:
        raise _spoiled(place, f"{len(whole)} rows where run.json counts {rows}")
    if whole["row"].duplicated().any() or not whole["status"].isin(STATUSES).all():
        raise _spoiled(place, "a row stands twice, or a status is none of flagged, pending and reinstated")
    return whole.reset_index(drop=True)


def _findings(place: Path, record: dict[str, Any]) -> pd.DataFrame:
    try:
        raw = place.read_bytes()
        # one that ends within a line is cut short
        if not raw.endswith(b"\n"):
            raise _spoiled(place, "it does not end with a line")
        table: pd.DataFrame = arrow_csv.read_csv(
            pa.BufferReader(raw),
            parse_options=arrow_csv.ParseOptions(newlines_in_values=True),
            convert_options=arrow_csv.ConvertOptions(
                column_types=dict.fromkeys(FINDING_COLUMNS, pa.string()),
                include_columns=list(FINDING_COLUMNS),
                strings_can_be_null=True,
                null_values=[""],
                quoted_strings_can_be_null=False,
            ),
        ).to_pandas()
    except (OSError, ValueError, KeyError, pa.ArrowException) as error:
        raise _spoiled(place, str(error)) from error
    rows = sum(record["findings_by_severity"].values())
    if len(table) != rows:
        raise _spoiled(place, f"{len(table)} findings where run.json counts {rows}")
    return table.astype("str").apply(as_written)


def _spoiled(place: Path, found: str) -> InputError:
    return InputError(
        f"{place}: cannot be used ({found.rstrip('.')}). Expected the file as an audit wrote it: run the audit again, "
        "or copy the whole folder again."
    )
