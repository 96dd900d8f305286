"""What each crew loads in the first week: bags by shade, gravel and water, by day and district."""

import datetime as dt
from typing import Final

import numpy as np
import pandas as pd

from pipeline.contracts import CORE_STATES, ORDER_TABLES, names_of
from pipeline.order.lines import item_of, whole_packs
from pipeline.order.periods import written
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.cautions import cautions_of_sheet

__all__ = ["LOAD_COLUMNS", "NO_CREW", "crew_loads"]

LOAD_COLUMNS: Final = names_of(ORDER_TABLES["loads"])
NO_CREW: Final = "(no crew)"
_WEEK: Final = 7
_HAZARD: Final = "hazard"


def crew_loads(cores: pd.DataFrame, visits: pd.DataFrame, catalogue: Catalogue, as_of: dt.date) -> pd.DataFrame:
    """Return the loads of the seven days from ``as_of``.

    Parameters
    ----------
    cores
        N open cores whose need is known: ``visit``, ``crew``, ``day``, ``district``, ``shade``, ``bedding``,
        ``core_id``, ``gravel_kg``, ``water_l_needed``, ``grout_kg``, ``surface``, ``state``, ``urgency``, ``core_kg``.
    visits
        ``visit``, ``shade``, ``shared``: bags mixed at each visit.
    catalogue
        Sizes of bags and packs, and the cautions for each surface.
    as_of
        The first of the seven days.

    Returns
    -------
    pandas.DataFrame
        LOAD_COLUMNS, one row per visit and item: ``carry`` is the amount in the bags mixed or in whole packs;
        ``core_ids`` begins with the ids in ``hazards``; ``cautions`` are those for the states and surfaces of the
        visit's cores, each once.
    """
    materials = catalogue.materials
    now = cores[cores["day"].lt(pd.Timestamp(as_of) + pd.Timedelta(days=_WEEK))].sort_values("row")
    grout = now.groupby(["visit", "shade"])["grout_kg"].sum().rename("needed").reset_index()
    mixed = visits[["visit", "shade", "shared"]]
    grout = grout.merge(mixed, on=["visit", "shade"], how="left", validate="one_to_one")
    bags = grout["shared"]
    grout = grout.assign(
        item=grout["shade"].map(item_of), unit="kg", carry=bags * materials.grout.bag.value, packs=np.ceil(bags)
    )
    gravel = now.groupby(["visit", "bedding"])["gravel_kg"].sum().rename("needed").reset_index()
    pack = gravel["bedding"].map({name: bedding.pack.value for name, bedding in materials.bedding.items()})
    pack = pack.astype(float)
    packs = whole_packs(gravel["needed"] / pack)
    gravel = gravel.assign(item=gravel["bedding"], unit="kg", carry=packs * pack, packs=packs)
    water = now.groupby("visit")["water_l_needed"].sum().rename("needed").reset_index()
    litres = grout.groupby("visit")["shared"].sum() * materials.grout.water_per_bag.value
    water = water.assign(item="water", unit="L", carry=water["visit"].map(litres), packs=np.nan)
    rows = pd.concat([grout, gravel, water], ignore_index=True).join(_visit_heads(now, catalogue), on="visit")
    rows = rows.sort_values(["day", "crew", "district", "visit", "item"], kind="stable").reset_index(drop=True)
    return rows[list(LOAD_COLUMNS)].astype({"packs": "Int64", "needed": float, "carry": float})


def _visit_heads(now: pd.DataFrame, catalogue: Catalogue) -> pd.DataFrame:
    """Return the day, crew, district, cores and cautions of each visit."""
    day = written(now["day"], "%Y-%m-%d")
    is_hazard = now["urgency"].eq(_HAZARD)
    now = now.assign(day=day, core_id=now["core_id"].fillna("(no id)"), is_hazard=is_hazard)
    heads = now.groupby("visit").agg(
        day=("day", "first"),
        crew=("crew", "first"),
        district=("district", "first"),
        cores=("row", "size"),
        heaviest_core_kg=("core_kg", "max"),
    )
    # hazards come first; the sort keeps the rows' order among equals
    first = now.sort_values("is_hazard", ascending=False, kind="stable")
    heads["core_ids"] = first.groupby("visit")["core_id"].agg("; ".join)
    hazards = now[is_hazard].groupby("visit")["core_id"].agg("; ".join)
    heads["hazards"] = hazards.reindex(heads.index).astype("str")
    heads["states"] = _states(now).reindex(heads.index)
    sheets = {
        visit: " ".join(cautions_of_sheet(catalogue.core_cautions, mine["state"], mine["surface"], mine["core_kg"]))
        for visit, mine in now.groupby("visit")
    }
    heads["cautions"] = pd.Series(sheets, dtype="str").reindex(heads.index)
    return heads


def _states(now: pd.DataFrame) -> pd.Series:
    """Return the number of each visit's cores by state, in words: "2 open; 1 plated"."""
    counts = now.groupby(["visit", "state"]).size().rename("n").reset_index()
    place = counts["state"].map({state: place for place, state in enumerate(CORE_STATES)})
    counts = counts.assign(place=place, text=counts["n"].astype("str") + " " + counts["state"])
    return counts.sort_values(["visit", "place"]).groupby("visit")["text"].agg("; ".join)
