"""The page that lies beside what is handed over: what each file and column says, and how to check the pack."""

from typing import Any, Final

from markupsafe import Markup

from pipeline.contracts import REGISTER_COLUMNS
from pipeline.publish.pages.page import render_page
from pipeline.publish.words import words_of
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
_UNITS: Final = {
    **{column.name: column.unit for column in REGISTER_COLUMNS},
    "chainage_m": "m",
    "offset_m": "m",
    "grout_l": "L",
    "grout_kg": "kg",
    "water_l_needed": "L",
    "gravel_kg": "kg",
    "lon": "°",
    "lat": "°",
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
    columns = [
        {
            "name": name,
            "unit": _UNITS.get(name, "").replace("degC", "°C"),
            "means": words.say(f"column.{name}" if f"column.{name}" in words.sentences else "handover.own"),
        }
        for name in identity["columns"]
    ]
    return render_page(
        "how-to-read.html",
        words,
        name=identity["programme"],
        as_of=identity["as_of"],
        identity=identity,
        contact=result.settings.handover.contact,
        files=[(name, words.say(f"handover.file_{key}")) for name, key in _FILES.items()],
        columns=columns,
        choose=result.settings.matching.choose,
        kept_back=[Markup("<code>{}</code>").format(rule) for rule in identity["findings_without_figures"]],
        sources=result.inputs.credits,
        cautions=result.catalogue.cautions,
    )
