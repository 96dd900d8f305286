"""The plan that was promised: an earlier ``plan.csv``, whose stops are kept, matched to the cores by their ids."""

from pathlib import Path
from typing import Final, NamedTuple

import pandas as pd

from pipeline.errors import InputError
from pipeline.intake.cells.dates import read_dates
from pipeline.intake.cells.numbers import read_numbers
from pipeline.intake.core_ids import pairs_by_id
from pipeline.intake.files.filled_sheets import own_columns, read_filled_sheet, sheet_texts
from pipeline.intake.files.header_rows import Wanted
from pipeline.intake.files.tables import RawTable
from pipeline.wording import counted

__all__ = ["NOTHING_PROMISED", "Promised", "promised_stops", "read_promised"]

_NEEDED: Final = ("crew", "day", "stop", "core_id")
_TEXTS: Final = (*_NEEDED, "mix", "register")
# names in a notice; the others are counted
_NAMED: Final = 10
# of the stops of a day or the mixes of a crew
_MOST: Final = 1_000_000


class Promised(NamedTuple):
    """A promised plan as it was read.

    ``frame``: one row per stop in the order of the file, with ``place`` (row of the sheet or line of the text),
    ``crew``, ``core_id``, ``register`` (texts, missing where empty), ``day``, ``stop`` and ``mix`` (missing without).
    ``path``, ``sha256``, ``rows``: of the file; empty where nothing was promised.
    """

    frame: pd.DataFrame
    path: str = ""
    sha256: str = ""
    rows: int = 0


NOTHING_PROMISED: Final = Promised(pd.DataFrame(columns=["place", *_TEXTS]))


def read_promised(path: str | None, folder: Path, *, day_first: bool | None) -> Promised:
    """Return the plan that was promised.

    Parameters
    ----------
    path, folder
        A ``plan.csv``, or a workbook of it, relative to the folder; None: nothing was promised.
    day_first
        Whether 03/04/2026 is 3 April, where a program has rewritten the dates.

    Raises
    ------
    InputError
        The file cannot be read, lacks a column, or has a cell that cannot be read.
    """
    if path is None:
        return NOTHING_PROMISED
    wanted = Wanted(
        needed=tuple((name, name.replace("_", " ")) for name in _NEEDED),
        known=("mix", "register", "arrival", "street", "shade", "bags"), section="plan", one="promised stop",
    )  # fmt: skip
    raw, sha256 = read_filled_sheet(path, folder, wanted, key="keep")
    if raw is None:
        return Promised(NOTHING_PROMISED.frame, path, sha256)
    own = own_columns(raw)
    for name in _NEEDED:
        if name not in own:
            raise InputError(
                f"{path}: no column `{name}`; the file has: {raw.listed_columns} Set plan.keep to a plan.csv that a "
                "run wrote, with its header."
            )
    frame = sheet_texts(raw, _TEXTS)
    frame["place"] = raw.rows if raw.places is None else raw.places
    frame = frame[frame[list(_NEEDED)].notna().any(axis="columns")]
    return Promised(_typed(frame, raw, path, day_first=day_first), path, sha256, len(frame))


def promised_stops(promised: Promised, cores: pd.DataFrame) -> tuple[pd.DataFrame, list[str]]:
    """Return the promised stops on the index of the cores, and notices on those that match no core or several.

    Parameters
    ----------
    promised
        The plan that was promised.
    cores
        N rows with ``core_id``, ``register``, ``is_copy``; only those that are counted can be promised.

    Returns
    -------
    tuple
        ``crew``, ``day``, ``stop`` and ``mix`` on the index of the matched cores, in the order of the file; sentences.
    """
    stops = promised.frame
    known = cores.loc[~cores["is_copy"], ["core_id", "register"]]
    pairs = pairs_by_id(stops, known).rename(columns={"named": "stop_no"})
    several = pairs["stop_no"].duplicated(keep=False)
    again = pairs[~several].duplicated("at")
    single = pairs[~several][~again]
    notices = []
    for numbers, one, many in (
        (
            set(range(len(stops))) - set(pairs["stop_no"]),
            "names no core of the registers",
            "name no core of the registers",
        ),
        (
            set(pairs.loc[several, "stop_no"]),
            "names an id that several cores carry",
            "name ids that several cores carry",
        ),
        (
            set(pairs[~several].loc[again, "stop_no"]),
            "repeats a core that is promised already",
            "repeat cores that are promised already",
        ),
    ):
        if numbers:
            notices.append(_notice(stops.iloc[sorted(numbers)], promised.path, one if len(numbers) == 1 else many))
    kept = stops.iloc[single["stop_no"]][["crew", "day", "stop", "mix"]].set_index(known.index[single["at"]])
    return kept, notices


def _notice(stops: pd.DataFrame, path: str, what: str) -> str:
    names = stops["core_id"].fillna("(no id)").tolist()
    rest = f" and {len(names) - _NAMED:,} more" if len(names) > _NAMED else ""
    are = "is" if len(names) == 1 else "are"
    return (
        f"{path}: {counted(len(names), 'promised stop')} {what}, and {are} not kept: "
        f"{', '.join(map(str, names[:_NAMED]))}{rest}."
    )


def _typed(stops: pd.DataFrame, raw: RawTable, path: str, *, day_first: bool | None) -> pd.DataFrame:
    """Return the stops with day, stop and mix as such; the first cell that cannot be read is refused."""
    stored, own = raw.stored_as_number, own_columns(raw)["day"]
    serial = pd.Series(data=True, index=stops.index) if stored is None else stored.loc[stops.index, own]
    dates = read_dates(stops["day"], "UTC", day_first=day_first, serial=serial, is_1904=raw.is_1904)
    day = dates.instants.dt.tz_localize(None).dt.normalize()
    stop, mix = read_numbers(stops["stop"], "."), read_numbers(stops["mix"], ".")
    # more would be no whole number to a computer
    counts = {name: number.between(1, _MOST) & number.mod(1).eq(0) for name, number in (("stop", stop), ("mix", mix))}
    wrong = {
        "crew": (stops["crew"].isna(), "a crew"),
        "day": (day.isna() | dates.problem.notna(), "a date such as 2026-09-30"),
        "stop": (~counts["stop"], "a whole number from 1"),
        "mix": (stops["mix"].notna() & ~counts["mix"], "a whole number from 1, or an empty cell"),
    }
    for name, (bad, expected) in wrong.items():
        if bad.any():
            first = stops[bad].iloc[0]
            found = "an empty cell" if pd.isna(first[name]) else f'"{first[name]}"'
            raise InputError(
                f"{path}: row {first['place']}: found {found} for `{name}`, expected {expected}. Correct the "
                "cell, or set plan.keep to the plan.csv as the run wrote it."
            )
    return stops.assign(day=day.astype("datetime64[us]"), stop=stop.astype("Int64"), mix=mix.astype("Int64"))
