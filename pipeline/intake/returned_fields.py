"""Fields that crews returned, put where the registers are empty; what a register holds is never replaced."""

from collections.abc import Mapping
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contracts import names_of, start_of_day
from pipeline.contracts.returns import RETURN_FIELDS, RETURN_REPORT
from pipeline.intake.core_ids import pairs_by_id
from pipeline.intake.returns import Returned
from pipeline.programme.names import folded
from pipeline.wording import counted

__all__ = ["Filled", "fill_returned"]

_FILLED: Final = "filled"
_SAME: Final = "the same"
_NO_CORE: Final = "not used: no such core in the registers"
_SEVERAL: Final = "not used: several cores carry this id"
_LATER: Final = "not used: returned again further down"
_EARLY: Final = "not used: before the core was opened"
_DIFFERS: Final = "not used: the register holds another value"
# names in a notice; the others are in the table
_NAMED: Final = 10


class Filled(NamedTuple):
    """The registers with the fields that came back.

    ``cores``: the N rows, fields filled. ``kept``: by contract column, the registers that keep it or got a field of it.
    ``report``: one row per field returned, RETURN_REPORT. ``notices``: what became of the fields, in sentences.
    """

    cores: pd.DataFrame
    kept: dict[str, frozenset[str]]
    report: pd.DataFrame
    notices: list[str]


def fill_returned(cores: pd.DataFrame, kept: Mapping[str, frozenset[str]], returned: Returned) -> Filled:
    """Return the cores with each returned field where the register is empty.

    A core is found by its id, whatever its case and spaces, in the register that the return names; without one, in the
    only register that has it. Of several returns of one field the last one counts. A cell that could not be read is not
    empty: what it holds has to be corrected in the register.

    Parameters
    ----------
    cores
        N rows of the registers, typed, with ``same_row``.
    kept
        By contract column, the registers that keep it.
    returned
        What came back.
    """
    if returned.frame.empty and returned.problems.empty:
        return Filled(cores, dict(kept), pd.DataFrame(columns=list(names_of(RETURN_REPORT))), [])
    pairs, unmatched = _matched(cores, returned.frame)
    cores, now_kept = cores.copy(), dict(kept)
    reports = [_lost(returned.frame, unmatched)]
    for column, is_due in _columns(returned.frame):
        field = returned.frame[column]
        mine = pairs[field.notna().to_numpy()[pairs["return_no"]] & is_due.to_numpy()[pairs["return_no"]]]
        if mine.empty:
            continue
        value = field.iloc[mine["return_no"]].set_axis(mine.index)
        own = cores[column].iloc[mine["at"]].set_axis(mine.index)
        held = _held(cores, column).iloc[mine["at"]].set_axis(mine.index)
        outcome = (
            pd.Series(_DIFFERS, mine.index, dtype="str").mask(held.isna(), _FILLED).mask(_alike(own, value), _SAME)
        )
        if field.dtype.kind == "M":
            opened = cores["opened_on"].iloc[mine["at"]].set_axis(mine.index)
            outcome = outcome.mask(value.lt(start_of_day(opened)) & outcome.eq(_FILLED), _EARLY)
        outcome = outcome.mask(mine["at"].duplicated(keep="last") & outcome.eq(_FILLED), _LATER)
        use = outcome.eq(_FILLED)
        _put(cores, column, mine.loc[use, "at"].to_numpy(), value[use])
        registers = set(cores["register"].iloc[mine.loc[use, "at"]])
        now_kept[column] = now_kept.get(column, frozenset()) | registers
        reports.append(_report(returned.frame, mine, column, value, held, outcome, cores))
    report = pd.concat([*reports, _unread(returned.problems)], ignore_index=True)
    report = report.reindex(columns=list(names_of(RETURN_REPORT))).drop_duplicates(ignore_index=True)
    return Filled(cores, now_kept, report, _notices(report))


def _columns(frame: pd.DataFrame) -> list[tuple[str, pd.Series]]:
    """Return the columns that are filled, and for which returns: the crew only where it reinstated the core."""
    always = pd.Series(data=True, index=frame.index)
    return [*((field.column, always) for field in RETURN_FIELDS), ("crew", frame["reinstated_at"].notna())]


def _matched(cores: pd.DataFrame, frame: pd.DataFrame) -> tuple[pd.DataFrame, pd.Series]:
    """Return pairs of ``return_no`` and ``at`` (positions), and for each return why it has none; empty where it has.

    Rows of a register that are equal in every cell are one core, and each of them gets the field.
    """
    pairs = pairs_by_id(frame, cores).rename(columns={"named": "return_no"})
    pairs["same"] = cores["same_row"].to_numpy()[pairs["at"]]
    different = pairs.groupby("return_no")["same"].nunique().reindex(range(len(frame)), fill_value=0)
    why = pd.Series(np.select([different.eq(0), different.gt(1)], [_NO_CORE, _SEVERAL], ""), dtype="str")
    good = why.eq("").to_numpy()[pairs["return_no"]]
    return pairs.loc[good, ["return_no", "at"]].reset_index(drop=True), why


def _held(cores: pd.DataFrame, column: str) -> pd.Series:
    """Return what the register holds as text: the cell, also one that could not be read; missing where it is empty."""
    if f"{column}_text" not in cores:
        return cores[column]
    readable = cores[column].notna() | cores[f"{column}_problem"].notna()
    return cores[f"{column}_text"].where(readable)


def _alike(own: pd.Series, value: pd.Series) -> pd.Series:
    if own.dtype.kind == "f":
        return pd.Series(np.isclose(own, value), own.index)
    if own.dtype.kind == "M":
        # a register may keep the day alone
        own_day, day = start_of_day(own), start_of_day(value)
        is_day = own.eq(own_day) | value.eq(day)
        alike: pd.Series = own.eq(value) | (is_day & own_day.eq(day))
        return alike
    return own.map(folded, na_action="ignore").eq(value.map(folded, na_action="ignore"))


def _put(cores: pd.DataFrame, column: str, at: np.ndarray, value: pd.Series) -> None:
    filled = value.set_axis(cores.index[at]).astype(cores[column].dtype)
    cores[column] = cores[column].fillna(filled)
    if f"{column}_text" in cores:
        texts = cores[f"{column}_text"].astype("str")
        texts.loc[cores.index[at]] = _written(value).to_numpy()
        cores[f"{column}_text"] = texts


def _written(value: pd.Series) -> pd.Series:
    """Return values as they are written in the tables of a run."""
    if value.dtype.kind == "M":
        days, minutes = value.dt.strftime("%Y-%m-%d"), value.dt.strftime("%Y-%m-%d %H:%M")
        written: pd.Series = days.where(value.eq(start_of_day(value)), minutes).astype("str")
        return written
    if value.dtype.kind == "f":
        return value.round(6).map("{:g}".format).astype("str")
    return value.astype("str")


def _report(
    frame: pd.DataFrame, pairs: pd.DataFrame, column: str, value: pd.Series, held: pd.Series, outcome: pd.Series,
    cores: pd.DataFrame,
) -> pd.DataFrame:  # fmt: skip
    of = frame.iloc[pairs["return_no"]]
    return pd.DataFrame(
        {
            "file": of["file"].to_numpy(), "line": of["place"].astype("str").to_numpy(),
            "core_id": of["core_id"].to_numpy(), "register": cores["register"].iloc[pairs["at"]].to_numpy(),
            "column": column, "returned": _written(value).to_numpy(), "held": held.astype("str").to_numpy(),
            "outcome": outcome.to_numpy(),
        }
    )  # fmt: skip


def _lost(frame: pd.DataFrame, why: pd.Series) -> pd.DataFrame:
    """Return a row of the report for each return that belongs to no core, or to several."""
    lost = frame[why.ne("").to_numpy()]
    texts = {"file": lost["file"], "line": lost["place"].astype("str"), "core_id": lost["core_id"]}
    return pd.DataFrame(texts | {"register": lost["register"], "outcome": why[why.ne("")].to_numpy()})


def _unread(problems: pd.DataFrame) -> pd.DataFrame:
    named = problems.rename(columns={"place": "line", "text": "returned"})
    return named.assign(line=named["line"].astype("str"), outcome="not used: " + named["why"].astype("str"))


def _notices(report: pd.DataFrame) -> list[str]:
    """Return what became of the fields: how many were filled, and why others were not used, with their cores."""
    filled = report[report["outcome"].eq(_FILLED)]
    notices = []
    if len(filled):
        cores = filled[["register", "core_id"]].drop_duplicates()
        notices.append(f"Returns: {counted(len(filled), 'empty field')} of {counted(len(cores), 'core')} filled.")
    for outcome, rows in report[report["outcome"].str.startswith("not used")].groupby("outcome", sort=True):
        ids = [*dict.fromkeys(rows["core_id"].fillna("(no id)"))]
        rest = f" and {len(ids) - _NAMED:,} more" if len(ids) > _NAMED else ""
        notices.append(
            f"Returns: {counted(len(rows), 'field')} {outcome}: {', '.join(ids[:_NAMED])}{rest}. See "
            "returns_report.csv, and correct the register or the return."
        )
    return notices
