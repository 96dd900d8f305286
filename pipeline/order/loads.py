"""What each crew carries in the first week: bags by shade, gravel, water, by day and district."""

import datetime as dt
from typing import Final

import numpy as np
import pandas as pd

from pipeline.catalogue import Materials
from pipeline.order.lines import item_of

__all__ = ["LOAD_COLUMNS", "NO_CREW", "crew_loads"]

LOAD_COLUMNS: Final = ("day", "crew", "district", "cores", "item", "unit", "needed", "carry", "packs", "core_ids")
NO_CREW: Final = "(no crew)"
_ANY_DAY: Final = "any day of the week"
_WEEK: Final = 7
_DIGITS: Final = 9


def crew_loads(served: pd.DataFrame, visits: pd.DataFrame, materials: Materials, as_of: dt.date) -> pd.DataFrame:
    """Return the loads of the seven days from ``as_of``.

    Parameters
    ----------
    served
        N open cores whose need is known: ``visit``, ``crew``, ``day``, ``district``, ``shade``, ``bedding``,
        ``core_id``, ``gravel_kg``, ``water_l_needed``, ``grout_kg``.
    visits
        ``visit``, ``shade``, ``shared``: bags mixed at each visit.
    materials
        Sizes of bags and packs.
    as_of
        The first of the seven days.

    Returns
    -------
    pandas.DataFrame
        LOAD_COLUMNS, one row a visit and item: ``carry`` is what whole bags and packs come to.
    """
    today = pd.Timestamp(as_of)
    now = served[served["day"].lt(today + pd.Timedelta(days=_WEEK))]
    rows: list[tuple[object, ...]] = []
    bag, water = materials.grout.bag.value, materials.grout.water_per_bag.value
    mixed = dict(zip(zip(visits["visit"], visits["shade"], strict=True), visits["shared"], strict=True))
    for visit, group in now.groupby("visit", sort=True):
        first = group.iloc[0]
        day = _ANY_DAY if first["planned_by"] == "level plan" else first["day"].strftime("%Y-%m-%d")
        ids = "; ".join(group.sort_values("row")["core_id"].fillna("without id"))
        head = (day, first["crew"], first["district"], len(group))
        bags = 0.0
        for shade, cores in group.groupby("shade", sort=True):
            shared = float(mixed[str(visit), str(shade)])
            bags += shared
            rows.append((*head, item_of(str(shade)), "kg", cores["grout_kg"].sum(), shared * bag, np.ceil(shared), ids))
        for bedding, cores in group.groupby("bedding", sort=True):
            pack = materials.bedding[str(bedding)].pack.value
            packs = np.ceil(round(cores["gravel_kg"].sum() / pack, _DIGITS))
            rows.append((*head, str(bedding), "kg", cores["gravel_kg"].sum(), packs * pack, packs, ids))
        rows.append((*head, "water", "L", group["water_l_needed"].sum(), bags * water, None, ids))
    frame = pd.DataFrame(rows, columns=list(LOAD_COLUMNS)).astype({"packs": "Int64", "needed": float, "carry": float})
    return frame.sort_values(["day", "crew", "district", "item"], kind="stable").reset_index(drop=True)
