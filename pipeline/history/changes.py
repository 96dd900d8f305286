"""What changed between two runs: every row of both accounted for, and one line per change."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import pandas as pd
from pyproj import Geod

from pipeline.contracts import is_missing
from pipeline.history.counts import count_by_district, count_by_rule, count_stock
from pipeline.history.findings import changed_findings
from pipeline.history.matching import Matched, Positions, match_rows

__all__ = ["CHANGE_COLUMNS", "KINDS", "MOVED_M", "Changes", "Side", "compare"]

# up to this distance, a position was measured again, and the core did not move
MOVED_M: Final = 1.0
CHANGE_COLUMNS: Final = ("row_before", "row_after", "core_id", "change", "before", "after", "district", "street")
# in the order of what a manager asks first
KINDS: Final = (
    "opened",
    "closed",
    "reopened",
    "newly flagged",
    "cleared",
    "removed",
    "not comparable",
    "new finding",
    "cleared finding",
    "segment changed",
    "street changed",
    "surface changed",
    "district changed",
    "shade changed",
    "moved",
    "position found",
    "position lost",
    "size changed",
)
_TEXTS: Final = {
    "segment changed": "segment_id",
    "street changed": "street",
    "surface changed": "surface",
    "district changed": "district",
    "shade changed": "shade",
}
_SIZES: Final = ("diameter_mm", "depth_mm")
_COMPARED: Final = ("row", "core_id", "status", "findings", "bags", "lon", "lat", *_TEXTS.values(), *_SIZES)
_GEOD: Final = Geod(ellps="WGS84")


class Side(NamedTuple):
    """One of the two runs.

    ``cores``: N rows with the columns of ``cores.parquet``; a row with ``copy_of`` is not compared. ``findings``: with
    ``row``, ``rule``, ``severity`` and, if the run has them, ``fingerprint``. ``reinstatement``: the N cells of the
    register for the reinstatement date, as text.
    """

    cores: pd.DataFrame
    findings: pd.DataFrame
    reinstatement: pd.Series


@dataclass(frozen=True)
class Changes:
    """What a comparison found.

    ``lines``: one row per change, CHANGE_COLUMNS, by kind, then row. ``account``: the number of rows of each run, and
    of those that are copies, matched, added, removed and not comparable. ``kinds``: ``change`` and ``cores``, for every
    kind. ``rules``: ``rule``, ``found``, ``gone``: the number of matched cores with a new and with a cleared finding.
    ``districts``: one row per district, one column per kind with its number of cores, then ``bags_before``,
    ``bags_after``, ``bags_difference``: the grout that open cores need. ``stock``: for all, the flagged and the open
    cores, their number ``before``, ``added`` rows, cores ``newly`` so and ``no_longer`` so, ``removed`` rows, rows
    ``not_comparable`` (after less before), and their number ``after``. ``flagged_by``: ``row`` (of the later run) and
    ``rule``, the rules that each newly flagged core fails.
    """

    lines: pd.DataFrame
    account: dict[str, int]
    kinds: pd.DataFrame
    rules: pd.DataFrame
    districts: pd.DataFrame
    stock: pd.DataFrame
    flagged_by: pd.DataFrame


def compare(before: Side, after: Side) -> Changes:
    """Return what changed from one run to another.

    Parameters
    ----------
    before, after
        The two runs; neither is changed.

    Returns
    -------
    Changes
        Swapped arguments give the mirror image: opened cores become removed ones, newly flagged ones cleared.
    """
    rows = len(before.cores), len(after.cores)
    before, after = _once(before), _once(after)
    matched = match_rows(before.cores, after.cores)
    was, now = _compared(before), _compared(after)
    lines = _lines(matched, was, now, (before.findings, after.findings))
    # two new findings on a core are one core with new findings
    once = lines.drop_duplicates(["row_before", "row_after", "change"])
    count = once["change"].value_counts()
    kinds = pd.DataFrame(
        {
            "change": list(KINDS),
            "cores": [int(count.get(kind, 0)) for kind in KINDS],
        }
    )
    account = {
        "rows_before": rows[0],
        "rows_after": rows[1],
        "copies_before": rows[0] - len(was),
        "copies_after": rows[1] - len(now),
        "matched": len(matched.before),
        "added": len(matched.added),
        "removed": len(matched.removed),
        "not_comparable_before": len(matched.aside_before),
        "not_comparable_after": len(matched.aside_after),
    }
    by_district = count_by_district(once, list(KINDS), was, now)
    stock, fails = count_stock(matched, was, now), _failures(after)
    newly = lines.loc[lines["change"].eq("newly flagged"), "row_after"].astype("float64")
    flagged_by = fails[fails["row"].isin(newly)]
    return Changes(lines, account, kinds, count_by_rule(lines), by_district, stock, flagged_by)


def _once(side: Side) -> Side:
    """Return a run with each core once: without the rows in whose place another is counted."""
    counted = side.cores["copy_of"].isna()
    cores = side.cores[counted]
    found = pd.to_numeric(side.findings["row"], errors="coerce").isin(cores["row"])
    return Side(cores, side.findings[found], side.reinstatement[counted.to_numpy()])


def _failures(side: Side) -> pd.DataFrame:
    """Return ``row`` and ``rule`` of every finding of severity fail, each once."""
    fails = side.findings.loc[side.findings["severity"].eq("fail"), ["row", "rule"]]
    return fails.assign(row=pd.to_numeric(fails["row"], errors="coerce").astype("float64")).drop_duplicates()


def _compared(side: Side) -> pd.DataFrame:
    """Return the columns of the cores that are compared, on a plain index."""
    cores = side.cores[list(_COMPARED)].reset_index(drop=True)
    text = side.reinstatement.reset_index(drop=True)
    slugs = _failures(side).groupby("row")["rule"].agg(lambda rules: ", ".join(sorted(rules)))
    flagged = cores["status"].eq("flagged")
    why = cores["row"].map(slugs).astype("str").fillna("")
    return cores.assign(
        is_flagged=flagged,
        # a flagged core may be open or reinstated; only the register shows which
        is_reinstated=cores["status"].eq("reinstated") | (flagged & ~is_missing(text)),
        label=cores["status"].mask(flagged & why.ne(""), "flagged: " + why),
    )


def _lines(
    matched: Matched, was: pd.DataFrame, now: pd.DataFrame, findings: tuple[pd.DataFrame, pd.DataFrame]
) -> pd.DataFrame:
    old = was.iloc[matched.before].reset_index(drop=True)
    new = now.iloc[matched.after].reset_index(drop=True)
    names = {False: "open", True: "reinstated"}
    states = old["is_reinstated"].map(names), new["is_reinstated"].map(names)
    labels = old["label"], new["label"]
    pairs = [
        ("closed", *states, ~old["is_reinstated"] & new["is_reinstated"]),
        ("reopened", *states, old["is_reinstated"] & ~new["is_reinstated"]),
        ("newly flagged", *labels, ~old["is_flagged"] & new["is_flagged"]),
        ("cleared", *labels, old["is_flagged"] & ~new["is_flagged"]),
        *((kind, old[name], new[name], old[name].fillna("").ne(new[name].fillna(""))) for kind, name in _TEXTS.items()),
    ]
    found = [
        *(
            _Found(kind, matched.before[hit], matched.after[hit], before[hit], after[hit])
            for kind, before, after, hit in pairs
        ),
        *_positions(matched, old, new),
        _sizes(matched, old, new),
        *_rules(matched, old, new, findings),
        _alone("opened", matched.added, now, is_after=True),
        _alone("removed", matched.removed, was, is_after=False),
        _alone("not comparable", matched.aside_before, was, is_after=False),
        _alone("not comparable", matched.aside_after, now, is_after=True),
    ]
    return _table([change for change in found if len(change.before)], was, now)


class _Found(NamedTuple):
    """Cores with one kind of change: their positions in both tables (-1: none), and values before and after."""

    kind: str
    at_before: Positions
    at_after: Positions
    before: pd.Series
    after: pd.Series


def _alone(kind: str, positions: Positions, cores: pd.DataFrame, *, is_after: bool) -> _Found:
    label, none = cores["label"].iloc[positions], np.full_like(positions, -1)
    nothing = pd.Series("", label.index, dtype="str")
    if is_after:
        return _Found(kind, none, positions, nothing, label)
    return _Found(kind, positions, none, label, nothing)


def _table(found: list[_Found], was: pd.DataFrame, now: pd.DataFrame) -> pd.DataFrame:
    """Return all changes as one table, by kind, then row."""
    if not found:
        kinds = {name: "Int64" if name.startswith("row") else "str" for name in CHANGE_COLUMNS}
        return pd.DataFrame(columns=list(CHANGE_COLUMNS)).astype(kinds)
    before, after = (
        np.concatenate(positions)
        for positions in zip(*((change.at_before, change.at_after) for change in found), strict=True)
    )
    has_before, has_after = pd.Series(before >= 0), pd.Series(after >= 0)
    old, new = (
        cores[["row", "core_id", "district", "street"]].reindex(positions).reset_index(drop=True)
        for cores, positions in ((was, before), (now, after))
    )
    # a removed core has its earlier district and street, any other the present ones
    where = new.where(has_after, old)
    kind = np.repeat([KINDS.index(change.kind) for change in found], [len(change.before) for change in found])
    lines = pd.DataFrame(
        {
            "row_before": old["row"].astype("Int64").where(has_before),
            "row_after": new["row"].astype("Int64").where(has_after),
            "core_id": where["core_id"],
            "change": np.array(KINDS)[kind],
            "before": pd.concat([change.before for change in found], ignore_index=True).fillna(""),
            "after": pd.concat([change.after for change in found], ignore_index=True).fillna(""),
            "district": where["district"],
            "street": where["street"],
        }
    ).astype(dict.fromkeys(CHANGE_COLUMNS[2:], "str"))
    order = lines.assign(kind=kind, gone=~has_after, row=where["row"])
    order = order.sort_values(["kind", "gone", "row", "before", "after"], kind="stable")
    return lines.loc[order.index].reset_index(drop=True)


def _rules(
    matched: Matched, old: pd.DataFrame, new: pd.DataFrame, findings: tuple[pd.DataFrame, pd.DataFrame]
) -> Iterator[_Found]:
    """Yield the findings that a core has in only one of the runs."""
    cleared, found = changed_findings(old, new, *findings)
    for kind, these in (("new finding", found), ("cleared finding", cleared)):
        at, nothing = these["at"].to_numpy(np.intp), pd.Series("", these.index, dtype="str")
        cells = (nothing, these["rule"]) if kind == "new finding" else (these["rule"], nothing)
        yield _Found(kind, matched.before[at], matched.after[at], *cells)


def _positions(matched: Matched, old: pd.DataFrame, new: pd.DataFrame) -> Iterator[_Found]:
    had, has = (cores[["lon", "lat"]].notna().all(axis="columns") for cores in (old, new))
    both = had & has
    apart = pd.Series(0.0, old.index)
    there, here = (cores.loc[both] for cores in (old, new))
    apart[both] = _GEOD.inv(
        there["lon"].to_numpy(), there["lat"].to_numpy(), here["lon"].to_numpy(), here["lat"].to_numpy()
    )[2]
    for kind, hit in (("moved", apart.gt(MOVED_M)), ("position found", ~had & has), ("position lost", had & ~has)):
        is_at = _lon_lat(new[hit])
        if kind == "moved":
            is_at = is_at + " (" + apart[hit].round(1).astype("str") + " m away)"
        yield _Found(kind, matched.before[hit], matched.after[hit], _lon_lat(old[hit]), is_at)


def _lon_lat(cores: pd.DataFrame) -> pd.Series:
    text = cores["lon"].round(7).astype("str") + ", " + cores["lat"].round(7).astype("str")
    return text.where(cores["lon"].notna() & cores["lat"].notna(), "")


def _sizes(matched: Matched, old: pd.DataFrame, new: pd.DataFrame) -> _Found:
    hit = pd.Series(data=False, index=old.index)
    for name in _SIZES:
        hit |= old[name].ne(new[name]) & ~(old[name].isna() & new[name].isna())
    return _Found("size changed", matched.before[hit], matched.after[hit], _size(old[hit]), _size(new[hit]))


def _size(cores: pd.DataFrame) -> pd.Series:
    diameter, depth = (
        # the type is given for a table without rows
        cores[name].map("{:g} mm".format).astype("str").where(cores[name].notna(), "unknown")
        for name in _SIZES
    )
    return diameter + " by " + depth
