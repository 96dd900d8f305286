"""What changed between two runs: every row of each accounted for, and a line a change."""

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
from pyproj import Geod

from pipeline.contracts import is_missing
from pipeline.history.matching import Matched, match_rows
from pipeline.order import NO_DISTRICT

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
Flags = npt.NDArray[np.bool_]
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
    by_district = _by_district(once, was, now)
    return Changes(lines, account, kinds, _by_rule(lines), by_district, _stock(matched, was, now))


def _told(side: Side) -> pd.DataFrame:
    """The table of cores with what is compared of it, on a plain index."""
    cores = side.cores.reset_index(drop=True)
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
    found = [
        _alone("opened", now.iloc[matched.new], is_after=True),
        _alone("vanished", was.iloc[matched.vanished], is_after=False),
        _alone("not comparable", was.iloc[matched.aside_before], is_after=False),
        _alone("not comparable", now.iloc[matched.aside_after], is_after=True),
        *(
            _both(kind, old, new, old["is_back"].map(back), new["is_back"].map(back), hit)
            for kind, hit in (
                ("closed", ~old["is_back"] & new["is_back"]),
                ("reopened", old["is_back"] & ~new["is_back"]),
            )
        ),
        *(
            _both(kind, old, new, old["said"], new["said"], hit)
            for kind, hit in (
                ("newly flagged", ~old["is_flagged"] & new["is_flagged"]),
                ("cleared", old["is_flagged"] & ~new["is_flagged"]),
            )
        ),
        *_rules(old, new),
        *(
            _both(kind, old, new, old[name], new[name], old[name].fillna("").ne(new[name].fillna("")))
            for kind, name in _TEXTS.items()
        ),
        *_positions(old, new),
        _sizes(old, new),
    ]
    lines = pd.concat(found, ignore_index=True)
    place = lines["change"].map({kind: place for place, kind in enumerate(KINDS)})
    rows = lines["row_after"].fillna(lines["row_before"])
    lines = lines.assign(place=place, of=rows, gone=lines["row_after"].isna())
    lines = lines.sort_values(["place", "gone", "of", "before", "after"], kind="stable", ignore_index=True)
    return lines[list(CHANGE_COLUMNS)]


def _both(
    kind: str, old: pd.DataFrame, new: pd.DataFrame, before: pd.Series, after: pd.Series, hit: pd.Series
) -> pd.DataFrame:
    return _frame(kind, old.loc[hit, "row"], new.loc[hit], before[hit], after[hit]).assign(
        row_after=new.loc[hit, "row"].to_numpy()
    )


def _alone(kind: str, cores: pd.DataFrame, *, is_after: bool) -> pd.DataFrame:
    nothing, said = pd.Series("", cores.index, dtype="str"), cores["said"]
    line = _frame(kind, cores["row"], cores, *((nothing, said) if is_after else (said, nothing)))
    return line.rename(columns={"row_before": "row_after", "row_after": "row_before"}) if is_after else line


def _frame(kind: str, row: pd.Series, cores: pd.DataFrame, before: pd.Series, after: pd.Series) -> pd.DataFrame:
    line = pd.DataFrame(
        {
            "row_before": row.to_numpy(),
            "row_after": pd.NA,
            "core_id": cores["core_id"].to_numpy(),
            "change": kind,
            "before": before.fillna("").to_numpy(),
            "after": after.fillna("").to_numpy(),
            "district": cores["district"].to_numpy(),
            "street": cores["street"].to_numpy(),
        }
    )
    return line.astype({"row_before": "Int64", "row_after": "Int64", **dict.fromkeys(CHANGE_COLUMNS[2:], "str")})


def _rules(old: pd.DataFrame, new: pd.DataFrame) -> list[pd.DataFrame]:
    """One line for each rule of a core that only one of the runs has a finding by."""
    slugs = [
        cores.loc[cores["findings"].fillna("").ne(""), "findings"].str.split(";").explode().rename("rule")
        for cores in (old, new)
    ]
    sides = [one.reset_index().drop_duplicates() for one in slugs]
    both = sides[0].merge(sides[1], how="outer", indicator="where", validate="one_to_one")
    found = []
    for kind, where in (("rule found", "right_only"), ("rule gone", "left_only")):
        one = both[both["where"].eq(where)]
        at = one["index"].to_numpy()
        rule, nothing = one["rule"].set_axis(at), pd.Series("", at, dtype="str")
        pair = (nothing, rule) if where == "right_only" else (rule, nothing)
        line = _frame(kind, old["row"].iloc[at], new.iloc[at], *pair)
        found.append(line.assign(row_after=new["row"].iloc[at].to_numpy()).astype({"row_after": "Int64"}))
    return found


def _positions(old: pd.DataFrame, new: pd.DataFrame) -> list[pd.DataFrame]:
    had, has = (cores[["lon", "lat"]].notna().all(axis="columns") for cores in (old, new))
    both = had & has
    apart = pd.Series(0.0, old.index)
    there, here = (cores.loc[both] for cores in (old, new))
    apart[both] = _GEOD.inv(
        there["lon"].to_numpy(), there["lat"].to_numpy(), here["lon"].to_numpy(), here["lat"].to_numpy()
    )[2]
    moved = apart.gt(MOVED_M)
    was_at, is_at = _place(old), _place(new)
    away = is_at + apart.round(1).astype("str").radd(" (").add(" m away)")
    return [
        _both("moved", old, new, was_at, away, moved),
        _both("position found", old, new, was_at, is_at, ~had & has),
        _both("position lost", old, new, was_at, is_at, had & ~has),
    ]


def _place(cores: pd.DataFrame) -> pd.Series:
    place = cores["lon"].round(7).astype("str") + ", " + cores["lat"].round(7).astype("str")
    return place.where(cores["lon"].notna() & cores["lat"].notna(), "")


def _sizes(old: pd.DataFrame, new: pd.DataFrame) -> pd.DataFrame:
    differs = pd.Series(data=False, index=old.index)
    for name in _SIZES:
        differs |= old[name].ne(new[name]) & ~(old[name].isna() & new[name].isna())
    return _both("size changed", old, new, _size(old), _size(new), differs)


def _size(cores: pd.DataFrame) -> pd.Series:
    diameter, depth = (cores[name].map("{:g} mm".format).where(cores[name].notna(), "not known") for name in _SIZES)
    return diameter + " by " + depth


def _by_rule(lines: pd.DataFrame) -> pd.DataFrame:
    counts = {
        "found": lines.loc[lines["change"].eq("rule found"), "after"].value_counts(),
        "gone": lines.loc[lines["change"].eq("rule gone"), "before"].value_counts(),
    }
    table = pd.DataFrame(counts).fillna(0).astype("int64").sort_index()
    return table.rename_axis(index="rule").reset_index()


def _by_district(lines: pd.DataFrame, was: pd.DataFrame, now: pd.DataFrame) -> pd.DataFrame:
    counts = pd.crosstab(lines["district"].fillna(NO_DISTRICT), lines["change"])
    bags = [
        cores["bags"].mask(cores["is_back"]).groupby(cores["district"].fillna(NO_DISTRICT)).sum()
        for cores in (was, now)
    ]
    names = sorted({*counts.index, *bags[0].index, *bags[1].index})
    table = counts.reindex(index=names, columns=list(KINDS), fill_value=0).rename_axis(index="district", columns=None)
    table["bags_before"], table["bags_after"] = (one.reindex(names, fill_value=0.0).round(6) for one in bags)
    table["bags_difference"] = (table["bags_after"] - table["bags_before"]).round(6)
    return table.reset_index()


def _stock(matched: Matched, was: pd.DataFrame, now: pd.DataFrame) -> pd.DataFrame:
    everything = (np.ones(len(was), dtype=bool), np.ones(len(now), dtype=bool))
    flagged = (was["is_flagged"].to_numpy(), now["is_flagged"].to_numpy())
    still_open = (~was["is_back"].to_numpy(), ~now["is_back"].to_numpy())
    rows = {"rows": everything, "flagged": flagged, "open": still_open}
    return pd.DataFrame([{"cores": name, **_flow(matched, *held)} for name, held in rows.items()])


def _flow(matched: Matched, was: Flags, now: Flags) -> dict[str, int]:
    old, new = was[matched.before], now[matched.after]
    return {
        "before": int(was.sum()),
        "new": int(now[matched.new].sum()),
        "became": int((~old & new).sum()),
        "ended": int((old & ~new).sum()),
        "vanished": int(was[matched.vanished].sum()),
        "not_comparable": int(now[matched.aside_after].sum()) - int(was[matched.aside_before].sum()),
        "after": int(now.sum()),
    }
