"""Cores placed by hand, whose street, surface or district depends on how accurate their position is."""

from typing import NamedTuple

import numpy as np
import shapely
from register_cells import Cells, Core
from town_map import TownMap

__all__ = ["uncertain_cores"]


class Placed(NamedTuple):
    """A core placed by hand, in metres along a street's line and to the left of it, with its cells of the register.

    ``accuracy``, ``method``: without an accuracy the programme's figure for the method is used. ``written``: the street
    as the register has it. ``rules``: the findings it is to have.
    """

    street: str
    chainage: float
    aside: float
    accuracy: str
    method: str
    written: str
    surface: str
    rules: tuple[str, ...]


_PLACED = (
    # in a corner, and the phone's error reaches both streets
    Placed("Granary Street", 4.0, 3.5, "", "phone", "", "asphalt", ("road-uncertain",)),
    Placed("Meadow Street", 342.5, -4.5, "10", "phone", "Meadow St / Anchor Ave", "asphalt", ("road-uncertain",)),
    Placed("Net Lane", 139.0, 2.0, "6.0", "handset", "", "asphalt", ("road-uncertain",)),
    Placed("Quince Avenue", 617.0, 4.8, "", "phone", "corner", "concrete", ("road-uncertain", "surface-uncertain")),
    # the end of a pad, or of a lane's concrete, is less than the error away
    Placed("Mill Street", 569.6, 3.0, "1.8", "handset", "Mill Street", "composite", ("surface-uncertain",)),
    Placed("Mill Street", 606.5, -3.0, "2.0", "handset", "Mill Street", "composite", ("surface-uncertain",)),
    Placed("Slipway Lane", 195.6, 0.5, "1.2", "handset", "Slipway Lane", "concrete", ("surface-uncertain",)),
    Placed("Oat Street", 5.9, -1.0, "1.5", "handset", "Oat St", "concrete", ("surface-uncertain",)),
    # districts meet in the middle of these streets
    Placed("Mill Street", 80.0, 0.2, "1.4", "handset", "Mill Street", "composite", ("district-uncertain",)),
    Placed("Anchor Avenue", 105.0, -0.3, "2.1", "handset", "Anchor Av", "asphalt", ("district-uncertain",)),
    Placed("Orchard Road", 175.0, 0.1, "0.9", "handset", "Orchard Road", "asphalt", ("district-uncertain",)),
    # far from every other street, with the name of another
    Placed("Tide Avenue", 220.0, 1.8, "0.4", "rtk", "Plum Avenue", "composite", ("street-differs",)),
    Placed("Chandler Street", 610.0, -2.2, "0.5", "rtk", "Market Street", "asphalt", ("street-differs",)),
    Placed("Quince Avenue", 390.0, 1.1, "1.0", "handset", "Orchard Rd", "concrete", ("street-differs",)),
    # certain all the same: the written name decides at a corner, the level above a subway
    Placed("Granary Street", 4.5, -2.0, "6", "phone", "Granary St", "asphalt", ()),
    Placed("Harbour Road", 705.1, 2.2, "0.6", "rtk", "Harbour Rd", "asphalt", ()),
    Placed("Harbour Road", 706.1, -2.4, "1.1", "handset", "Harbour Road", "asphalt", ()),
)
# nobody should pour grout here
_LEFT_OPEN = {"road-uncertain", "surface-uncertain"}


def uncertain_cores(town: TownMap, rng: np.random.Generator, reinstated_share: float) -> list[Core]:
    """Return the cores; those whose street or surface is uncertain are not yet reinstated."""
    cores = []
    for placed in _PLACED:
        line = town.lines[placed.street]
        at, ahead = shapely.get_coordinates(
            shapely.line_interpolate_point(line, [placed.chainage, placed.chainage + 0.01])
        )
        along = (ahead - at) / np.linalg.norm(ahead - at)
        x, y = at + placed.aside * np.array([-along[1], along[0]])
        done = bool(rng.random() < reinstated_share) and not _LEFT_OPEN & set(placed.rules)
        cells: Cells = {"acc_m": placed.accuracy, "how": placed.method, "road": placed.written}
        if "surface-uncertain" in placed.rules:
            cells["surf"] = ""
        cores.append(Core(x, y, placed.street, placed.surface, done, rules=list(placed.rules), by_hand=cells))
    return cores
