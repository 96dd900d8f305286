"""The report's end: how sure places are, what was read, how it was worked out, by which values and sources."""

from typing import Any, Final

import pandas as pd

from pipeline.audit.rates import FEWEST
from pipeline.intake.crs import name_of
from pipeline.publish.pages.charts import curves
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["method_and_inputs"]

_THRESHOLDS: Final = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99)
_WEIGHED: Final = {"road": "segment_confidence", "surface": "surface_confidence", "district": "district_confidence"}
_UNITS: Final = {
    "kerf": "unit.mm", "pilot_hole": "unit.mm", "gap": "unit.mm", "thickness": "unit.mm", "bag": "unit.kg",
    "pack": "unit.kg", "water_per_bag": "unit.L", "wet_density": "method.kg_per_l",
    "bulk_density": "method.kg_per_l", "particle_density": "method.kg_per_l",
}  # fmt: skip


def method_and_inputs(result: RunResult, words: Words) -> dict[str, Any]:
    """Return what the templates of sureness, inputs, method and values show."""
    inputs, matching = result.inputs, result.settings.matching
    return {
        **_sureness(result, words),
        "files": [
            {
                "section": file.section,
                "path": words.own(file.path),
                "rows": words.number(file.rows),
                "in_file": words.number(file.rows_in_file),
                "crs": words.own(file.crs),
                "accuracy": words.say("format.not_known")
                if file.accuracy_m is None
                else words.say("unit.m", v=words.measure(file.accuracy_m)),
                "sha256": file.sha256[:12],
            }
            for file in inputs.files
        ],
        "crs": words.own(f"{inputs.crs.name} ({name_of(inputs.crs)})"),
        "diameter_is": result.settings.cores.diameter_is,
        "units": sorted(inputs.register.units.items()),
        "choose": matching.choose,
        "accuracy": words.measure(matching.accuracy_m),
        "reach": words.measure(matching.max_distance_m),
        "gap": words.measure(matching.district_gap_m),
        "fewest": FEWEST,
        "materials": _materials(result, words),
        "thresholds_in_force": [
            {
                "rule": one["rule"],
                "threshold": one["threshold"],
                "value": words.own(one["value"])
                if one["where"] == "everywhere"
                else words.say("method.on", value=words.own(one["value"]), where=words.own(one["where"])),
                "source": words.own(one["source"]),
            }
            for one in result.audit.thresholds.to_dict("records")
        ],
        "overridden": [
            {"key": key, "value": words.own(value)} for key, value in sorted(result.catalogue.overridden.items())
        ],
    }


def _materials(result: RunResult, words: Words) -> list[dict[str, Any]]:
    materials = result.catalogue.materials
    rows = []
    for item, model in (("", materials.geometry), ("", materials.grout), *materials.bedding.items()):
        for field in type(model).model_fields:
            one = getattr(model, field)
            name = words.say(f"method.{field}")
            rows.append(
                {
                    "name": words.say("method.of", item=words.own(item), name=name) if item else name,
                    "value": words.say(_UNITS[field], v=words.measure(one.value))
                    if field in _UNITS
                    else words.percent(one.value),
                    "source": words.own(one.source),
                }
            )
    return rows


def _sureness(result: RunResult, words: Words) -> dict[str, Any]:
    """How many cores each threshold of confidence would flag."""
    known = {name: result.cores[column].dropna() for name, column in _WEIGHED.items()}
    if not any(len(confidence) for confidence in known.values()):
        return {"curve": None, "sure_rows": []}
    counts = pd.DataFrame(
        {
            words.plainly(f"sure.{name}"): [int(confidence.lt(share).sum()) for share in _THRESHOLDS]
            for name, confidence in known.items()
        },
        index=[words.percent(share) for share in _THRESHOLDS],
    )
    title, across = words.plainly("chart.sure"), words.plainly("chart.threshold")
    return {
        "curve": curves(counts, "sure-chart", title, across, words),
        "sure_rows": [
            {"threshold": name, "counts": [words.number(count) for count in row]}
            for name, row in zip(counts.index, counts.to_numpy(), strict=True)
        ],
    }
