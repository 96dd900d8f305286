"""What changed between two runs: every row of both accounted for, and one line per change."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contracts import CHANGE_TABLE, is_missing, names_of, no_text
from pipeline.history.counts import count_by_district, count_by_rule, count_stock
from pipeline.history.differences import SIZES, Found, alone, positions, sizes, states, texts
from pipeline.history.findings import changed_findings
from pipeline.history.matching import Matched, match_rows

__all__ = ["CHANGE_COLUMNS", "KINDS", "Changes", "Side", "compare"]

CHANGE_COLUMNS: Final = names_of(CHANGE_TABLE)
# in the order of what a manager asks first
KINDS: Final = (
    "opened",
    "closed",
    "reopened",
    "newly flagged",
    "cleared",
    "urgency changed",
    "state changed",
    "permit changed",
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
# by kind, the column whose text differs
_TEXTS: Final = {
    "permit changed": "permit",
    "segment changed": "segment_id",
    "street changed": "street",
    "surface changed": "surface",
    "district changed": "district",
    "shade changed": "shade",
}
# what both runs must have for a kind of change to be looked for; every other kind needs what each run has
_NEEDS: Final = {
    "urgency changed": ("urgency",),
    "state changed": ("state",),
    "size changed": SIZES,
    **{kind: (name,) for kind, name in _TEXTS.items()},
}
_ALWAYS: Final = ("row", "core_id", "status", "findings", "segment_id", "street", "district", "lon", "lat")


class Side(NamedTuple):
    """One of the two runs.

    ``cores``: N rows with the columns of ``cores.parquet``, and ``permit``, its number and expiry as text; a row with
    ``copy_of`` is not compared. Of ``bags``, ``surface``, ``shade``, ``state``, ``urgency``, ``permit``,
    ``diameter_mm`` and ``depth_mm``, those that are not known are left out and not compared. ``findings``: with
    ``row``, ``rule``, ``severity`` and, if the run has them, ``fingerprint``. ``reinstatement``: the N cells of the
    register for the reinstatement date, as text; None where nothing shows whether a flagged core is reinstated.
    """

    cores: pd.DataFrame
    findings: pd.DataFrame
    reinstatement: pd.Series | None


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
    ``rule``, the rules that each newly flagged core fails. ``not_compared``: the kinds of change that were not looked
    for, since one of the runs lacks their columns.
    """

    lines: pd.DataFrame
    account: dict[str, int]
    kinds: pd.DataFrame
    rules: pd.DataFrame
    districts: pd.DataFrame
    stock: pd.DataFrame
    flagged_by: pd.DataFrame
    not_compared: list[str] = field(default_factory=list)


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
    looked_for = _looked_for(before, after)
    matched = match_rows(before.cores, after.cores)
    was, now = _compared(before), _compared(after)
    lines = _lines(matched, was, now, (before.findings, after.findings), looked_for)
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
    not_compared = [kind for kind in KINDS if kind not in looked_for]
    return Changes(lines, account, kinds, count_by_rule(lines), by_district, stock, flagged_by, not_compared)


def _looked_for(before: Side, after: Side) -> list[str]:
    """Return the kinds of change that both runs have the columns for."""
    both = set(before.cores) & set(after.cores)
    shown = before.reinstatement is not None and after.reinstatement is not None
    return [
        kind
        for kind in KINDS
        if both.issuperset(_NEEDS.get(kind, ())) and (shown or kind not in {"closed", "reopened"})
    ]


def _once(side: Side) -> Side:
    """Return a run with each core once: without the rows in whose place another is counted."""
    counted = side.cores["copy_of"].isna()
    cores = side.cores[counted]
    found = pd.to_numeric(side.findings["row"], errors="coerce").isin(cores["row"])
    text = side.reinstatement
    return Side(cores, side.findings[found], None if text is None else text[counted.to_numpy()])


def _failures(side: Side) -> pd.DataFrame:
    """Return ``row`` and ``rule`` of every finding of severity fail, each once."""
    fails = side.findings.loc[side.findings["severity"].eq("fail"), ["row", "rule"]]
    return fails.assign(row=pd.to_numeric(fails["row"], errors="coerce").astype("float64")).drop_duplicates()


def _compared(side: Side) -> pd.DataFrame:
    """Return the columns of the cores that are compared, on a plain index."""
    names = [*_ALWAYS, "bags", *(name for needed in _NEEDS.values() for name in needed)]
    cores = side.cores[[name for name in dict.fromkeys(names) if name in side.cores]].reset_index(drop=True)
    text = no_text(cores.index) if side.reinstatement is None else side.reinstatement.reset_index(drop=True)
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
    matched: Matched,
    was: pd.DataFrame,
    now: pd.DataFrame,
    findings: tuple[pd.DataFrame, pd.DataFrame],
    looked_for: list[str],
) -> pd.DataFrame:
    old = was.iloc[matched.before].reset_index(drop=True)
    new = now.iloc[matched.after].reset_index(drop=True)
    names = {False: "open", True: "reinstated"}
    is_open = old["is_reinstated"].map(names), new["is_reinstated"].map(names)
    labels = old["label"], new["label"]
    pairs = [
        ("closed", *is_open, ~old["is_reinstated"] & new["is_reinstated"]),
        ("reopened", *is_open, old["is_reinstated"] & ~new["is_reinstated"]),
        ("newly flagged", *labels, ~old["is_flagged"] & new["is_flagged"]),
        ("cleared", *labels, old["is_flagged"] & ~new["is_flagged"]),
        *(texts(kind, old[name], new[name]) for kind, name in _TEXTS.items() if kind in looked_for),
        *states(old, new, looked_for),
    ]
    found = [
        *(
            Found(kind, matched.before[hit], matched.after[hit], before[hit], after[hit])
            for kind, before, after, hit in pairs
        ),
        *positions(matched, old, new),
        *([sizes(matched, old, new)] if "size changed" in looked_for else []),
        *_rules(matched, old, new, findings),
        alone("opened", matched.added, now, is_after=True),
        alone("removed", matched.removed, was, is_after=False),
        alone("not comparable", matched.aside_before, was, is_after=False),
        alone("not comparable", matched.aside_after, now, is_after=True),
    ]
    return _table([change for change in found if len(change.before) and change.kind in looked_for], was, now)


def _table(found: list[Found], was: pd.DataFrame, now: pd.DataFrame) -> pd.DataFrame:
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
) -> Iterator[Found]:
    """Yield the findings that a core has in only one of the runs."""
    cleared, found = changed_findings(old, new, *findings)
    for kind, these in (("new finding", found), ("cleared finding", cleared)):
        at, nothing = these["at"].to_numpy(np.intp), pd.Series("", these.index, dtype="str")
        cells = (nothing, these["rule"]) if kind == "new finding" else (these["rule"], nothing)
        yield Found(kind, matched.before[at], matched.after[at], *cells)
