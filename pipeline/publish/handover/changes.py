"""What changed since the last run, as a road authority is handed it: a table by core id, and a page drawn from it."""

import re
from collections.abc import Hashable
from typing import Any, Final
from urllib.parse import quote

import pandas as pd
from markupsafe import Markup

from pipeline.contracts import HANDED_CHANGE_TABLE, names_of
from pipeline.history import KINDS
from pipeline.publish.map.by_district import IN_PACK, maps_of
from pipeline.publish.map.packing import shown_text
from pipeline.publish.pages.page import render_page
from pipeline.publish.report.changes import change_words
from pipeline.publish.report.names import place_name
from pipeline.publish.since import Since
from pipeline.publish.urgent_first import changes_in_order
from pipeline.publish.words import Words, words_of
from pipeline.readback.pack_files import MAP, has_district_maps

__all__ = ["CHANGES", "WHAT_CHANGED", "change_facts", "draw_what_changed", "handed_changes", "rows_changed"]

CHANGES: Final = "changes.csv"
WHAT_CHANGED: Final = "what-changed.html"
# a kind of change shows these columns, and is handed over only with them
_SHOWS: Final = {
    "urgency changed": {"urgency"},
    "state changed": {"state"},
    "permit changed": {"permit_no", "permit_expires_on"},
    "surface changed": {"surface"},
    "shade changed": {"shade"},
    "size changed": {"diameter_mm", "depth_mm"},
}
# of a flagged core, either of these shows whether it has been reinstated
_SHOWS_REINSTATED: Final = {"reinstated_at", "state"}
_CLOSING: Final = ("closed", "reopened")
_OF_ONE_RULE: Final = ("new finding", "cleared finding")
_OF_RULES: Final = ("newly flagged", "cleared", *_OF_ONE_RULE, "opened", "removed", "not comparable")
_SLUG: Final = re.compile(r"\b[a-z]+(?:-[a-z]+)+\b")
_AUTHORITY: Final = "road_authority"
_COLUMNS: Final = names_of(HANDED_CHANGE_TABLE)
# lines of one kind, and streets, that the page lists; the table has them all
_SHOWN: Final = 200
_STREETS: Final = 50


def handed_changes(since: Since | None, allowed: set[str]) -> pd.DataFrame | None:
    """Return the table of changes; None where no earlier run is kept.

    Parameters
    ----------
    since
        What changed.
    allowed
        The columns of cores that may be handed over: a kind of change that would show another one is left out.
    """
    if since is None:
        return None
    kinds = [kind for kind in KINDS if _SHOWS.get(kind, set()) <= allowed]
    if not _SHOWS_REINSTATED & allowed:
        kinds = [kind for kind in kinds if kind not in _CLOSING]
    lines = since.changes.lines
    lines = lines[lines["change"].isin(kinds)].reset_index(drop=True)
    names = words_of("en")
    by_rule = lines["change"].isin(_OF_RULES)
    shown = {
        name: lines[name].mask(by_rule, _labelled(lines.loc[by_rule, name], names)) for name in ("before", "after")
    }
    rule = (lines["before"] + lines["after"]).where(lines["change"].isin(_OF_ONE_RULE))
    table = lines.assign(**shown, rule=rule)
    if _AUTHORITY in allowed:
        table[_AUTHORITY] = _authority(since, lines)
    return table[[name for name in _COLUMNS if name in table]]


def _labelled(cells: pd.Series, words: Words) -> pd.Series:
    """Return cells with the rules' labels for their short names: "flagged: Open too long"."""
    texts = {text: _SLUG.sub(lambda slug: str(words.rule(slug[0])), text) for text in cells.unique()}
    return cells.map(texts).astype("str")


def _authority(since: Since, lines: pd.DataFrame) -> pd.Series:
    """Return the road authority of each line's core; of a removed core, its earlier one."""
    now, was = (
        lines[row].astype("float64").map(run.cores.set_index(run.cores["row"].astype("float64"))[_AUTHORITY])
        if _AUTHORITY in run.cores
        else pd.Series(None, lines.index, dtype="str")
        for row, run in (("row_after", since.this), ("row_before", since.before))
    )
    return now.where(lines["row_after"].notna(), was).astype("str")


def change_facts(since: Since | None) -> dict[str, Any]:
    """Return what ``handover.json`` holds of the comparison; the reasons stay with the utility."""
    return {"changes_may_be_apart_from_the_road": bool(since and since.caveats)}


def rows_changed(changes: pd.DataFrame | None) -> pd.DataFrame | None:
    """Return ``row`` and ``change`` of the cores that the map shows as changed, from the table that is handed over."""
    if changes is None:
        return None
    lines = changes[["row_after", "change"]].dropna().rename(columns={"row_after": "row"})
    return lines.astype({"row": "int64"}).drop_duplicates().reset_index(drop=True)


def draw_what_changed(facts: dict[str, Any], changes: pd.DataFrame, cores: pd.DataFrame) -> str:
    """Return the page.

    Parameters
    ----------
    facts
        What ``handover.json`` holds.
    changes
        What ``changes.csv`` holds.
    cores
        What ``cores.csv`` holds.
    """
    words = words_of(facts["language"])
    lines = changes_in_order(changes, cores, cores)
    maps = _maps_by_row(facts, cores)
    once = lines.drop_duplicates(["core_id", "row_before", "row_after", "change"])
    counts = once["change"].value_counts()
    kinds = [kind for kind in KINDS if kind in counts]
    places = [
        (_AUTHORITY, words.say("changed.authorities"), "format.no_authority"),
        ("district", words.say("changed.districts"), "format.no_district"),
        ("street", words.say("changed.streets"), "format.no_street"),
    ]
    return render_page(
        "what-changed.html",
        words,
        name=facts["programme"],
        before=facts["since"],
        after=facts["as_of"],
        may_be_apart=facts["changes_may_be_apart_from_the_road"],
        kinds=[
            change_words(kind, words) | {"name": _anchor(kind), "cores": words.number(int(counts[kind]))}
            for kind in kinds
        ],
        places=[
            _by_place(once, name, title, missing, words)
            for name, title, missing in places
            if name in once and len(once)
        ],
        groups=[_group(lines[lines["change"].eq(kind)], kind, words, maps) for kind in kinds],
        contact=facts["contact"],
    )


def _anchor(kind: str) -> str:
    return kind.replace(" ", "-")


def _by_place(once: pd.DataFrame, name: str, title: Markup, missing: str, words: Words) -> dict[str, Any]:
    """Return the number of changed cores and of each kind of change by place, those with the most first."""
    named = once.assign(place=once[name].fillna(""))
    cores = named.drop_duplicates(["place", "core_id", "row_before", "row_after"])["place"].value_counts().to_dict()
    order = sorted(cores, key=lambda place: (-cores[place], place))
    counts = named.groupby(["place", "change"], sort=False).size().to_dict()
    nouns = {kind: change_words(kind, words)["change"] for kind in KINDS}
    return {
        "title": title,
        "name": f"by-{name}",
        "more": max(len(order) - _STREETS, 0),
        "rows": [
            {
                "place": place_name(place or None, missing, words),
                "cores": words.number(cores[place]),
                "kinds": [
                    words.say("chart.value", n=counts[place, kind], name=nouns[kind])
                    for kind in KINDS
                    if (place, kind) in counts
                ],
            }
            for place in order[:_STREETS]
        ],
    }


def _maps_by_row(facts: dict[str, Any], cores: pd.DataFrame) -> dict[int, str]:
    """Return the map of each row of the cores where each district has its own; else none."""
    if not has_district_maps(facts):
        return {}
    maps = maps_of(cores[cores["copy_of"].isna()], IN_PACK)
    names = cores["district"].astype("object").where(cores["district"].notna(), None)
    return {int(row): maps.get(name, MAP) for row, name in zip(cores["row"], names, strict=True)}


def _group(lines: pd.DataFrame, kind: str, words: Words, maps: dict[int, str]) -> dict[str, Any]:
    shown = lines.head(_SHOWN)
    return {
        **change_words(kind, words),
        "name": _anchor(kind),
        "total": len(lines),
        "has_authority": _AUTHORITY in lines,
        "rows": [_line(line, words, maps) for line in shown.to_dict("records")],
    }


def _line(line: dict[Hashable, Any], words: Words, maps: dict[int, str]) -> dict[str, Any]:
    has_id = not pd.isna(line["core_id"])
    on_map = has_id and not pd.isna(line["row_after"])
    page = maps.get(int(line["row_after"]), MAP) if on_map else MAP
    return {
        "core": place_name(line["core_id"], "format.no_id", words),
        "link": f"{page}#core={quote(shown_text(line['core_id']), safe='')}" if on_map else None,
        "street": place_name(line["street"], "format.no_street", words),
        "district": place_name(line["district"], "format.no_district", words),
        "authority": place_name(line.get(_AUTHORITY), "format.no_authority", words),
        **{name: "" if pd.isna(line[name]) else words.own(line[name]) for name in ("before", "after")},
    }
