"""A finished run's folder, read back: its record, its cores, its findings."""

import datetime as dt
import hashlib
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, NamedTuple

import pandas as pd

from pipeline.contracts import (
    CORE_COLUMNS,
    CORE_TABLE,
    REGISTER_COLUMNS,
    STATUSES,
    no_text,
    own_names,
)
from pipeline.errors import InputError
from pipeline.readback.cores_table import UNREADABLE, read_cores_table, where_cores_are
from pipeline.readback.findings import damaged, read_findings
from pipeline.readback.json_text import parse_json
from pipeline.readback.record_shape import wrong_shape
from pipeline.wording import plain_reason

__all__ = [
    "Header",
    "Run",
    "read_run",
    "register_headers",
    "register_sections",
    "register_text",
    "reinstatement_text",
]

_DTYPES: Final = {"integer": "Int64", "number": "float64", "text": "str"}
# without these a table is not one of cores; a column that a later version added is empty in an older run
_NEEDED: Final = ("row", "core_id", "status", "findings", "district", "lon", "lat")
# a run that has this column counts each core once; in an older one, columns of these names are the register's own
_COPIES: Final = "copy_of"
_LATER: Final = ("opened_on", "reinstated_at", "register", "register_row", "register_file", _COPIES)
_REPEATED: Final = r"(?:^|;)row-duplicated(?:;|$)"
_UNREADABLE: Final = r"(?:^|;)reinstatement-date-unreadable(?:;|$)"


@dataclass(frozen=True)
class Run:
    """A finished run.

    ``record``: what ``run.json`` holds. ``cores``: N rows in the register's order with every column of
    ``CORE_COLUMNS`` (text as ``str``, numbers as ``float64``, ``row`` as ``int64``, other whole numbers as ``Int64``),
    then the register's own columns as text. Of a run that did not mark copies, ``copy_of`` is worked out. ``findings``:
    FINDING_COLUMNS, every cell text; of a run that gave findings no fingerprints, they are worked out.
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
    def is_pack(self) -> bool:
        """Whether it was read from a handover pack, which has fewer columns and neither settings nor inputs."""
        return bool(self.record.get("is_pack"))

    @property
    def register_sha256(self) -> str:
        """Checksum of the register that was audited; of several, the checksum of their checksums."""
        sums = [str(file["sha256"]) for file in self.record["inputs"] if file["section"] == "cores"]
        return sums[0] if len(sums) == 1 else hashlib.sha256("\n".join(sums).encode()).hexdigest()

    @property
    def counted_cores(self) -> pd.DataFrame:
        """The rows of ``cores`` that are counted: each core once."""
        return self.cores[self.cores[_COPIES].isna()]

    @property
    def day_first(self) -> bool | None:
        """Whether the day comes first in the register's dates, as the programme says; None for several registers."""
        cores = self.record["settings"]["cores"]
        setting = cores.get("day_first") if isinstance(cores, dict) else None
        return setting if isinstance(setting, bool) else None


def read_run(path: Path) -> Run:
    """Read a finished run's folder.

    Parameters
    ----------
    path
        The folder ``<programme>/<as_of>`` that an audit left behind.

    Raises
    ------
    InputError
        It is not the folder of a run, or a file in it is missing, incomplete or damaged.
    """
    if path.is_file():
        raise InputError(
            f"{path}: a file, expected the folder of a run. Give a folder that `kerfbook audit` wrote, such as "
            "outputs/my-programme/2026-09-30. Unpack a zip first; a handover pack is no run."
        )
    if not (path / "run.json").is_file():
        raise InputError(
            f"{path}: no run.json, expected the folder of a run. "
            "Give a folder that `kerfbook audit` wrote, such as outputs/my-programme/2026-09-30."
        )
    record = _record(path)
    cores = _cores(where_cores_are(path), record["account"]["rows_read"])
    # earlier versions counted the findings on copies with the others
    rows = record.get("rows_of_findings", sum(record["findings_by_severity"].values()))
    return Run(path, record, cores, read_findings(path / "findings.csv", rows))


def register_text(run: Run, name: str) -> pd.Series:
    """Return the register's cells of a contract column, as they were read; missing if it has no such column.

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
    sections = _sections(run.record)
    found = no_text(run.cores.index)
    for section in sections:
        header = register_headers(run, section).get(name)
        if header is not None:
            here = run.cores["register"].eq(str(section.get("name"))) if len(sections) > 1 else slice(None)
            found.loc[here] = run.cores.loc[here, header.column]
    return found


class Header(NamedTuple):
    """A column of a register: its name there, and in the table of cores, which has names of its own."""

    written: str
    column: str


def register_headers(run: Run, section: dict[str, Any]) -> dict[str, Header]:
    """Return the columns of one register that were used, by contract column, x, y and position.

    Parameters
    ----------
    run
        The run.
    section
        The settings of the register, one of ``register_sections``.
    """
    own = {str(name).casefold(): str(name) for name in reversed(run.cores.columns[len(CORE_COLUMNS) :].tolist())}
    wanted = {
        column.name: [section["columns"][column.name]]
        if section["columns"].get(column.name) is not None
        else [column.name, column.short]
        for column in REGISTER_COLUMNS
    }
    wanted |= {name: [section[name]] for name in ("position", "x", "y") if section.get(name)}
    found = {}
    for name, choices in wanted.items():
        for tried in choices:
            # a name that the table of cores has taken is there as register_<name>
            (plain,) = own_names([tried.strip().casefold()])
            if plain in own:
                found[name] = Header(tried.strip(), own[plain])
                break
    return found


def register_sections(run: Run) -> list[dict[str, Any]]:
    """Return the settings of each register of a run."""
    return _sections(run.record)


def reinstatement_text(run: Run) -> pd.Series:
    """Return N texts: the reinstatement date, or whatever else stands in its place; missing where there is nothing."""
    if "cores" not in run.record["account"]:
        return register_text(run, "reinstated_at")
    unreadable = run.cores["findings"].str.contains(_UNREADABLE).fillna(value=False).astype(bool)
    return run.cores["reinstated_at"].mask(run.cores["reinstated_at"].isna() & unreadable, "unreadable")


def _sections(record: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the settings of each register."""
    cores = record["settings"]["cores"]
    return cores if isinstance(cores, list) else [cores]


def _record(path: Path) -> dict[str, Any]:
    """Return the run's record, checked."""
    file = path / "run.json"
    try:
        record = parse_json(file.read_text("utf-8"))
        if wrong := wrong_shape(record):
            raise damaged(file, wrong)
        dt.date.fromisoformat(record["as_of"])
        sums = [entry["sha256"] for entry in record["inputs"] if entry["section"] == "cores"]
        is_sound = (
            bool(sums) and all(re.fullmatch("[0-9a-f]{64}", one) for one in sums) and "rows_read" in record["account"]
        )
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        raise damaged(file, f"{plain_reason(error)}") from error
    if not is_sound:
        raise damaged(file, "it lacks the checksum of a register or the count of its rows")
    return dict(record)


def _cores(file: Path, rows: int) -> pd.DataFrame:
    """Return the table of cores, its columns of the contract's kinds."""
    try:
        table = read_cores_table(file)
    except UNREADABLE as error:
        raise damaged(file, str(error)) from error
    lost = [name for name in _NEEDED if name not in table]
    if lost:
        raise damaged(file, f"no column {lost[0]!r}")
    is_older = _COPIES not in table
    if is_older:
        # a register's own column was published under a name that is taken by now
        of_register = [name for name in table if str(name).casefold() in _LATER]
        table = table.rename(columns=dict(zip(of_register, own_names(of_register), strict=True)))
    own = [name for name in table if name not in CORE_COLUMNS]
    complete: pd.DataFrame = table.reindex(columns=[*CORE_COLUMNS, *own])
    kinds = {column.published: _DTYPES[column.kind] for column in CORE_TABLE} | {"row": "int64"}
    try:
        complete = complete.astype({**dict.fromkeys(own, "str"), **kinds})
    except (ValueError, TypeError) as error:
        raise damaged(file, str(error)) from error
    if len(complete) != rows:
        raise damaged(file, f"{len(complete)} rows, while run.json counts {rows}")
    if complete["row"].duplicated().any() or not complete["status"].isin(STATUSES).all():
        raise damaged(file, "a row number occurs twice, or a status is not flagged, pending or reinstated")
    complete = complete.reset_index(drop=True)
    return complete.assign(copy_of=_copies(complete, list(map(str, own)))) if is_older else complete


def _copies(cores: pd.DataFrame, own: list[str]) -> pd.Series:
    """Return for each of N rows of an older run the row that it repeats: equal in the register's own columns."""
    repeated = cores["findings"].str.contains(_REPEATED).fillna(value=False).astype(bool)
    cells = cores[repeated].sort_values("row")
    first = cells.groupby([*own, "lon", "lat"], dropna=False, sort=False)["row"].transform("first")
    return first.where(first.ne(cells["row"])).reindex(cores.index).astype("Int64")
