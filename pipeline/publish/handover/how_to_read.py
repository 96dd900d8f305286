"""The page of a pack that explains it: what each file and column holds, and how to check the pack."""

from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.contracts import CORE_STATES, PUBLISHED, URGENCIES
from pipeline.publish.acceptance import accepted_until
from pipeline.publish.handover.changes import CHANGES, WHAT_CHANGED
from pipeline.publish.handover.position_errors import position_sentences, shift_sentences
from pipeline.publish.handover.work_zones import WORK_ZONES
from pipeline.publish.map.by_district import IN_PACK
from pipeline.publish.pages.page import render_page
from pipeline.publish.words import Words, words_of
from pipeline.readback.pack_files import (
    DISTRICTS,
    MANIFEST,
    MAP,
    PACK_FILES,
    PACKAGE,
    district_package,
    has_district_maps,
    has_district_packages,
)

__all__ = ["draw_how_to_read"]

# the files of districts, as the page names them
MAPS_SHOWN: Final = IN_PACK.of("…")
PACKAGES_SHOWN: Final = district_package("…")


def draw_how_to_read(identity: dict[str, Any], findings: pd.DataFrame) -> str:
    """Return the page.

    Parameters
    ----------
    identity
        What ``handover.json`` holds.
    findings
        What ``findings.csv`` holds.
    """
    words = words_of(identity["language"])
    return render_page(
        "how-to-read.html",
        words,
        name=identity["programme"],
        as_of=identity["as_of"],
        identity=identity,
        states=CORE_STATES,
        urgencies=URGENCIES,
        accepted=int(accepted_until(findings).notna().sum()),
        contact=identity["contact"],
        files=[(name, words.say(f"handover.file_{key}")) for name, key in _files(identity).items()],
        work_zones=identity.get("work_zones"),
        columns=[_described(name, words) for name in identity["columns"]],
        choose=identity["choose"],
        position_errors=position_sentences(identity, words),
        shifts=shift_sentences(identity, words),
        kept_back=[Markup("<code>{}</code>").format(rule) for rule in identity["findings_without_figures"]],
        sources=identity["sources"],
        cautions=identity["cautions"],
    )


def _files(identity: dict[str, Any]) -> dict[str, str]:
    """Return the files that the page describes, with the key of the sentence on each; not itself."""
    # a page or feed is there with the table or the setting that it is drawn from
    drawn = {
        WHAT_CHANGED: CHANGES in identity["tables"],
        WORK_ZONES: identity.get("work_zones") is not None,
        DISTRICTS: has_district_packages(identity),
    }
    there = {*identity["tables"], *(name for name, is_there in drawn.items() if is_there)}
    named: dict[str, str] = {}
    for name, file in PACK_FILES.items():
        if file.words and (file.is_needed or name in there):
            named[name] = file.words
        if name == PACKAGE and has_district_packages(identity):
            named[PACKAGES_SHOWN] = "packages"
    if has_district_maps(identity):
        named = {MAP: "map_index", MAPS_SHOWN: "maps", **{name: key for name, key in named.items() if name != MAP}}
    return {**named, MANIFEST: "sums"}


def _described(name: str, words: Words) -> dict[str, str]:
    """Return a column's label, with its unit, and its meaning; one of the register's own has no label but its name."""
    if name not in PUBLISHED:
        return {"name": name, "label": "", "meaning": words.say("handover.own")}
    column = PUBLISHED[name]
    # a language says what is data in English in its own words, or leaves it in English
    label, meaning = (str(words.sentences.get(f"data.{text}", text)) for text in (column.label, column.meaning))
    return {"name": name, "label": column._replace(label=label).title, "meaning": meaning}
