"""The report's end: confidence, inputs, method, thresholds and material values with their sources."""

from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.audit.comparison import FEWEST
from pipeline.contracts import REGISTER_COLUMNS, shown_unit
from pipeline.intake.crs import name_of
from pipeline.programme.sources import outside_source
from pipeline.publish.days_off import days_off_in_words
from pipeline.publish.pages.charts import curves
from pipeline.publish.pages.header_place import header_shown
from pipeline.publish.report.names import LONGEST_NAME, column_label
from pipeline.publish.setting_sources import setting_sources
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["method_and_inputs"]

# thresholds of the chart of confidence
_CONFIDENCE_LEVELS: Final = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99)
_CONFIDENCES: Final = {"road": "segment_confidence", "surface": "surface_confidence", "district": "district_confidence"}
_UNITS: Final = {
    "kerf": "unit.mm", "pilot_hole": "unit.mm", "gap": "unit.mm", "thickness": "unit.mm", "bag": "unit.kg",
    "pack": "unit.kg", "water_per_bag": "unit.L", "firm_after": "method.minutes", "wet_density": "method.kg_per_l",
    "bulk_density": "method.kg_per_l", "particle_density": "method.kg_per_l",
}  # fmt: skip


def method_and_inputs(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the values for the template of confidence, inputs, method and thresholds."""
    inputs, matching = result.inputs, result.settings.matching
    headers = {
        (part.name, part.label): header_shown(part.label, part.sheet, part.header_place, words.say, words.own)
        for part in inputs.register.parts
    }
    return {
        **_confidence(result, words),
        "files": [
            {
                "section": file.section,
                "path": words.own(file.path),
                "header": headers.get((file.register, file.path), ""),
                "rows": words.number(file.rows),
                "in_file": words.number(file.rows_in_file),
                "crs": words.own(file.crs),
                "accuracy": words.say("format.unknown")
                if file.accuracy_m is None
                else words.say("unit.m", v=words.measure(file.accuracy_m)),
                "sha256": file.sha256[:12],
            }
            for file in inputs.files
        ],
        "registers": _registers(result, words),
        "not_asked_for": [Markup("<code>{}</code>").format(name) for name in result.settings.publish.left_out],
        "database": None if (database := result.settings.publish.database) is None else words.own(database.shown),
        "crs": words.own(f"{inputs.crs.name} ({name_of(inputs.crs)})"),
        "diameter_is": result.settings.diameter_is,
        "units": _units(inputs.register.units, words),
        "choose": matching.choose,
        "accuracy": words.measure(matching.accuracy_m),
        "reach": words.measure(matching.max_distance_m),
        "farthest": words.measure(max(matching.max_reach_m, matching.max_distance_m)),
        "gap": words.measure(matching.district_gap_m),
        "days_off": days_off_in_words(result, words),
        "fewest": FEWEST,
        "materials": _materials(result, words),
        "thresholds_in_force": _thresholds(result.audit.thresholds, words),
        "settings_in_force": [
            {"key": words.own(one.key), "value": words.own(one.value), "source": words.own(outside_source(one.source))}
            for one in setting_sources(result.settings)
        ],
        "overridden": [
            {"key": key, "value": words.own(value)} for key, value in sorted(result.catalogue.overridden.items())
        ],
    }


def _units(units: dict[str, dict[str, str]], words: Words) -> list[tuple[Markup, Markup]]:
    """Return the columns whose bare numbers have a unit, by their labels; of several registers, each with its units."""
    together: dict[str, dict[str, None]] = {}
    for of_register in units.values():
        for name, unit in of_register.items():
            together.setdefault(name, {})[shown_unit(unit)] = None
    return [
        (column_label(name, words) or words.own(name), words.own(" / ".join(found)))
        for name, found in sorted(together.items())
    ]


def _registers(result: RunResult, words: Words) -> list[dict[str, Any]]:
    """Return what each register holds: rows, cores counted, rows set aside, and the columns it keeps."""
    rows = result.cores["register"].value_counts(sort=False)
    cores = result.counted("register").value_counts()
    set_aside = result.inputs.register.set_aside["register"].value_counts()
    kept = {
        name: [
            column_label(column.name, words)
            for column in REGISTER_COLUMNS
            if name in result.inputs.register.kept.get(column.name, ())
        ]
        for name in rows.index
    }
    return [
        {
            "register": words.own(name, LONGEST_NAME),
            "rows": words.number(count),
            "cores": words.number(int(cores.get(name, 0))),
            "set_aside": words.number(int(set_aside.get(name, 0))),
            "kept": Markup(", ").join(label for label in kept[name] if label is not None),
        }
        for name, count in rows.items()
    ]


def _thresholds(thresholds: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    """Return the thresholds in force, those of one rule from one source together."""
    together = thresholds.groupby(["rule", "source"], sort=False, dropna=False)
    return [
        {
            "rule": rule,
            "values": [(row["threshold"], _threshold_value(row, words)) for row in rows.to_dict("records")],
            "source": words.own(outside_source(str(source))),
        }
        for (rule, source), rows in together
    ]


def _threshold_value(row: dict[Any, Any], words: Words) -> Markup:
    value = words.own(row["value"])
    return value if row["where"] == "everywhere" else words.say("method.on", value=value, where=words.own(row["where"]))


def _materials(result: RunResult, words: Words) -> list[dict[str, Any]]:
    materials = result.catalogue.materials
    rows = []
    for item, model in (("", materials.geometry), ("", materials.grout), *materials.bedding.items()):
        for field in type(model).model_fields:
            entry = getattr(model, field)
            name = words.say(f"method.{field}")
            rows.append(
                {
                    "name": words.say("method.of", item=words.own(item), name=name) if item else name,
                    "value": words.say(_UNITS[field], v=words.measure(entry.value))
                    if field in _UNITS
                    else words.percent(entry.value),
                    "source": words.own(outside_source(entry.source)),
                }
            )
    return rows + [
        {
            "name": words.say("method.of", item=words.own(surface), name=words.say("method.core_density")),
            "value": words.say(_UNITS["bulk_density"], v=words.measure(density.value)),
            "source": words.own(outside_source(density.source)),
        }
        for surface, density in materials.core_density.items()
    ]


def _confidence(result: RunResult, words: Words) -> dict[str, Any]:
    """How many cores each threshold of confidence would flag."""
    known = {name: result.counted_cores[column].dropna() for name, column in _CONFIDENCES.items()}
    if not any(len(confidence) for confidence in known.values()):
        return {"curve": None, "confidence_rows": []}
    counts = pd.DataFrame(
        {
            words.plainly(f"confidence.{name}"): [int(confidence.lt(share).sum()) for share in _CONFIDENCE_LEVELS]
            for name, confidence in known.items()
        },
        index=[words.percent(share) for share in _CONFIDENCE_LEVELS],
    )
    title, across = words.plainly("chart.confidence"), words.plainly("chart.threshold")
    return {
        "curve": curves(counts, "confidence-chart", title, across, words),
        "confidence_rows": [
            {"threshold": name, "counts": [words.number(count) for count in row]}
            for name, row in zip(counts.index, counts.to_numpy(), strict=True)
        ],
    }
