"""What the map page's cards, filter and table show of the cores, packed into columns."""

from itertools import chain
from typing import Final

import numpy as np
import pandas as pd

from pipeline.clock import Counted, uncounted
from pipeline.contracts import AUDIT_FRAME
from pipeline.errors import ContractError
from pipeline.publish.acceptance import DECIDED, accepted_until
from pipeline.publish.map.cores import floats
from pipeline.publish.map.packing import (
    Ints,
    Packed,
    as_days,
    bundle_in_two,
    distinct_rows,
    pack_ids,
    pack_ints,
    pack_numbers,
    pack_texts,
)
from pipeline.publish.map.squeezing import Squeeze, squeezed
from pipeline.publish.urgent_first import finding_ranks

__all__ = ["DAYS", "REGISTER_SHOWN", "SECOND_CHOICES", "pack_cards"]

# columns that depend on one another: each group is written once per distinct row
GROUPS: Final[dict[str, tuple[str, ...]]] = {
    "segment": (
        "segment_id",
        "street",
        "district",
        "surface",
        "surface_from",
        "shade",
        "bedding",
        "road_class",
        "road_authority",
    ),
    "runner_up": ("runner_up_id", "runner_up_street"),
    "need": (
        "diameter_mm",
        "depth_mm",
        "grout_l",
        "grout_kg",
        "bags",
        "water_l_needed",
        "gravel_kg",
        "core_kg",
    ),
    "surface_next": ("surface_next", "surface_confidence", "surface_next_confidence"),
    "confidence": ("segment_confidence", "runner_up_confidence"),
    # day and crew of the plan: in the map of a run alone
    "plan": ("planned",),
}
# columns that the map shows beside the table's, each with the column of the table that it is handed over with
SECOND_CHOICES: Final = {
    "runner_up_street": "runner_up_id",
    "runner_up_confidence": "runner_up_id",
    "surface_next": "surface_confidence",
    "surface_next_confidence": "surface_confidence",
}
# what answers, legend and districts are counted from, and what their links ask for
FIRST_SCREEN: Final = (
    "segment",
    *GROUPS["segment"],
    "segment_id number",
    "segment_id width",
    "state",
    "urgency",
    "finding_core",
    "finding_severity",
    "finding_rule",
    "finding_urgency",
    "change_core",
    "change",
    "works_id_core",
    "works_id",
)
ALONE: Final = (
    "side",
    "chainage_m",
    "offset_m",
    "state",
    "urgency",
    "permit_no",
    "inspection_result",
    "flush_mm",
    "depression_mm",
)
# days of the register's columns, as the contract understands them
DAYS: Final = ("plated_on", "interim_on", "planned_on", "permit_expires_on", "notice_sent_on", "inspected_on")
_BY_ROW: Final = frozenset({"row", "core_id", "opened_on", "reinstated_at", *ALONE, *DAYS})
# of findings, what the cards show and what shows whether they are accepted
_OF_FINDINGS: Final = frozenset({"severity", "rule", "message", "urgency", *DECIDED})
IDS: Final = ("segment_id", "runner_up_id", "permit_no")
DIGITS: Final = {
    name: AUDIT_FRAME[name].shown_digits
    for name in (*chain(*GROUPS.values()), *ALONE)
    if name in AUDIT_FRAME and AUDIT_FRAME[name].kind == "number"
}
# columns of the register that the page shows as the contract understands them, beside the table's own
REGISTER_SHOWN: Final = ("permit_no", "inspection_result", "flush_mm", "depression_mm", *DAYS)


def pack_cards(
    cores: pd.DataFrame,
    findings: pd.DataFrame,
    order: Ints,
    changes: pd.DataFrame | None = None,
    in_works: pd.DataFrame | None = None,
    squeeze: Squeeze = squeezed,
    tell: Counted = uncounted,
) -> tuple[str, str]:
    """Return what cards, filter and table show of the cores, in the page's order; absent columns are left out.

    In two texts: what the first screen is counted from, so that it need not wait for the rest, and all that a reader
    must ask for.

    Parameters
    ----------
    cores, findings
        As the map has them.
    order
        The rows of ``cores`` by position, in the page's order.
    changes
        ``row`` and ``change``, one row per change since the run before; None without one.
    in_works
        ``row`` and ``works_id``, one row per core and works that it lies in; None without works.
    squeeze
        As for ``bundle``.
    tell
        Is told the groups of columns that are packed; the columns alone, the findings and the rest are one each.

    Raises
    ------
    ContractError
        A finding is about a row that is not in the cores.
    """
    rows = cores[[name for name in cores if name in _BY_ROW]].iloc[order]
    row = rows["row"].to_numpy(dtype=np.int64)
    columns, number = pack_ids("core_id", rows["core_id"])
    # of a register whose ids are numbered like its rows, the row costs nothing
    columns["row"] = pack_ints(row) if number is None else pack_ints(row - number, plus="core_id number")
    by_row = np.argsort(row, kind="stable")
    parts = len(GROUPS) + 3
    for done, group in enumerate(GROUPS):
        tell(done, parts, "groups of columns")
        columns |= _pack_group(group, cores, order)
    tell(parts - 3, parts, "groups of columns")
    for name in ALONE:
        if name in rows:
            columns |= _pack(rows, name)
    columns |= _pack_days(rows, by_row)
    tell(parts - 2, parts, "groups of columns")
    columns |= _pack_findings(rows["row"], findings)
    for listed, name in ((changes, "change"), (in_works, "works_id")):
        if listed is not None:
            columns |= _pack_list(rows["row"], listed, name)
    tell(parts - 1, parts, "groups of columns")
    # without states, a date tells which flagged cores are reinstated
    dated = () if "state" in columns else ("reinstated_at",)
    return bundle_in_two(columns, {*FIRST_SCREEN, *dated}, squeeze)


def _pack_group(group: str, cores: pd.DataFrame, order: Ints) -> dict[str, Packed]:
    """Return the columns of a group that the cores have: the code of each core's combination, and what each one is."""
    names = [name for name in GROUPS[group] if name in cores]
    if not names:
        return {}
    codes, table = distinct_rows(_rounded(cores[names]), order)
    columns = {group: pack_ints(codes)}
    for name in names:
        columns |= _in_group(_pack(table, name), group)
    return columns


def _pack_list(rows: pd.Series, table: pd.DataFrame, name: str) -> dict[str, Packed]:
    """Return what may be several times on a core: its index in the page's order, and the text; by core, then text."""
    core = pd.Index(rows).get_indexer(pd.Index(table["row"]))
    once = table.assign(core=core)[core >= 0].drop_duplicates(["core", name]).sort_values(["core", name], kind="stable")
    return {f"{name}_core": pack_ints(once["core"].to_numpy(dtype=np.int64)), name: pack_texts(once[name])}


def _pack_days(rows: pd.DataFrame, by_row: Ints) -> dict[str, Packed]:
    columns = {}
    # registers are mostly kept by date: in their order a day is a small step from the day before
    opened = as_days(rows["opened_on"]) if "opened_on" in rows else None
    if opened is not None:
        columns["opened_on"] = pack_numbers(pd.Series(opened[by_row]), 0, by_row=True)
    if "reinstated_at" in rows:
        reinstated = as_days(rows["reinstated_at"])
        columns["reinstated_at"] = (
            pack_numbers(pd.Series(reinstated), 0)
            if opened is None
            else pack_numbers(pd.Series(reinstated - np.nan_to_num(opened)), 0, since="opened_on")
        )
    for name in DAYS:
        if name in rows:
            columns[name] = pack_numbers(pd.Series(as_days(rows[name])), 0)
    return columns


def _rounded(frame: pd.DataFrame) -> pd.DataFrame:
    return frame.assign(**{name: np.round(floats(frame[name]), DIGITS[name]) for name in frame if name in DIGITS})


def _pack(frame: pd.DataFrame, name: str) -> dict[str, Packed]:
    if name in IDS:
        return pack_ids(name, frame[name])[0]
    return {name: pack_numbers(frame[name], DIGITS[name]) if name in DIGITS else pack_texts(frame[name])}


def _in_group(columns: dict[str, Packed], group: str) -> dict[str, Packed]:
    for packed in columns.values():
        packed.how["group"] = group
    return columns


def _pack_findings(rows: pd.Series, findings: pd.DataFrame) -> dict[str, Packed]:
    core = pd.Index(rows).get_indexer(pd.Index(findings["row"]))
    if (core < 0).any():
        strange = findings["row"][core < 0].iloc[0]
        raise ContractError(f"map: a finding is about row {strange}, which is not in the cores.")
    ranks = finding_ranks(findings)
    keys = [ranks[name].to_numpy() for name in ("severity", "urgency", "accepted")]
    by_core = np.lexsort((np.arange(len(findings)), *keys, core))
    ordered = findings[[name for name in findings if name in _OF_FINDINGS]].iloc[by_core]
    columns = {
        "finding_core": pack_ints(core[by_core].astype(np.int64)),
        "finding_severity": pack_texts(ordered["severity"]),
        "finding_rule": pack_texts(ordered["rule"]),
        "finding_message": pack_texts(ordered["message"]),
    }
    if "urgency" in ordered:
        columns["finding_urgency"] = pack_texts(ordered["urgency"])
    until = accepted_until(ordered)
    if until.notna().any():
        columns["finding_accepted"] = pack_texts(until)
    return columns
