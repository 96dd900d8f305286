"""What a finished run's answers follow from: the tables of its folder ``basis/``, read back for some rows."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pandas as pd
import pyarrow as pa
from pyarrow import parquet

from pipeline.errors import InputError
from pipeline.intake.files.checksums import fingerprint
from pipeline.readback.findings import damaged
from pipeline.readback.runs import Run

__all__ = [
    "BASIS", "BASIS_FORMAT", "BASIS_TABLES", "Basis", "CoreBasis", "read_basis", "read_basis_tables",
]  # fmt: skip

# the folder in a run's folder
BASIS: Final = "basis"
# raised whenever a table, or a formula that the page writes out, changes: an explanation never mixes two versions
BASIS_FORMAT: Final = 3
# the tables, each with the columns that every run writes; those by core have the column row
BASIS_TABLES: Final = {
    "cores": ("row", "core_id", "status", "findings", "accuracy_used_m", "accuracy_from", "sigma_m", "reach_m"),
    "outcomes": ("row",),
    "candidates": (
        "row", "segment_id", "street", "distance_m", "lines", "half_width_m", "position_likelihood", "is_beyond_error",
        "name_match", "name_likelihood", "level_likelihood", "chance",
    ),
    "surfaces": ("row", "surface", "source", "chance"),
    "plan": ("row", "day", "crew", "stop", "period", "visit", "mix", "bags_mixed"),
    "corrections": (
        "row", "column", "original", "corrected", "decided_by", "decided_on", "until", "reason", "standing", "file",
        "line",
    ),
    "limits": ("rule", "threshold", "value", "where", "origin", "source", "road_authority", "road_class", "surface"),
    "rules": ("rule", "needs", "needs_any", "at_least", "shows"),
    "materials": ("name", "value", "unit", "low", "high", "source", "origin"),
    "segments": ("segment_id", "street", "is_underground", "start_m", "geometry"),
    "fitted": ("kerf_mm", "bed_mm", "kerf_variance", "covariance", "bed_variance"),
}  # fmt: skip

# the plan is read whole, for the other cores of a mix
_BY_ROW: Final = ("cores", "outcomes", "candidates", "surfaces", "corrections")


@dataclass(frozen=True)
class CoreBasis:
    """One row of the register: its columns, the outcome of each rule as a code, and its rows of the other tables.

    ``plan`` is None for a row that nothing is ordered for, and ``mix`` has the rows of the plan that share its mix.
    """

    core: dict[str, Any]
    outcomes: dict[str, int]
    candidates: pd.DataFrame
    surfaces: pd.DataFrame
    corrections: pd.DataFrame
    plan: dict[str, Any] | None
    mix: pd.DataFrame


@dataclass(frozen=True)
class Basis:
    """What a run's answers follow from: some rows of the register, and what holds for all of them.

    ``limits``: every setting of a limit, a later one overriding an earlier one where both apply. ``rules``: what each
    rule reads. ``materials``: the values that volumes are worked out from, by name.
    """

    rows: tuple[CoreBasis, ...]
    limits: pd.DataFrame
    rules: pd.DataFrame
    materials: pd.DataFrame


def read_basis(run: Run, rows: Sequence[int]) -> Basis:
    """Return what a run's answers about some rows follow from.

    Parameters
    ----------
    run
        The run.
    rows
        Row numbers, as in its table of cores.

    Raises
    ------
    InputError
        The run kept no basis, kept one that this version does not read, or a file of it is missing or altered.
    """
    folder = _checked(run)
    wanted = [("row", "in", [int(row) for row in rows])]
    by_row = {name: _read(folder, name, wanted) for name in _BY_ROW}
    plan = _read(folder, "plan")
    lost = sorted(set(rows) - set(by_row["cores"]["row"]))
    if lost:
        raise damaged(folder / "cores.parquet", f"no row {lost[0]}")
    return Basis(
        tuple(_one_row(int(row), by_row, plan) for row in rows),
        *(_read(folder, name) for name in ("limits", "rules", "materials")),
    )


def read_basis_tables(run: Run, *names: str) -> list[pd.DataFrame]:
    """Return some tables of a run's basis with all their rows.

    Raises
    ------
    InputError
        As for ``read_basis``.
    """
    folder = _checked(run)
    return [_read(folder, name) for name in names]


def _checked(run: Run) -> Path:
    """Return the folder of a run's basis; raise an InputError unless it is of this format and unaltered."""
    kept = run.record.get("basis")
    if kept is None and BASIS in run.record.get("not_asked_for", ()):
        raise InputError(
            f"{run.folder}: has no {BASIS}/, which its programme file does not ask for. Add {BASIS!r} to outputs in "
            "[publish], and run the audit again."
        )
    if not isinstance(kept, dict) or kept.get("format") != BASIS_FORMAT:
        written_by = run.record.get("versions", {}).get("kerfbook", "another version")
        found = f"format {kept.get('format')!r}" if isinstance(kept, dict) else "none"
        raise InputError(
            f"{run.folder / 'run.json'}: found {found} of the tables in {BASIS}/, expected format {BASIS_FORMAT}; the "
            f"run was written by version {written_by}. Run the audit again with this version."
        )
    folder = run.folder / BASIS
    _refuse_altered(folder, kept.get("sha256"))
    return folder


def _one_row(row: int, tables: dict[str, pd.DataFrame], plan: pd.DataFrame) -> CoreBasis:
    here = {name: table[table["row"].eq(row)] for name, table in tables.items()}
    planned = plan[plan["row"].eq(row)]
    own = planned.to_dict("records")[0] if len(planned) else None
    mix = plan[plan["mix"].eq(own["mix"])] if own is not None else plan.head(0)
    codes = here["outcomes"].drop(columns="row").to_dict("records")[0]
    return CoreBasis(
        {str(name): value for name, value in here["cores"].to_dict("records")[0].items()},
        {str(rule): int(code) for rule, code in codes.items()},
        here["candidates"],
        here["surfaces"],
        here["corrections"],
        None if own is None else {str(name): value for name, value in own.items()},
        mix,
    )


def _refuse_altered(folder: Path, sums: object) -> None:
    """Raise an InputError unless every file has the checksum that the run recorded."""
    recorded = sums if isinstance(sums, dict) else {}
    for name in BASIS_TABLES:
        file = folder / f"{name}.parquet"
        try:
            digest = fingerprint(file)
        except OSError as error:
            raise damaged(file, error.strerror or "cannot be read") from error
        if digest != recorded.get(file.name):
            raise damaged(file, f"its checksum is {digest[:16]}, another one than run.json records")


def _read(folder: Path, name: str, filters: list[tuple[str, str, list[int]]] | None = None) -> pd.DataFrame:
    file = folder / f"{name}.parquet"
    try:
        table: pd.DataFrame = parquet.read_table(file, filters=filters).to_pandas()
    except (OSError, ValueError, pa.ArrowException) as error:
        raise damaged(file, str(error)) from error
    if lost := [column for column in BASIS_TABLES[name] if column not in table]:
        raise damaged(file, f"no column {lost[0]!r}")
    return table
