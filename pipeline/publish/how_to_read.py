"""The page that lies beside what is handed over: what each file and column says, and how to check the pack."""

from typing import TYPE_CHECKING, Any, Final

from markupsafe import Markup, escape

from pipeline.contracts import REGISTER_COLUMNS
from pipeline.publish.charts import mark
from pipeline.publish.page import render_page
from pipeline.publish.words import load_words

if TYPE_CHECKING:
    from pipeline.run import RunResult

__all__ = ["draw_how_to_read"]

_STATUSES: Final = ("flagged", "pending", "reinstated")
_FILES: Final = {
    "map.html": "map",
    "cores.csv": "cores",
    "findings.csv": "findings",
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


def draw_how_to_read(result: "RunResult", identity: dict[str, Any]) -> str:
    """Return the page.

    Parameters
    ----------
    result
        The run.
    identity
        What ``handover.json`` holds.
    """
    words = load_words(result.settings.map.language)
    columns = [
        {"name": name, "unit": _UNITS.get(name, "").replace("degC", "°C"), "means": words.get(f"column.{name}")}
        for name in identity["columns"]
    ]

    def say(key: str, **values: object) -> Markup:
        said = words[f"handover.{key}"]
        if isinstance(said, dict):
            said = said["one" if values["n"] == 1 else "other"]
        return escape(said).format(**values)

    return render_page(
        "how-to-read.html",
        say=say,
        language=result.settings.map.language,
        identity=identity,
        run=Markup("<code>{}</code>").format(identity["run"]),
        statuses=[(mark(status), say(status)) for status in _STATUSES],
        files=[(name, say(f"file_{key}")) for name, key in _FILES.items()],
        columns=columns,
        command=Markup("<code>sha256sum -c SHA256SUMS</code>"),
        tool=Markup("<code>kerfbook verify</code>"),
        contact=result.settings.handover.contact,
        sources=result.inputs.credits,
        cautions=result.catalogue.cautions,
    )
