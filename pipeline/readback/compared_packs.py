"""A handover pack read back as the side of a comparison: the same tables as a run, with fewer columns."""

import datetime as dt
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from pipeline.contracts import FINDING_COLUMNS, HANDED_ALWAYS, PUBLISHED, SEVERITIES, STATUSES, Kind
from pipeline.errors import InputError
from pipeline.programme.resources import languages, shipped
from pipeline.readback.pack_files import IDENTITY, MANIFEST
from pipeline.readback.pack_tables import read_table
from pipeline.readback.packs import open_pack, read_identity, read_sums, sha256_of
from pipeline.readback.runs import Run

__all__ = ["looks_like_pack", "read_pack"]

_TABLES: Final = ("cores.csv", "findings.csv", "rules.csv")
_RULES: Final = ("rule", "severity", "limits")
_NEEDED: Final = {
    "cores.csv": ("row", *HANDED_ALWAYS),
    "findings.csv": ("row", "rule", "severity", "message"),
    "rules.csv": _RULES,
}
# a whole number beyond it is none that a pack has, and some readers of it would round it
_MOST: Final = 2.0**53
_WHAT_TO_DO: Final = "Ask the sender for the pack again."


def looks_like_pack(path: Path) -> bool:
    """Return whether a path is a file, or a folder that holds a pack or has a single folder that does."""
    try:
        if path.is_file():
            return True
        inner = [entry for entry in path.iterdir() if entry.is_dir()] if path.is_dir() else []
    except OSError:
        return False
    return (path / MANIFEST).is_file() or (len(inner) == 1 and (inner[0] / MANIFEST).is_file())


def read_pack(path: Path) -> Run:
    """Return a pack in the form of a run: its record holds what ``handover.json`` and the tables know, and no more.

    Parameters
    ----------
    path
        Its folder, or its zip.

    Raises
    ------
    InputError
        It is no pack, or a file that is compared is missing, damaged or not the one that its checksum belongs to.
    """
    with open_pack(path) as folder:
        try:
            _check_sums(folder)
            identity = read_identity(folder / IDENTITY)
            tables = [read_table(folder / name) for name in _TABLES]
            return _run(path, identity, *tables)
        except InputError as error:
            # the reader knows the zip, not the folder it was unpacked to
            raise InputError(str(error).replace(f"{folder}", str(path))) from error


def _check_sums(folder: Path) -> None:
    """Raise an InputError for a file that is compared and is not the one that was sent."""
    for name in (MANIFEST, IDENTITY, *_TABLES):
        file = folder / name
        # a device or a pipe would never end
        if not file.is_file() or file.is_symlink():
            raise _damaged(file, "missing, a link or no regular file")
    sums = read_sums(folder / MANIFEST)
    for name in (IDENTITY, *_TABLES):
        file = folder / name
        if sums.get(name) != sha256_of(file):
            raise _damaged(file, f"not the file that its checksum in {MANIFEST} belongs to")


def _damaged(file: Path, found: str) -> InputError:
    return InputError(f"{file}: {found}, expected the file as it was sent. {_WHAT_TO_DO}")


def _run(path: Path, identity: dict[str, Any], cores: pd.DataFrame, found: pd.DataFrame, rules: pd.DataFrame) -> Run:
    # packs made before copies were told apart have a row per core
    cores = cores if "copy_of" in cores else cores.assign(copy_of="")
    for name, table in (("cores.csv", cores), ("findings.csv", found), ("rules.csv", rules)):
        lost = [column for column in _NEEDED[name] if column not in table]
        if lost:
            raise _damaged(path / name, f"no column {lost[0]!r}")
    try:
        dt.date.fromisoformat(identity["as_of"])
    except ValueError as error:
        raise _damaged(path / IDENTITY, f"as_of cannot be used ({error})") from error
    if (language := identity.get("language", "en")) not in (known := languages(shipped("config"))):
        raise InputError(
            f"{path / IDENTITY}: language: found {str(language)[:40]!r}, expected one of the languages of this "
            f"installation: {', '.join(known)}. {_WHAT_TO_DO}"
        )
    table = _typed(cores, path / "cores.csv")
    if len(table) != identity.get("rows", identity["cores"]) or len(found) != identity["findings"]:
        raise _damaged(path, f"rows of cores.csv or findings.csv are not as many as {IDENTITY} counts")
    if table["row"].duplicated().any() or not table["status"].isin(STATUSES).all():
        raise _damaged(path / "cores.csv", "a row number occurs twice, or a status is not one of the three")
    # how findings are followed is not handed over, so that a finding is told apart by its rule alone
    followed = [name for name in FINDING_COLUMNS if name != "fingerprint"]
    findings = found.apply(lambda cells: cells.where(cells.ne(""))).reindex(columns=followed).astype("str")
    return Run(path, _record(identity, table, findings, rules), table, findings)


def _typed(cores: pd.DataFrame, file: Path) -> pd.DataFrame:
    """Return the table with the kinds of a run's: text as ``str``, numbers as ``float64``, whole numbers ``Int64``."""
    typed = {}
    for name in map(str, cores):
        column, cells = PUBLISHED.get(name), cores[name].where(cores[name].ne(""))
        kind = "text" if column is None else column.kind
        typed[name] = _numbers(cells, kind, file) if kind in {"number", "integer"} else cells.astype("str")
    if typed["row"].isna().any():
        raise _damaged(file, "a row without a number in the column 'row'")
    return pd.DataFrame(typed).astype({"row": "int64"})


def _numbers(cells: pd.Series, kind: Kind, file: Path) -> pd.Series:
    """Return N cells as the numbers that they hold; a cell that holds none, or one too large, is damage."""
    numbers = pd.Series(pd.to_numeric(cells, errors="coerce"), cells.index).astype("float64")
    is_wrong = numbers.isna() & cells.notna() | numbers.abs().eq(np.inf)
    if kind == "integer":
        is_wrong |= numbers.abs().ge(_MOST) | (numbers.notna() & numbers.mod(1).ne(0))
    if is_wrong.any():
        what = "a number" if kind == "number" else "a whole number"
        raise _damaged(file, f"cannot be used ({cells.name}: found {cells[is_wrong].iloc[0][:40]!r}, not {what})")
    return numbers if kind == "number" else numbers.astype("Int64")


def _record(
    identity: dict[str, Any], cores: pd.DataFrame, findings: pd.DataFrame, rules: pd.DataFrame
) -> dict[str, Any]:
    """Return what is known of the pack's run, under the names of ``run.json``."""
    counted = cores.loc[cores["copy_of"].isna(), "row"].astype("str")
    severities = findings.loc[findings["row"].isin(counted), "severity"].value_counts()
    return {
        "is_pack": True,
        "run": identity["run"],
        "programme": identity["programme"],
        "as_of": identity["as_of"],
        "crs": identity["crs"],
        "inputs": [],
        "settings": {"programme": {"language": str(identity.get("language", "en"))}},
        "account": {"rows_read": len(cores), **{name: identity[name] for name in ("cores", *STATUSES, "unplaced")}},
        "findings_by_severity": {name: int(severities.get(name, 0)) for name in SEVERITIES},
        "rules": rules[[*_RULES]].to_dict("records"),
    }
