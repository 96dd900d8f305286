"""What changed between two runs: every row of each accounted for, and a line a change."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import pandas as pd
from pyproj import Geod

from pipeline.contracts import is_missing
from pipeline.history.counts import count_by_district, count_by_rule, count_stock
from pipeline.history.matching import Matched, Places, match_rows

__all__ = ["CHANGE_COLUMNS", "KINDS", "MOVED_M", "Changes", "Side", "compare"]

# a position that differs by no more than this was taken anew, not moved
MOVED_M: Final = 1.0
CHANGE_COLUMNS: Final = ("row_before", "row_after", "core_id", "change", "before", "after", "district", "street")
# in the order in which a manager asks
KINDS: Final = {
    "opened": "its id is new",
    "closed": "it had no reinstatement, now it has one",
    "reopened": "it had a reinstatement, now it has none",
    "newly flagged": "it was not flagged, now it is",
    "cleared": "it was flagged, now it is not",
    "vanished": "its id is no longer in the register",
    "not comparable": "a row without an id, or whose id stands on several rows: which core it was cannot be told",
    "rule found": "a rule finds something that it did not find before",
    "rule gone": "a rule no longer finds what it found before",
    "segment changed": "it is on another road segment",
    "street changed": "its segment is of another street",
    "surface changed": "it is in another surface",
    "district changed": "it is in another district",
    "shade changed": "it takes grout of another shade",
    "moved": f"its position is more than {MOVED_M:g} m away from where it was",
    "position found": "it had no position that could be used, now it has one",
    "position lost": "it had a position, now it has none that can be used",
    "size changed": "its diameter or depth is another",
}
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

    ``cores``: N rows with the columns of ``cores.parquet``. ``findings``: with ``row``, ``rule``, ``severity``.
    ``reinstatement``: N cells of the register that say when the core was reinstated, as text.
    """

    cores: pd.DataFrame
    findings: pd.DataFrame
    reinstatement: pd.Series


@dataclass(frozen=True)
class Changes:
    """What a comparison found.

    ``lines``: one row a change, CHANGE_COLUMNS, by kind, then row. ``account``: how many rows of each run are matched,
    new, vanished, not comparable. ``kinds``: ``change``, ``cores``, ``meaning``, every kind. ``rules``: ``rule``,
    ``found``, ``gone``: on how many of the matched cores, by name. ``districts``: one row a district, a column a kind
    with how many cores, then ``bags_before``, ``bags_after``, ``bags_difference``, the grout that open cores need.
    ``stock``: for all rows, the flagged and the open ones, how many there were before, came in new, became so, ended,
    vanished, could not be compared (after less before), and are there after.
    """

    lines: pd.DataFrame
    account: dict[str, int]
    kinds: pd.DataFrame
    rules: pd.DataFrame
    districts: pd.DataFrame
    stock: pd.DataFrame


def compare(before: Side, after: Side) -> Changes:
    """Tell what changed from one run to another.

    Parameters
    ----------
    before, after
        The two runs; neither is changed.

    Returns
    -------
    Changes
        Swapped arguments give the mirror image: what opened has vanished, what was flagged is cleared.
    """
    matched = match_rows(before.cores, after.cores)
    was, now = _told(before), _told(after)
    lines = _lines(matched, was, now)
    # two rules found on a core are one core with a rule found
    once = lines.drop_duplicates(["row_before", "row_after", "change"])
    count = once["change"].value_counts()
    kinds = pd.DataFrame(
        {
            "change": list(KINDS),
            "cores": [int(count.get(kind, 0)) for kind in KINDS],
            "meaning": list(KINDS.values()),
        }
    )
    account = {
        "rows_before": len(was),
        "rows_after": len(now),
        "matched": len(matched.before),
        "new": len(matched.new),
        "vanished": len(matched.vanished),
        "not_comparable_before": len(matched.aside_before),
        "not_comparable_after": len(matched.aside_after),
    }
    by_district = count_by_district(once, list(KINDS), was, now)
    return Changes(lines, account, kinds, count_by_rule(lines), by_district, count_stock(matched, was, now))


def _told(side: Side) -> pd.DataFrame:
    """The table of cores with what is compared of it, on a plain index."""
    cores = side.cores[list(_COMPARED)].reset_index(drop=True)
    text = side.reinstatement.reset_index(drop=True)
    fails = side.findings[side.findings["severity"].eq("fail")]
    slugs = fails.groupby(pd.to_numeric(fails["row"], errors="coerce"))["rule"].agg(
        lambda rules: ", ".join(sorted(set(rules)))
    )
    flagged = cores["status"].eq("flagged")
    why = cores["row"].map(slugs).astype("str").fillna("")
    return cores.assign(
        is_flagged=flagged,
        # a flagged core may be back or not; only the register says
        is_back=cores["status"].eq("reinstated") | (flagged & ~is_missing(text)),
        said=cores["status"].mask(flagged & why.ne(""), "flagged: " + why),
    )


def _lines(matched: Matched, was: pd.DataFrame, now: pd.DataFrame) -> pd.DataFrame:
    old = was.iloc[matched.before].reset_index(drop=True)
    new = now.iloc[matched.after].reset_index(drop=True)
    back = {False: "open", True: "reinstated"}
    states = old["is_back"].map(back), new["is_back"].map(back)
    said = old["said"], new["said"]
    pairs = [
        ("closed", *states, ~old["is_back"] & new["is_back"]),
        ("reopened", *states, old["is_back"] & ~new["is_back"]),
        ("newly flagged", *said, ~old["is_flagged"] & new["is_flagged"]),
        ("cleared", *said, old["is_flagged"] & ~new["is_flagged"]),
        *((kind, old[name], new[name], old[name].fillna("").ne(new[name].fillna(""))) for kind, name in _TEXTS.items()),
    ]
    found = [
        *(
            _Found(kind, matched.before[hit], matched.after[hit], before[hit], after[hit])
            for kind, before, after, hit in pairs
        ),
        *_positions(matched, old, new),
        _sizes(matched, old, new),
        *_rules(matched, old, new),
        _alone("opened", matched.new, now, is_after=True),
        _alone("vanished", matched.vanished, was, is_after=False),
        _alone("not comparable", matched.aside_before, was, is_after=False),
        _alone("not comparable", matched.aside_after, now, is_after=True),
    ]
    return _table([one for one in found if len(one.before)], was, now)


class _Found(NamedTuple):
    """The cores that changed in one way: their places in the two tables, -1 for none, and what they were and are."""

    kind: str
    at_before: Places
    at_after: Places
    before: pd.Series
    after: pd.Series


def _alone(kind: str, places: Places, cores: pd.DataFrame, *, is_after: bool) -> _Found:
    said, none = cores["said"].iloc[places], np.full_like(places, -1)
    nothing = pd.Series("", said.index, dtype="str")
    return _Found(kind, none, places, nothing, said) if is_after else _Found(kind, places, none, said, nothing)


def _table(found: list[_Found], was: pd.DataFrame, now: pd.DataFrame) -> pd.DataFrame:
    """All changes as one table, by kind, then row."""
    if not found:
        kinds = {name: "Int64" if name.startswith("row") else "str" for name in CHANGE_COLUMNS}
        return pd.DataFrame(columns=list(CHANGE_COLUMNS)).astype(kinds)
    before, after = (np.concatenate([one[side] for one in found]) for side in (1, 2))
    has_before, has_after = pd.Series(before >= 0), pd.Series(after >= 0)
    old, new = (
        cores[["row", "core_id", "district", "street"]].reindex(places).reset_index(drop=True)
        for cores, places in ((was, before), (now, after))
    )
    # a core that is gone is told where it was, any other where it is
    where = new.where(has_after, old)
    kind = np.repeat([list(KINDS).index(one.kind) for one in found], [len(one.before) for one in found])
    lines = pd.DataFrame(
        {
            "row_before": old["row"].astype("Int64").where(has_before),
            "row_after": new["row"].astype("Int64").where(has_after),
            "core_id": where["core_id"],
            "change": np.array(list(KINDS))[kind],
            "before": pd.concat([one.before for one in found], ignore_index=True).fillna(""),
            "after": pd.concat([one.after for one in found], ignore_index=True).fillna(""),
            "district": where["district"],
            "street": where["street"],
        }
    ).astype(dict.fromkeys(CHANGE_COLUMNS[2:], "str"))
    order = lines.assign(kind=kind, gone=~has_after, row=where["row"])
    order = order.sort_values(["kind", "gone", "row", "before", "after"], kind="stable")
    return lines.loc[order.index].reset_index(drop=True)


def _rules(matched: Matched, old: pd.DataFrame, new: pd.DataFrame) -> Iterator[_Found]:
    """The rules that have a finding on a core in only one of the runs."""
    slugs = [
        cores.loc[cores["findings"].fillna("").ne(""), "findings"].str.split(";").explode().rename("rule")
        for cores in (old, new)
    ]
    sides = [one.reset_index().drop_duplicates() for one in slugs]
    both = sides[0].merge(sides[1], how="outer", indicator="where", validate="one_to_one")
    for kind, where in (("rule found", "right_only"), ("rule gone", "left_only")):
        one = both[both["where"].eq(where)]
        at, nothing = one["index"].to_numpy(np.intp), pd.Series("", one.index, dtype="str")
        cells = (nothing, one["rule"]) if where == "right_only" else (one["rule"], nothing)
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
        is_at = _place(new[hit])
        if kind == "moved":
            is_at = is_at + " (" + apart[hit].round(1).astype("str") + " m away)"
        yield _Found(kind, matched.before[hit], matched.after[hit], _place(old[hit]), is_at)


def _place(cores: pd.DataFrame) -> pd.Series:
    place = cores["lon"].round(7).astype("str") + ", " + cores["lat"].round(7).astype("str")
    return place.where(cores["lon"].notna() & cores["lat"].notna(), "")


def _sizes(matched: Matched, old: pd.DataFrame, new: pd.DataFrame) -> _Found:
    hit = pd.Series(data=False, index=old.index)
    for name in _SIZES:
        hit |= old[name].ne(new[name]) & ~(old[name].isna() & new[name].isna())
    return _Found("size changed", matched.before[hit], matched.after[hit], _size(old[hit]), _size(new[hit]))


def _size(cores: pd.DataFrame) -> pd.Series:
    diameter, depth = (
        # the kind is said for a table without rows
        cores[name].map("{:g} mm".format).astype("str").where(cores[name].notna(), "not known")
        for name in _SIZES
    )
    return diameter + " by " + depth
