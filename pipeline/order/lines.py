"""The lines of an order: needs of open cores by district, period and item, in whole packs."""

from math import ceil, fsum
from typing import Final

import pandas as pd

from pipeline.catalogue import Materials
from pipeline.contracts import ORDER_COLUMNS

__all__ = ["item_of", "order_lines"]

# a sum that misses a whole bag by a rounding error is that whole bag
_DIGITS: Final = 9


def item_of(shade: str) -> str:
    """Name the item that grout of a shade is ordered as."""
    return f"grout {shade}"


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
        ``order`` what whole packs (or, for water, the bags mixed) come to, ``reserve`` the part of ``order`` beyond the
        need, ``packs`` their number.
    """
    grout = materials.grout
    keys = zip(bags["district"], bags["period"], bags["shade"], strict=True)
    mixed = dict(zip(keys, bags["shared"], strict=True))
    lines: list[tuple[object, ...]] = []
    for (district, period), group in served.groupby(["district", "period"], sort=True):
        parts = 0.0
        for shade, cores in group.groupby("shade", sort=True):
            shared = float(mixed[str(district), str(period), str(shade)])
            parts += shared
            # a half bag is the half of one that was bought
            packs = ceil(round(shared, _DIGITS))
            # fsum gives the same sum in whatever order the rows stand
            lines.append(_line(district, period, item_of(str(shade)), fsum(cores["grout_kg"]), packs, grout.bag.value))
        for bedding, cores in group.groupby("bedding", sort=True):
            pack_kg = materials.bedding[str(bedding)].pack.value
            needed = fsum(cores["gravel_kg"])
            packs = ceil(round(needed / pack_kg, _DIGITS))
            lines.append(_line(district, period, str(bedding), needed, packs, pack_kg))
        # every bag takes its water exactly, also what is left of the last one
        water, ordered = fsum(group["water_l_needed"]), parts * grout.water_per_bag.value
        lines.append((district, period, "water", "L", water, ordered, ordered - water, None))
    return pd.DataFrame(lines, columns=list(ORDER_COLUMNS)).astype(
        {"packs": "Int64", "needed": float, "order": float, "reserve": float}
    )


def _line(district: object, period: object, item: str, needed: float, packs: int, pack_kg: float) -> tuple[object, ...]:
    return (district, period, item, "kg", needed, packs * pack_kg, packs * pack_kg - needed, packs)
