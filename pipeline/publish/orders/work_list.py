"""The work list: a line per core that the plan visits, by crew, day and stop, with the key to its cautions."""

from typing import Final

import pandas as pd

from pipeline.contracts import NO_DISTRICT
from pipeline.programme.cautions import cautions_by_core
from pipeline.publish.plan.sheet_units import in_us_unit
from pipeline.results import RunResult
from pipeline.units import convert

__all__ = ["caution_key", "whole_weights", "work_list"]

# what the list shows of a core
_SHOWN: Final = (
    "core_id", "district", "street_matched", "street", "chainage_m", "state", "urgency", "status", "surface", "core_kg",
    "findings",
)  # fmt: skip
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def whole_weights(core_kg: pd.Series, units: str) -> pd.Series:
    """Return N weights in whole kilograms, or in whole pounds for ``us``: they are only about right."""
    if units == "metric":
        return core_kg.round()
    return pd.Series(convert(core_kg, "kg", "lb"), core_kg.index).round()


def work_list(result: RunResult) -> pd.DataFrame:
    """Return a row per core that the plan visits, by crew, day and stop: those to survey and to make safe too.

    Weights are in the units of the orders, the heads are what a sheet shows, and ``cautions`` are letters of the key.
    """
    units = result.settings.orders.units
    stops = result.plan.stops.sort_values(["crew", "day", "stop"], kind="stable")
    cores = result.cores[list(_SHOWN)].loc[stops.index]
    return pd.DataFrame(
        {
            "crew": stops["crew"],
            "day": stops["day"],
            "stop": stops["stop"],
            "core id": cores["core_id"],
            "task": stops["task"],
            "district": cores["district"].fillna(NO_DISTRICT),
            "street": cores["street_matched"].fillna(cores["street"]),
            **_chainage(cores["chainage_m"], units),
            "state": cores["state"],
            "urgency": cores["urgency"],
            "status": cores["status"],
            "surface": cores["surface"],
            "shade": stops["shade"],
            "bags to mix": stops["bags"].where(stops["mix"].notna()).round(2),
            "core weighs about (lb)" if units == "us" else "core weighs about (kg)": whole_weights(
                cores["core_kg"], units
            ),
            "findings": cores["findings"].str.replace(";", "; "),
            "cautions": _letters(_cautions(result, cores))[0],
        }
    ).reset_index(drop=True)


def _chainage(chainage_m: pd.Series, units: str) -> dict[str, pd.Series]:
    if units == "metric":
        return {"chainage (m)": chainage_m.round(1)}
    return {"chainage (ft)": (chainage_m * in_us_unit(1.0, "m", "ft")).round()}


def caution_key(result: RunResult) -> list[str]:
    """Return what the letters of the work list mean, a line each."""
    stops = result.plan.stops.sort_values(["crew", "day", "stop"], kind="stable")
    return _letters(_cautions(result, result.cores[["state", "surface"]].loc[stops.index]))[1]


def _cautions(result: RunResult, cores: pd.DataFrame) -> pd.Series:
    # what a core weighs has a column of its own
    weight = pd.Series(float("nan"), cores.index)
    return cautions_by_core(result.catalogue.core_cautions, cores["state"], cores["surface"], weight)


def _letters(texts: pd.Series) -> tuple[pd.Series, list[str]]:
    """Return a letter for each different text, in the order in which they come, and the key."""
    codes, different = pd.factorize(texts)
    names = [_LETTERS[at] if at < len(_LETTERS) else f"Z{at - len(_LETTERS) + 1}" for at in range(len(different))]
    letters = pd.Series(pd.Series(names, dtype="str").take(codes).array, texts.index)
    return letters, [f"Cautions {name}: {text}" for name, text in zip(names, different, strict=True)]
