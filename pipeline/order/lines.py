"""The lines of an order: needs of open cores by district, period and item, in whole packs."""

from math import fsum
from typing import Final

import numpy as np
import pandas as pd

from pipeline.contracts import ORDER_COLUMNS
from pipeline.programme.catalogue import Materials

__all__ = ["item_of", "order_lines", "whole_packs"]

# a sum that misses a whole bag by a rounding error is that whole bag
_DIGITS: Final = 9
_PLACE: Final = ["district", "period"]


def item_of(shade: str) -> str:
    """Name the item that grout of a shade is ordered as."""
    return f"grout {shade}"


def whole_packs(packs: pd.Series) -> pd.Series:
    """Return the whole packs that hold so many."""
    whole: pd.Series = np.ceil(packs.round(_DIGITS))
    return whole


def order_lines(served: pd.DataFrame, bags: pd.DataFrame, materials: Materials) -> pd.DataFrame:
    """Add up the needs.

    Parameters
    ----------
    served
        N open cores whose need is known: ``district``, ``period``, ``shade``, ``bedding`` and the need columns.
    bags
        ``district``, ``period``, ``shade``, ``shared``: bags that are mixed.
    materials
        Sizes of bags and packs.

    Returns
    -------
    pandas.DataFrame
        ORDER_COLUMNS, one row a district, period and item. ``needed`` is the exact sum in kilograms or litres,
        ``order`` what whole packs (or, for water, the bags mixed) come to, ``reserve`` the part of ``order`` beyond
        the need, ``packs`` their number.
    """
    bag = materials.grout.bag.value
    # fsum gives the same sum in whatever order the rows stand
    grout = served.groupby([*_PLACE, "shade"])["grout_kg"].agg(fsum).rename("needed").reset_index()
    grout = grout.merge(bags[[*_PLACE, "shade", "shared"]], on=[*_PLACE, "shade"], how="left", validate="one_to_one")
    # a half bag is the half of one that was bought
    grout = grout.assign(item=grout["shade"].map(item_of), packs=whole_packs(grout["shared"]), pack=bag, rank=0)
    gravel = served.groupby([*_PLACE, "bedding"])["gravel_kg"].agg(fsum).rename("needed").reset_index()
    pack = gravel["bedding"].map({name: one.pack.value for name, one in materials.bedding.items()}).astype(float)
    gravel = gravel.assign(item=gravel["bedding"], packs=whole_packs(gravel["needed"] / pack), pack=pack, rank=1)
    packed = pd.concat([grout, gravel], ignore_index=True)
    packed = packed.assign(unit="kg", order=packed["packs"] * packed["pack"])
    # every bag takes its water exactly, also what is left of the last one
    water = served.groupby(_PLACE)["water_l_needed"].agg(fsum).rename("needed").reset_index()
    mixed = grout.groupby(_PLACE)["shared"].sum() * materials.grout.water_per_bag.value
    water = water.merge(mixed.rename("order"), on=_PLACE, how="left", validate="one_to_one")
    water = water.assign(item="water", unit="L", packs=np.nan, rank=2)
    lines = pd.concat([packed, water], ignore_index=True).sort_values([*_PLACE, "rank", "item"], kind="stable")
    lines = lines.assign(reserve=lines["order"] - lines["needed"]).reset_index(drop=True)
    return lines[list(ORDER_COLUMNS)].astype({"packs": "Int64", "needed": float, "order": float, "reserve": float})
