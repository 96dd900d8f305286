"""The report: one HTML file that opens from disk with the network off, and prints."""

from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import pandas as pd

from pipeline.intake.crs import name_of
from pipeline.order import NO_DISTRICT
from pipeline.publish.charts import columns_chart, curves, mark, stacked_bars
from pipeline.publish.looks import STATUS_LOOKS
from pipeline.publish.page import render_page
from pipeline.publish.people import people_and_records
from pipeline.publish.plan import plan_of_orders
from pipeline.publish.since import since_last_run

if TYPE_CHECKING:
    from pipeline.run import RunResult

__all__ = ["draw_report"]

_STATUSES: Final = tuple(STATUS_LOOKS)
_WORST: Final = 5
_SAMPLE: Final = 10
# upper ends of the classes of age, in days
_AGES: Final = (7, 14, 30, 60, 90, 180)
_THRESHOLDS: Final = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99)
_SEVERITIES: Final = ("fail", "check", "note")


def draw_report(result: "RunResult") -> str:
    """Return the whole page; the same run gives the same text."""
    return render_page(
        "report.html",
        name=result.settings.programme.name,
        as_of=result.as_of.isoformat(),
        account=result.account,
        statuses=_STATUSES,
        marks={status: mark(status) for status in _STATUSES},
        cautions=result.catalogue.cautions,
        sources=result.inputs.credits,
        **since_last_run(result),
        **_first_page(result),
        **_by_district(result),
        **plan_of_orders(result),
        **_ages(result),
        **_findings(result),
        **_sureness(result),
        **people_and_records(result),
        **_method(result),
        surfaces=_surfaces(result),
    )


def _first_page(result: "RunResult") -> dict[str, Any]:
    found, orders = result.audit.findings, result.orders
    rules = result.audit.rules[result.audit.rules["severity"].eq("fail") & result.audit.rules["found"].gt(0)]
    worst = rules.sort_values(["found", "rule"], ascending=[False, True]).head(_WORST)
    first = found.fillna({"core_id": "without id"}).drop_duplicates("rule").set_index("rule")
    lines = orders.lines.groupby(["item", "unit"], sort=True)[["needed", "order", "packs"]].sum(min_count=1)
    left = orders.left_out.groupby("reason", sort=True)["cores"].sum()
    return {
        "whole_bar": stacked_bars(
            pd.DataFrame([{status: result.account[status] for status in _STATUSES}], index=["All cores"]),
            "All cores by status",
        ),
        "worst": [
            one | {"message": first.loc[one["rule"], "message"], "core": first.loc[one["rule"], "core_id"]}
            for one in worst.to_dict("records")
        ],
        "orders": orders,
        "overfill": f"{result.catalogue.materials.grout.overfill.value:.0%}",
        "totals": [{"item": one["item"], "words": _order_words(one)} for one in lines.reset_index().to_dict("records")],
        "alone": " and ".join(f"{bags:,} bags of {shade}" for shade, bags in orders.unshared_bags.items()),
        "left_out": left.reset_index().to_dict("records"),
        "left_out_total": int(left.sum()),
    }


def _order_words(line: dict[Any, Any]) -> str:
    need = f"{line['needed']:,.0f} {line['unit']}"
    if pd.isna(line["packs"]):
        return f"{need} needed, {line['order']:,.0f} {line['unit']} for whole bags"
    return f"{need} needed, {line['packs']:,} packs ({line['order']:,.0f} {line['unit']})"


def _by_district(result: "RunResult") -> dict[str, Any]:
    district = result.cores["district"].fillna(NO_DISTRICT)
    counts = pd.crosstab(district, result.cores["status"]).reindex(columns=list(_STATUSES), fill_value=0)
    sums = ["needed", "order", "packs"]
    lines = result.orders.lines.groupby(["district", "item", "unit"], as_index=False)[sums].sum(min_count=1)
    items = sorted(lines["item"].unique())
    left = result.orders.left_out.groupby("district")["cores"].sum()
    lines = lines.assign(words=[_short_order(one) for one in lines.to_dict("records")])
    ordered = lines.pivot_table(index="district", columns="item", values="words", aggfunc="first")
    ordered = ordered.reindex(index=counts.index, columns=items).fillna("")
    rows = [
        {"district": name, "left_out": int(left.get(name, 0)), "order": ordered.loc[name].to_dict()} | dict(row)
        for name, row in zip(counts.index, counts.to_dict("records"), strict=True)
    ]
    return {"district_bars": stacked_bars(counts, "Cores by district and status"), "districts": rows, "items": items}


def _short_order(line: dict[Any, Any]) -> str:
    return f"{line['order']:,.0f} {line['unit']}" if pd.isna(line["packs"]) else f"{line['packs']:,} packs"


def _ages(result: "RunResult") -> dict[str, Any]:
    cores = result.cores[result.cores["is_open"]]
    opened = cores["opened_on"].dt.tz_localize(None).dt.normalize()
    days = (pd.Timestamp(result.as_of) - opened).dt.days
    if "opened_on" not in result.inputs.register.present:
        return {"ages": None, "undated": 0}
    ends = [-1, *_AGES, float("inf")]
    names = [f"{low + 1} to {high}" for low, high in pairwise(ends[:-1])] + [f"over {_AGES[-1]}"]
    # a date ahead of the audit is a finding; here it counts as today
    classes = pd.cut(days.clip(lower=0), ends, labels=names)
    counts = classes.value_counts(sort=False)
    fill = STATUS_LOOKS["pending"].fill
    return {"ages": columns_chart(counts, "Open cores by days open", fill), "undated": int(days.isna().sum())}


def _surfaces(result: "RunResult") -> list[dict[str, Any]]:
    counts = pd.crosstab(result.cores["surface"], result.cores["surface_from"])
    counts = counts.reindex(columns=["polygon", "segment", "register", "none"], fill_value=0)
    by_surface = {
        str(name): {str(key): int(count) for key, count in row.items()}
        for name, row in zip(counts.index, counts.to_dict("records"), strict=True)
    }
    return [
        {
            "surface": name,
            "cores": sum(by_surface[name].values()),
            "reinstate": surface.reinstate,
            "shade": surface.shade or "",
            "bedding": surface.bedding or "",
            **by_surface[name],
        }
        for name, surface in result.catalogue.surfaces.items()
        if name in by_surface
    ]


def _findings(result: "RunResult") -> dict[str, Any]:
    rules, found = result.audit.rules, result.audit.findings
    order = rules["severity"].map({severity: place for place, severity in enumerate(_SEVERITIES)})
    rules = rules.assign(order=order).sort_values(["order", "found", "rule"], ascending=[True, False, True])
    where = result.table.set_index("row")[["district", "street"]]
    shown = found.groupby("rule").head(_SAMPLE).join(where, on="row")
    for name in ("core_id", "district", "street"):
        shown[name] = shown[name].fillna("")
    rows = {rule: group.to_dict("records") for rule, group in shown.groupby("rule")}
    loud = rules[rules["found"].gt(0) & rules["severity"].ne("note")]
    return {
        "findings_total": len(found),
        "rules": rules.to_dict("records"),
        "unasked": rules.loc[rules["assessed"].eq(0), "rule"].tolist(),
        "samples": [one | {"rows": rows[one["rule"]]} for one in loud.to_dict("records")],
    }


def _sureness(result: "RunResult") -> dict[str, Any]:
    """How many cores each threshold of confidence would flag."""
    weighed = {"road segment": "segment_confidence", "surface": "surface_confidence", "district": "district_confidence"}
    known = {name: result.cores[column].dropna() for name, column in weighed.items()}
    if not any(len(confidence) for confidence in known.values()):
        return {"curve": None, "thresholds": []}
    counts = pd.DataFrame(
        {name: [int(confidence.lt(share).sum()) for share in _THRESHOLDS] for name, confidence in known.items()},
        index=[f"{share:.0%}" for share in _THRESHOLDS],
    )
    rows = [
        {"threshold": name, "counts": row} for name, row in zip(counts.index, counts.to_dict("records"), strict=True)
    ]
    return {"curve": curves(counts, "Cores less sure than each threshold", "threshold"), "thresholds": rows}


def _method(result: "RunResult") -> dict[str, Any]:
    materials, inputs = result.catalogue.materials, result.inputs
    units = {"kerf": "mm", "pilot_hole": "mm", "gap": "mm", "thickness": "mm", "bag": "kg", "pack": "kg"}
    units |= {"water_per_bag": "L", "wet_density": "kg/L", "bulk_density": "kg/L", "particle_density": "kg/L"}
    values = []
    for group, model in (("", materials.geometry), ("", materials.grout), *materials.bedding.items()):
        for name in type(model).model_fields:
            one = getattr(model, name)
            number = f"{one.value:g} {units[name]}" if name in units else f"{one.value:.0%}"
            values.append({"name": f"{group} {name.replace('_', ' ')}".strip(), "value": number, "source": one.source})
    values += [
        {
            "name": f"rule {one['rule']}, {one['threshold']}",
            "value": one["value"] if one["where"] == "everywhere" else f"{one['value']} on {one['where']}",
            "source": one["source"],
        }
        for one in result.audit.thresholds.to_dict("records")
    ]
    return {
        "files": inputs.files,
        "crs": f"{inputs.crs.name} ({name_of(inputs.crs)})",
        "diameter_is": result.settings.cores.diameter_is,
        "units": sorted(inputs.register.units.items()),
        "notices": inputs.notices,
        "choose": result.settings.matching.choose,
        "accuracy": result.settings.matching.accuracy_m,
        "reach": result.settings.matching.max_distance_m,
        "gap": result.settings.matching.district_gap_m,
        "values": values,
        "overridden": sorted(result.catalogue.overridden.items()),
    }
