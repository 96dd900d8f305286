"""A sheet that a crew filled in, checked against the run it belongs to, as a register of returns."""

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from pipeline.contracts import RETURN_FIELDS
from pipeline.errors import InputError, OutputError, SettingsError
from pipeline.intake.core_ids import pairs_by_id
from pipeline.intake.returns import PROBLEM_COLUMNS, Returned, read_returns
from pipeline.programme.names import folded
from pipeline.programme.returns import Returns
from pipeline.publish.folder import lay_files
from pipeline.publish.return_sheet import return_register
from pipeline.publish.tables import write_csv
from pipeline.readback.findings import damaged
from pipeline.readback.runs import Run, read_run

__all__ = ["TakenBack", "take_back"]


@dataclass(frozen=True)
class TakenBack:
    """A sheet as it was taken back.

    ``cores``: cores of the run with something filled in. ``blank``: rows with nothing filled in.
    ``problems``: what cannot be used, and was left out. ``warnings``: what is used but looks wrong; both have
    ``place``, ``core_id``, ``column``, ``text`` and ``why``. ``path``: the register of returns.
    """

    run: Run
    cores: int
    blank: int
    problems: pd.DataFrame
    warnings: pd.DataFrame
    path: Path


def take_back(
    run: Path, sheet: Path, out: Path | None = None, *, day_first: bool | None = None, layer: str | None = None
) -> TakenBack:
    """Check a sheet that was filled in, and write what can be used as a register of returns.

    Parameters
    ----------
    run
        The folder of the run whose plan was worked to.
    sheet
        Its ``return-sheet.csv`` filled in, or a workbook of it.
    out
        The register of returns, ``.csv``; None: ``returns-<name of the sheet>.csv`` beside the run's folder.
    day_first
        Whether 03/04/2026 is 3 April; None: as the run's programme says.
    layer
        Sheet of a workbook.

    Raises
    ------
    SettingsError
        ``out`` is in a run's folder or has another ending.
    InputError
        The folder is not a finished run, or the sheet cannot be read.
    OutputError
        The register cannot be written, or is there already and differs.
    """
    read = read_run(run)
    path = out or read.folder.resolve().parent / f"returns-{sheet.stem}.csv"
    _refuse_path(path)
    zone = read.record["settings"].get("programme", {}).get("timezone")
    if zone is None:
        raise damaged(run / "run.json", "settings.programme.timezone: missing, and required")
    section = Returns(path=[sheet.name], layer=layer)
    order = read.day_first if day_first is None else day_first
    returned = read_returns(section, sheet.absolute().parent, zone, day_first=order)
    if not returned.files[0].rows:
        raise InputError(
            f"{sheet.name}: found no row below the header, expected one row per stop. Fill in the return-sheet.csv "
            "that the run wrote."
        )
    matched, lost = _in_run(returned.frame, read)
    problems = pd.concat([returned.problems, lost, _impossible(matched)], ignore_index=True)
    good = _without_impossible(matched)
    # where no cell of a row can be used nothing came back
    good = good[good[[field.column for field in RETURN_FIELDS]].notna().any(axis="columns")]
    with lay_files(path.parent) as draft:
        write_csv(return_register(Returned(good, returned.problems)), draft / path.name)
        if path.exists() and path.read_bytes() != (draft / path.name).read_bytes():
            raise OutputError(
                f"{path}: already exists and is different: another sheet was taken back there. Nothing was replaced. "
                "Choose another file with --out."
            )
    rows, filled = returned.files[0].rows, returned.files[0].filled
    return TakenBack(read, int((~_is_repeated(good)).sum()), rows - filled, problems, _doubtful(matched), path)


def _refuse_path(path: Path) -> None:
    if path.suffix.lower() != ".csv":
        raise SettingsError(f"{path}: expected a file that ends in .csv. Correct --out.")
    if any((folder / "run.json").is_file() for folder in path.resolve().parents):
        raise SettingsError(
            f"{path}: is in a run's folder, which must stay unchanged. Choose another folder with --out."
        )


def _in_run(frame: pd.DataFrame, run: Run) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the rows of cores of the run, with its register, opening and shade; and problems of the others."""
    known = run.counted_cores
    named = frame.reset_index(drop=True)
    pairs = pairs_by_id(named, known)
    several = pairs["named"].duplicated(keep=False)
    single = pairs[~several]
    of_run = known.iloc[single["at"]].set_axis(single["named"])
    matched = named.loc[single["named"]].assign(
        register=of_run["register"],
        shade_needed=of_run["shade"],
        opened_on=pd.to_datetime(of_run["opened_on"].str.slice(0, 10)),
    )
    why = pd.Series("no such core in the run", named.index, dtype="str")
    why = why.mask(named.index.isin(pairs.loc[several, "named"]), "several cores carry this id: fill in register")
    lost = named[~named.index.isin(matched.index)]
    problems = lost.assign(column="core_id", text=lost["core_id"], why=why[lost.index])
    return matched, problems[list(PROBLEM_COLUMNS)]


def _faults(matched: pd.DataFrame) -> list[tuple[str, str, pd.Series]]:
    """Return which instants cannot be: column, why, and the rows."""
    done, traffic = (matched[name].dt.tz_localize(None) for name in ("reinstated_at", "reopened_at"))
    return [
        ("reinstated_at", "before the core was opened", done.dt.normalize().lt(matched["opened_on"])),
        ("reopened_at", "before the core was reinstated", traffic.lt(done)),
    ]


def _impossible(matched: pd.DataFrame) -> pd.DataFrame:
    rows = [
        matched[at].assign(column=column, text=matched.loc[at, column].dt.strftime("%Y-%m-%d %H:%M"), why=why)
        for column, why, at in _faults(matched)
    ]
    return pd.concat(rows)[list(PROBLEM_COLUMNS)]


def _without_impossible(matched: pd.DataFrame) -> pd.DataFrame:
    return matched.assign(**{column: matched[column].mask(at) for column, _, at in _faults(matched)})


def _doubtful(matched: pd.DataFrame) -> pd.DataFrame:
    """Return what is used but looks wrong: another shade than the core needs, grout without a time, a core twice."""
    used = matched["shade_used"].map(folded, na_action="ignore")
    needed = matched["shade_needed"].map(folded, na_action="ignore")
    other = used.notna() & needed.notna() & used.ne(needed)
    undated = matched["bags_used"].gt(0) & matched["reinstated_at"].isna()
    wrong, bare, twice = matched[other], matched[undated], matched[_is_repeated(matched)]
    # an empty frame would take on the rows of a longer column
    parts = [
        wrong.assign(
            column="shade_used", text=wrong["shade_used"], why='the core needs "' + wrong["shade_needed"] + '"'
        ),
        bare.assign(
            column="bags_used", text=bare["bags_used"].map("{:g}".format),
            why="bags without reinstated_at: the core stays open",
        ),
        twice.assign(
            column="core_id", text=twice["core_id"], why="this core is in several rows: of each field, the last counts"
        ),
    ]  # fmt: skip
    return pd.concat(parts)[list(PROBLEM_COLUMNS)].sort_values("place", kind="stable").reset_index(drop=True)


def _is_repeated(matched: pd.DataFrame) -> pd.Series:
    """Return which rows are of a core that an earlier row is of too."""
    core = matched.assign(core_id=matched["core_id"].map(folded))
    return core.duplicated(["register", "core_id"])
