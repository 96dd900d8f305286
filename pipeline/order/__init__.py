"""Order: the needs of the cores that are still open, added up by district into whole bags and packs."""

from math import ceil, fsum
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.catalogue import Catalogue, Materials
from pipeline.contracts import ORDER_COLUMNS

__all__ = ["NO_DISTRICT", "Orders", "order"]

NO_DISTRICT: Final = "(no district)"
_PERIOD: Final = "all"
# a sum that misses a whole bag by a rounding error is that whole bag
_DIGITS: Final = 9


class Orders(NamedTuple):
    """What to order.

    ``lines``: one row a district and item, ORDER_COLUMNS. ``left_out``: ``district``, ``reason``, ``cores``: open
    cores whose need is not known. ``cores``: how many cores the lines serve, ``unshared_bags``: bags of each
    shade if every core were given its own mix.
    """

    lines: pd.DataFrame
    left_out: pd.DataFrame
    cores: int
    unshared_bags: dict[str, int]


def order(cores: pd.DataFrame, catalogue: Catalogue) -> Orders:
    """Add up the needs of the open cores.

    Parameters
    ----------
    cores
        N rows with ``is_open``, ``is_copy``, ``is_thin``, ``district``, ``surface``, ``reinstatable``, ``shade``,
        ``bedding`` and the need columns; a core that is flagged but still open is ordered for as well.
    catalogue
        Sizes of bags and packs.

    Returns
    -------
    Orders
        ``needed`` is the exact sum in kilograms or litres, ``order`` what whole packs (or, for water, whole bags
        of grout) come to, ``reserve`` the part of ``order`` beyond the need, ``packs`` their number.
    """
    district = cores["district"].fillna(NO_DISTRICT)
    open_cores = cores.assign(district=district)[cores["is_open"]]
    known = open_cores["bags"].notna()
    served = open_cores[known]
    lines = [
        line
        for name, group in served.groupby("district", sort=True)
        for line in _lines(str(name), group, catalogue.materials)
    ]
    alone = {str(shade): int(np.ceil(group["bags"].round(_DIGITS)).sum()) for shade, group in served.groupby("shade")}
    frame = pd.DataFrame(lines, columns=list(ORDER_COLUMNS)).astype(
        {"packs": "Int64", "needed": float, "order": float, "reserve": float}
    )
    return Orders(frame, _left_out(open_cores[~known]), len(served), alone)


def _lines(district: str, cores: pd.DataFrame, materials: Materials) -> list[tuple[object, ...]]:
    grout = materials.grout
    lines: list[tuple[object, ...]] = []
    bags = 0
    for shade, group in cores.groupby("shade", sort=True):
        needed, packs = _whole_packs(group["grout_kg"], grout.bag.value)
        bags += packs
        lines.append(_line(district, f"grout {shade}", needed, packs, grout.bag.value))
    for bedding, group in cores.groupby("bedding", sort=True):
        pack_kg = materials.bedding[str(bedding)].pack.value
        lines.append(_line(district, str(bedding), *_whole_packs(group["gravel_kg"], pack_kg), pack_kg))
    # every bag takes its water exactly, also what is left of the last one
    water, ordered = fsum(cores["water_l_needed"]), bags * grout.water_per_bag.value
    lines.append((district, _PERIOD, "water", "L", water, ordered, ordered - water, None))
    return lines


def _whole_packs(needs_kg: pd.Series, pack_kg: float) -> tuple[float, int]:
    """The exact sum, and the packs that hold it."""
    # fsum gives the same sum in whatever order the rows stand
    needed = fsum(needs_kg)
    return needed, ceil(round(needed / pack_kg, _DIGITS))


def _line(district: str, item: str, needed: float, packs: int, pack_kg: float) -> tuple[object, ...]:
    return (district, _PERIOD, item, "kg", needed, packs * pack_kg, packs * pack_kg - needed, packs)


def _left_out(cores: pd.DataFrame) -> pd.DataFrame:
    reason = np.select(
        [cores["is_copy"], cores["surface"].eq("unknown"), ~cores["reinstatable"], cores["is_thin"]],
        [
            "the row stands twice and is counted once",
            "surface not known",
            "surface takes no core back",
            "pavement too thin for its core to go back",
        ],
        "diameter or depth not known or not to be believed",
    )
    table = pd.DataFrame({"district": cores["district"], "reason": pd.Series(reason, cores.index, dtype="str")})
    return table.groupby(["district", "reason"]).size().rename("cores").reset_index()
