"""Cores of Harbour Vale whose street, surface or district is a matter of how well the position is known."""

from typing import NamedTuple

import numpy as np
import shapely
from town_map import TownMap
from town_register import Cells, Core

__all__ = ["doubtful_cores"]


class Doubt(NamedTuple):
    """A core placed by hand: metres along a street's line and to the left of it, and what the register says.

    ``accuracy`` and ``method`` are the cells; without the first the method stands for it, as the programme says.
    """

    street: str
    chainage: float
    aside: float
    accuracy: str
    method: str
    written: str
    surface: str
    rules: tuple[str, ...]


_DOUBTS = (
    # in a corner, and the phone's error reaches both streets
    Doubt("Granary Street", 4.0, 3.5, "", "phone", "", "asphalt", ("road-uncertain",)),
    Doubt("Meadow Street", 342.5, -4.5, "10", "phone", "Meadow St / Anchor Ave", "asphalt", ("road-uncertain",)),
    Doubt("Net Lane", 139.0, 2.0, "6.0", "handset", "", "asphalt", ("road-uncertain",)),
    Doubt("Quince Avenue", 617.0, 4.8, "", "phone", "corner", "concrete", ("road-uncertain", "surface-uncertain")),
    # the end of a pad, or of a lane's concrete, is less than the error away
    Doubt("Mill Street", 569.6, 3.0, "1.8", "handset", "Mill Street", "composite", ("surface-uncertain",)),
    Doubt("Mill Street", 606.5, -3.0, "2.0", "handset", "Mill Street", "composite", ("surface-uncertain",)),
    Doubt("Slipway Lane", 195.6, 0.5, "1.2", "handset", "Slipway Lane", "concrete", ("surface-uncertain",)),
    Doubt("Oat Street", 5.9, -1.0, "1.5", "handset", "Oat St", "concrete", ("surface-uncertain",)),
    # districts meet in the middle of these streets
    Doubt("Mill Street", 80.0, 0.2, "1.4", "handset", "Mill Street", "composite", ("district-uncertain",)),
    Doubt("Anchor Avenue", 105.0, -0.3, "2.1", "handset", "Anchor Av", "asphalt", ("district-uncertain",)),
    Doubt("Orchard Road", 175.0, 0.1, "0.9", "handset", "Orchard Road", "asphalt", ("district-uncertain",)),
    # far from every other street, and another one is written down
    Doubt("Tide Avenue", 220.0, 1.8, "0.4", "rtk", "Plum Avenue", "composite", ("street-differs",)),
    Doubt("Chandler Street", 610.0, -2.2, "0.5", "rtk", "Market Street", "asphalt", ("street-differs",)),
    Doubt("Quince Avenue", 390.0, 1.1, "1.0", "handset", "Orchard Rd", "concrete", ("street-differs",)),
    # sure all the same: the written name settles a corner, the level a subway right below
    Doubt("Granary Street", 4.5, -2.0, "6", "phone", "Granary St", "asphalt", ()),
    Doubt("Harbour Road", 705.1, 2.2, "0.6", "rtk", "Harbour Rd", "asphalt", ()),
    Doubt("Harbour Road", 706.1, -2.4, "1.1", "handset", "Harbour Road", "asphalt", ()),
)
# nobody should pour on these
_LEFT_OPEN = {"road-uncertain", "surface-uncertain"}


def doubtful_cores(town: TownMap, rng: np.random.Generator, reinstated_share: float) -> list[Core]:
    """Place the cores; those whose street or surface is in doubt are not reinstated yet."""
    cores = []
    for doubt in _DOUBTS:
        line = town.lines[doubt.street]
        at, ahead = shapely.get_coordinates(
            shapely.line_interpolate_point(line, [doubt.chainage, doubt.chainage + 0.01])
        )
        along = (ahead - at) / np.linalg.norm(ahead - at)
        x, y = at + doubt.aside * np.array([-along[1], along[0]])
        done = bool(rng.random() < reinstated_share) and not _LEFT_OPEN & set(doubt.rules)
        cells: Cells = {"acc_m": doubt.accuracy, "how": doubt.method, "road": doubt.written}
        if "surface-uncertain" in doubt.rules:
            cells["surf"] = ""
        cores.append(Core(x, y, doubt.street, doubt.surface, done, rules=list(doubt.rules), by_hand=cells))
    return cores
