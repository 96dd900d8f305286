"""What each crew loads on each of the first seven days of the plan: bags by shade, gravel and water."""

from typing import Final

import numpy as np
import pandas as pd

from pipeline.contracts import CORE_STATES, ORDER_TABLES, names_of
from pipeline.order.lines import item_of, whole_packs
from pipeline.order.periods import written
from pipeline.programme.catalogue import Catalogue, Materials
from pipeline.programme.cautions import cautions_of_sheets

__all__ = ["LOAD_COLUMNS", "crew_loads"]

LOAD_COLUMNS: Final = names_of(ORDER_TABLES["loads"])
_WEEK: Final = 7
_HAZARD: Final = "hazard"
_LINE: Final = ["visit", "item"]


def crew_loads(cores: pd.DataFrame, catalogue: Catalogue) -> pd.DataFrame:
    """Return the loads of the seven days from the first day of the plan.

    Parameters
    ----------
    cores
        N cores that the plan reinstates: ``visit`` (a crew's day), ``crew``, ``day``, ``stop``, ``mix``,
        ``bags_opened``, ``district``, ``shade``, ``bedding``, ``core_id``, ``grout_kg``, ``gravel_kg``,
        ``water_l_needed``, ``surface``, ``state``, ``urgency``, ``core_kg``, ``row``.
    catalogue
        Sizes of bags and packs, and the cautions for each surface.

    Returns
    -------
    pandas.DataFrame
        LOAD_COLUMNS, one row per crew, day and item. ``cores``, ``core_ids``, ``hazards``, ``states`` and
        ``heaviest_core_kg`` are those of the cores that take the item: grout of one shade names the cores of that shade
        alone. ``core_ids`` begins with the ids in ``hazards``, each group in the order of the stops. ``carry`` is the
        amount in the bags to mix or in whole packs; ``cautions`` are those of the crew's day, each once.
    """
    now = cores[cores["day"].lt(cores["day"].min() + pd.Timedelta(days=_WEEK))]
    now = now.assign(
        day=written(now["day"], "%Y-%m-%d"),
        core_id=now["core_id"].fillna("(no id)"),
        is_hazard=now["urgency"].eq(_HAZARD),
    ).sort_values(["visit", "stop", "row"], kind="stable")
    taken = _taken(now, catalogue.materials)
    lines = pd.concat([_quantities(taken, catalogue.materials), _named(taken)], axis="columns").reset_index()
    rows = lines.join(_visit_heads(now, catalogue), on="visit")
    rows = rows.sort_values(["day", "crew", "rank", "item"], kind="stable").reset_index(drop=True)
    return rows[list(LOAD_COLUMNS)].astype({"packs": "Int64", "needed": float, "carry": float})


def _taken(now: pd.DataFrame, materials: Materials) -> pd.DataFrame:
    """Return one row per core and item that it takes: ``quantity`` is its need, ``opened`` the bags opened at it."""
    grout = now.assign(item=now["shade"].map(item_of), quantity=now["grout_kg"], opened=now["bags_opened"], rank=0)
    gravel = now.assign(item=now["bedding"], quantity=now["gravel_kg"], opened=0.0, rank=1)
    water = now.assign(item="water", quantity=now["water_l_needed"], opened=now["bags_opened"], rank=2)
    pack = {name: bedding.pack.value for name, bedding in materials.bedding.items()}
    taken = pd.concat([grout, gravel[gravel["item"].notna()], water], ignore_index=True)
    return taken.assign(pack=taken["item"].map(pack).astype(float))


def _quantities(taken: pd.DataFrame, materials: Materials) -> pd.DataFrame:
    """Return the needs and what is loaded, one row per crew's day and item."""
    lines = taken.groupby(_LINE).agg(
        needed=("quantity", "sum"),
        opened=("opened", "sum"),
        pack=("pack", "first"),
        rank=("rank", "first"),
        cores=("row", "size"),
        heaviest_core_kg=("core_kg", "max"),
    )
    is_grout, is_water = lines["rank"].eq(0), lines["rank"].eq(2)
    packs = whole_packs(lines["opened"].where(is_grout, lines["needed"] / lines["pack"])).mask(is_water)
    carry = (packs * lines["pack"]).mask(is_grout, lines["opened"] * materials.grout.bag.value)
    return lines.assign(
        unit=np.where(is_water, "L", "kg"),
        packs=packs,
        carry=carry.mask(is_water, lines["opened"] * materials.grout.water_per_bag.value),
    )


def _named(taken: pd.DataFrame) -> pd.DataFrame:
    """Return the ids of the cores of each line, those with a hazard, who shares a mix, and the states."""
    # the sort keeps the order of the stops among equals
    first = taken.sort_values("is_hazard", ascending=False, kind="stable")
    heads = first.groupby(_LINE)["core_id"].agg("; ".join).rename("core_ids").to_frame()
    heads["hazards"] = taken[taken["is_hazard"]].groupby(_LINE)["core_id"].agg("; ".join).reindex(heads.index)
    mixes = (
        taken[taken["rank"].eq(0) & taken["mix"].notna()].groupby([*_LINE, "mix"])["core_id"].agg(["size", " + ".join])
    )
    shared = mixes[mixes["size"].gt(1)].reset_index()
    texts = shared.assign(text="mix " + shared["mix"].astype("str") + ": " + shared["join"]).groupby(_LINE)["text"]
    heads["mixes"] = texts.agg("; ".join).reindex(heads.index)
    heads["states"] = _states(taken).reindex(heads.index)
    return heads.astype("str")


def _states(taken: pd.DataFrame) -> pd.Series:
    """Return the number of each line's cores by state, in words: "2 open; 1 plated"."""
    counts = taken.groupby([*_LINE, "state"]).size().rename("n").reset_index()
    place = counts["state"].map({state: place for place, state in enumerate(CORE_STATES)})
    counts = counts.assign(place=place, text=counts["n"].astype("str") + " " + counts["state"])
    return counts.sort_values([*_LINE, "place"]).groupby(_LINE)["text"].agg("; ".join)


def _visit_heads(now: pd.DataFrame, catalogue: Catalogue) -> pd.DataFrame:
    """Return the day, crew, districts and cautions of each crew's day."""
    by_visit = now.groupby("visit")
    heads = by_visit.agg(day=("day", "first"), crew=("crew", "first"))
    districts = now.drop_duplicates(["visit", "district"]).groupby("visit")["district"]
    heads["district"] = districts.agg("; ".join)
    cautions = cautions_of_sheets(catalogue.core_cautions, now["visit"], now["state"], now["surface"], now["core_kg"])
    heads["cautions"] = cautions.reindex(heads.index)
    return heads
