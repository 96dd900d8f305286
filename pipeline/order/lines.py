"""The lines of an order: needs of open cores by district, period and item, in whole bags and packs."""

from math import fsum
from typing import Final

import numpy as np
import pandas as pd

from pipeline.contracts import ORDER_COLUMNS
from pipeline.programme.catalogue import Materials

__all__ = ["item_of", "order_lines", "whole_packs"]

# a sum that misses a whole pack by a rounding error is that whole pack
_DIGITS: Final = 9
_DUE: Final = ["district", "period"]


def item_of(shade: str) -> str:
    """Return the name of the item that grout of a shade is ordered as."""
    return f"grout {shade}"


def whole_packs(packs: pd.Series) -> pd.Series:
    """Return numbers of packs rounded up to whole packs."""
    whole: pd.Series = np.ceil(packs.round(_DIGITS))
    return whole


def order_lines(cores: pd.DataFrame, bags: pd.DataFrame, materials: Materials) -> pd.DataFrame:
    """Return the lines of the order.

    Parameters
    ----------
    cores
        N open cores whose need is known: ``district``, ``period``, ``shade``, ``bedding`` and the need columns.
    bags
        ``district``, ``period``, ``shade``, ``shared``: bags mixed.
    materials
        Sizes of bags and packs.

    Returns
    -------
    pandas.DataFrame
        ORDER_COLUMNS, one row per district, period and item. ``needed`` is the exact sum in kilograms or litres,
        ``order`` the amount in whole bags or packs (of water: for the bags mixed), ``reserve`` the rounding surplus,
        that is ``order`` less ``needed``, and ``packs`` the number of bags or packs.
    """
    bag = materials.grout.bag.value
    # fsum gives the same sum in any order of the rows
    grout = cores.groupby([*_DUE, "shade"])["grout_kg"].agg(fsum).rename("needed").reset_index()
    grout = grout.merge(bags[[*_DUE, "shade", "shared"]], on=[*_DUE, "shade"], how="left", validate="one_to_one")
    # half a bag is half of one that was bought
    grout = grout.assign(item=grout["shade"].map(item_of), packs=whole_packs(grout["shared"]), pack=bag, rank=0)
    gravel = cores.groupby([*_DUE, "bedding"])["gravel_kg"].agg(fsum).rename("needed").reset_index()
    pack = gravel["bedding"].map({name: bedding.pack.value for name, bedding in materials.bedding.items()})
    pack = pack.astype(float)
    gravel = gravel.assign(item=gravel["bedding"], packs=whole_packs(gravel["needed"] / pack), pack=pack, rank=1)
    packed = pd.concat([grout, gravel], ignore_index=True)
    packed = packed.assign(unit="kg", order=packed["packs"] * packed["pack"])
    # every bag takes its full water, including the part that is left over
    water = cores.groupby(_DUE)["water_l_needed"].agg(fsum).rename("needed").reset_index()
    mixed = grout.groupby(_DUE)["shared"].sum() * materials.grout.water_per_bag.value
    water = water.merge(mixed.rename("order"), on=_DUE, how="left", validate="one_to_one")
    water = water.assign(item="water", unit="L", packs=np.nan, rank=2)
    lines = pd.concat([packed, water], ignore_index=True).sort_values([*_DUE, "rank", "item"], kind="stable")
    lines = lines.assign(reserve=lines["order"] - lines["needed"]).reset_index(drop=True)
    return lines[list(ORDER_COLUMNS)].astype({"packs": "Int64", "needed": float, "order": float, "reserve": float})
