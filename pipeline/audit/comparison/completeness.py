"""What registers record of the columns that rules need: a finding about the record, and none about the work."""

from collections.abc import Iterable, Mapping
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.audit.registry import AppliesTo, Rule
from pipeline.contracts import AUDIT_TABLES, MADE_FROM, REGISTER_COLUMNS, commonest_spelling, names_of

__all__ = ["needed_columns", "record_completeness"]

_COLUMNS: Final = list(names_of(AUDIT_TABLES["completeness"]))
_POSITION: Final = "position"
_REGISTER: Final = {column.name: column for column in REGISTER_COLUMNS}
# the cells of a column as they were written
_CELLS: Final = {column.text_name: column.name for column in REGISTER_COLUMNS} | {"x_text": _POSITION, "x_m": _POSITION}
# dates of what need not have happened: an empty cell is an answer
_EVENTS: Final = frozenset({"plated_on", "interim_on", "reinstated_at", "notice_sent_on", "inspected_on"})


def needed_columns(rules: Iterable[Rule]) -> dict[str, AppliesTo]:
    """Return the columns of a register that rules need, each with the cores that they need it of."""
    wanted: dict[str, set[AppliesTo]] = {}
    for rule in rules:
        for need in rule.needs:
            own = _CELLS.get(need, need)
            sources = (own,) if own in _REGISTER or own == _POSITION else MADE_FROM.get(own, ())
            for source in sources:
                if source in _REGISTER or source == _POSITION:
                    wanted.setdefault(source, set()).add(rule.applies_to)
    order = [_POSITION, *_REGISTER]
    return {name: next(iter(wanted[name])) if len(wanted[name]) == 1 else "all" for name in order if name in wanted}


def record_completeness(cores: pd.DataFrame, rules: Iterable[Rule], kept: Mapping[str, frozenset[str]]) -> pd.DataFrame:
    """Return how completely each register and each crew record what rules need.

    Parameters
    ----------
    cores
        N rows with the audit's columns; copies are not counted.
    rules
        The rules.
    kept
        By contract column, the names of the registers that keep it.

    Returns
    -------
    pandas.DataFrame
        One row per group and column: ``by`` ("register" or "crew"), ``group``, ``column``, ``applies_to`` (cores that
        rules need it of), ``cores`` (their number), ``kept`` ("yes", "no" or, of a crew in several registers,
        "partly"), ``filled``, ``unreadable``, ``empty``, and ``share_filled``; missing where the column is not kept, or
        where an empty cell is an answer too.
    """
    once = ~cores["is_copy"].to_numpy()
    among = {
        "all": once,
        "open": once & cores["is_open"].to_numpy(),
        "reinstated": once & cores["reinstated_at"].notna().to_numpy(),
    }
    register, registers = pd.factorize(cores["register"], sort=True)
    groups = {
        "register": (register, registers),
        "crew": pd.factorize(commonest_spelling(cores["crew"][once]).reindex(cores.index), sort=True),
    }
    tables = []
    for name, applies_to in needed_columns(rules).items():
        # every register has positions
        is_kept = np.append(registers.isin(kept.get(name, frozenset())) | (name == _POSITION), name == _POSITION)
        cells = _cells(cores, name, is_kept[register])
        for by, (codes, known) in groups.items():
            counts = _counts(cells, among[applies_to], codes, known)
            told = {"by": by, "column": name, "applies_to": applies_to}
            tables.append(counts | {key: np.full(len(counts["group"]), text, object) for key, text in told.items()})
    if not tables:
        return pd.DataFrame(columns=_COLUMNS)
    table = pd.DataFrame({name: np.concatenate([one[name] for one in tables]) for name in tables[0]})
    is_answer = table["column"].isin(_EVENTS)
    share = (table["filled"] / table["kept_cores"]).where(table["kept_cores"].gt(0) & ~is_answer)
    kept_by = np.select([table["kept_cores"].eq(table["cores"]), table["kept_cores"].eq(0)], ["yes", "no"], "partly")
    order = pd.Categorical(table["column"], [_POSITION, *_REGISTER])
    return (
        table.assign(share_filled=share, kept=pd.Series(kept_by, table.index, dtype="str"), order=order)
        .sort_values(["by", "group", "order"], ascending=[False, True, True], kind="stable")
        .reset_index(drop=True)[_COLUMNS]
        .astype({"group": "str", "column": "str", "applies_to": "str", "by": "str"})
    )


def _cells(cores: pd.DataFrame, name: str, is_kept: npt.NDArray[np.bool_]) -> dict[str, npt.NDArray[np.bool_]]:
    """Return for each of N cores whether its cell is kept, filled, unreadable or empty."""
    if name == _POSITION:
        filled = cores["x_m"].notna().to_numpy()
        unreadable = ~filled & cores["position_problem"].ne("missing").to_numpy()
    else:
        column: Any = _REGISTER[name]
        filled = cores[name].notna().to_numpy()
        unreadable = (
            cores[column.problem_name].notna().to_numpy() if column.kind != "text" else np.zeros(len(cores), dtype=bool)
        )
    states = {"filled": filled & is_kept, "unreadable": unreadable & ~filled & is_kept}
    empty = is_kept & ~states["filled"] & ~states["unreadable"]
    return {"cores": np.ones(len(cores), dtype=bool), "kept_cores": is_kept, **states, "empty": empty}


def _counts(
    cells: Mapping[str, npt.NDArray[np.bool_]],
    among: npt.NDArray[np.bool_],
    codes: npt.NDArray[np.intp],
    names: pd.Index,
) -> dict[str, npt.NDArray[Any]]:
    """Return ``group``, and how many of its cores have each truth, of the groups that have any core among these."""
    here = codes[among & (codes >= 0)]
    counts = {
        name: np.bincount(codes[among & truths & (codes >= 0)], minlength=len(names)) for name, truths in cells.items()
    }
    some = np.bincount(here, minlength=len(names)) > 0
    return {"group": names[some].to_numpy(object), **{name: count[some] for name, count in counts.items()}}
