"""The page of a pack that explains it: what each file and column holds, and how to check the pack."""

from typing import Any, Final

from markupsafe import Markup

from pipeline.contracts import CORE_STATES, PUBLISHED, URGENCIES
from pipeline.publish.acceptance import accepted_until
from pipeline.publish.pages.page import render_page
from pipeline.publish.words import Words, words_of
from pipeline.results import RunResult

__all__ = ["draw_how_to_read"]

_FILES: Final = {
    "map.html": "map",
    "cores.csv": "cores",
    "findings.csv": "findings",
    "rules.csv": "rules",
    "cores.gpkg": "gpkg",
    "handover.json": "identity",
    "SHA256SUMS": "sums",
}


def draw_how_to_read(result: RunResult, identity: dict[str, Any]) -> str:
    """Return the page.

    Parameters
    ----------
    result
        The run.
    identity
        What ``handover.json`` holds.
    """
    words = words_of(result.settings.programme.language)
    return render_page(
        "how-to-read.html",
        words,
        name=identity["programme"],
        as_of=identity["as_of"],
        identity=identity,
        states=CORE_STATES,
        urgencies=URGENCIES,
        accepted=int(accepted_until(result.audit.findings).notna().sum()),
        contact=result.settings.handover.contact,
        files=[(name, words.say(f"handover.file_{key}")) for name, key in _FILES.items()],
        columns=[_described(name, words) for name in identity["columns"]],
        choose=result.settings.matching.choose,
        kept_back=[Markup("<code>{}</code>").format(rule) for rule in identity["findings_without_figures"]],
        sources=result.inputs.credits,
        cautions=result.catalogue.cautions,
    )


def _described(name: str, words: Words) -> dict[str, str]:
    """Return a column's label, with its unit, and its meaning; one of the register's own has no label but its name."""
    if name not in PUBLISHED:
        return {"name": name, "label": "", "meaning": words.say("handover.own")}
    column = PUBLISHED[name]
    # a language says what is data in English in its own words, or leaves it in English
    label, meaning = (str(words.sentences.get(f"data.{text}", text)) for text in (column.label, column.meaning))
    return {"name": name, "label": column._replace(label=label).title, "meaning": meaning}
