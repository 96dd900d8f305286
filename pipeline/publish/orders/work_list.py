"""The work list: a line per core to reinstate, by district and period, hazards first."""

import pandas as pd

from pipeline.contracts import NO_DISTRICT, URGENCIES
from pipeline.programme.cautions import cautions_by_core
from pipeline.publish.urgent_first import rank_of
from pipeline.results import RunResult
from pipeline.units import convert

__all__ = ["whole_weights", "work_list"]


def whole_weights(core_kg: pd.Series, units: str) -> pd.Series:
    """Return N weights in whole kilograms, or in whole pounds for ``us``: they are only about right."""
    if units == "metric":
        return core_kg.round()
    return pd.Series(convert(core_kg, "kg", "lb"), core_kg.index).round()


def work_list(result: RunResult) -> pd.DataFrame:
    """Return a row per core that materials are ordered for, by district and period.

    Within a period hazards come first, then the other urgencies, then the days of the plan. Weights are in the units
    of the orders, and the heads are what a sheet shows.
    """
    units = result.settings.orders.units
    plan = result.orders.plan
    cores = result.cores.loc[plan.index]
    lines = pd.DataFrame(
        {
            "district": cores["district"].fillna(NO_DISTRICT),
            "period": plan["period"],
            "day": plan["day"],
            "crew": cores["crew"],
            "core id": cores["core_id"],
            "street": cores["street_matched"].fillna(cores["street"]),
            "chainage (m)": cores["chainage_m"].round(1),
            "state": cores["state"],
            "urgency": cores["urgency"],
            "status": cores["status"],
            "surface": cores["surface"],
            "shade": cores["shade"],
            "bags mixed": plan["bags_mixed"].round(2),
            "core weighs about (lb)" if units == "us" else "core weighs about (kg)": whole_weights(
                cores["core_kg"], units
            ),
            "findings": cores["findings"].str.replace(";", "; "),
            "cautions": cautions_by_core(
                result.catalogue.core_cautions, cores["state"], cores["surface"], cores["core_kg"]
            ),
        }
    )
    order = lines.assign(
        start=plan["period_start"], rank=rank_of(cores["urgency"], URGENCIES), row=cores["row"]
    ).sort_values(["district", "start", "period", "rank", "day", "row"], kind="stable")
    return lines.loc[order.index].reset_index(drop=True)
