"""Cores packed into the columns that draw them on the map page.

Positions become Web-Mercator integers, 2**30 to the width of the world (3.7 cm at the equator): for drawing
only, never for measuring. Cores with a position are in Morton order, so that every map tile is a few runs of rows.
"""

import json
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.contracts import STATUSES
from pipeline.errors import ContractError
from pipeline.publish.among import is_among
from pipeline.publish.looks import STREET_LEVELS
from pipeline.publish.map.packing import Ints, bundle, pack_ints
from pipeline.publish.map.squeezing import Squeeze, squeezed

__all__ = [
    "HAZARD",
    "UNKNOWN_STATE_RULES",
    "UNSURE_RULES",
    "core_levels",
    "count_statuses",
    "floats",
    "mercator",
    "morton_keys",
    "pack_drawing",
    "page_order",
    "position_step",
    "symbol_zooms",
    "to_json",
]

Floats = npt.NDArray[np.float64]

# a core with one of these findings is drawn hollow: its street, surface or district is uncertain
UNSURE_RULES: Final = ("road-uncertain", "surface-uncertain", "district-uncertain")
# of a core with one of these findings nobody knows whether it is open or reinstated
UNKNOWN_STATE_RULES: Final = ("reinstatement-date-unreadable",)
WORLD: Final = 2**30
# with more cores than this, positions keep every fourth integer: off by 8 cm at most instead of 2 cm, so that the file
# can be mailed
MANY: Final = 500_000
MANY_STEP: Final = 4
# degrees of latitude: the edge of the square Web Mercator map; a core nearer a pole is drawn on the edge
MERCATOR_LIMIT: Final = 85.05

# cores with these urgencies are marked on the map
HAZARD: Final = "hazard"
OVERDUE: Final = "overdue"
# symbols can be told apart up to about this many in a square of 512 pixels; where other cores are left out, fewer of
# them, so that the street below stays visible
CROWD: Final = 220
CROWD_OF_FLAGGED: Final = 60
# the tile zoom from which every core has a symbol, however many lie at one place
LAST_FAR_ZOOM: Final = 18
# one square in fifty may be fuller
FULLEST_SHARE: Final = 0.98

# so that JSON cannot end its script element, open a comment in it, or break an old script parser's line
ESCAPES = {ord(c): f"\\u{ord(c):04x}" for c in "<>&\u2028\u2029"}


# what marks a core, in the bits above its status, which is its place among the statuses
MARKS: Final = {"unsure": 4, "hazard": 8, "overdue": 16, "loose": 32}


def to_json(value: object) -> str:
    """Return JSON that is safe between script tags.

    Raises
    ------
    ValueError
        A number is not finite.
    """
    return json.dumps(value, allow_nan=False, separators=(",", ":")).translate(ESCAPES)


def mercator(lon: Floats, lat: Floats) -> tuple[Ints, Ints]:
    """Return the drawing integers of positions in degrees (EPSG:4326)."""
    sine = np.sin(np.radians(np.clip(lat, -MERCATOR_LIMIT, MERCATOR_LIMIT)))
    x = (lon + 180) / 360
    y = 0.5 - np.arctanh(sine) / (2 * np.pi)
    return _to_world(x), _to_world(y)


def _to_world(share: Floats) -> Ints:
    return np.clip(np.rint(share * WORLD), 0, WORLD - 1).astype(np.int64)


def _spread(values: Ints) -> npt.NDArray[np.uint64]:
    spread = values.astype(np.uint64)
    for shift, mask in (
        (16, 0x0000FFFF0000FFFF),
        (8, 0x00FF00FF00FF00FF),
        (4, 0x0F0F0F0F0F0F0F0F),
        (2, 0x3333333333333333),
        (1, 0x5555555555555555),
    ):
        spread = (spread | (spread << np.uint64(shift))) & np.uint64(mask)
    return spread


def morton_keys(x: Ints, y: Ints) -> npt.NDArray[np.uint64]:
    """Return the Morton key of each position in drawing integers: the bits of x and y by turns."""
    return _spread(x) | (_spread(y) << np.uint64(1))


def page_order(cores: pd.DataFrame) -> tuple[Ints, int]:
    """Return the positions of the rows of ``cores`` in the page's order, and how many have coordinates.

    Those with coordinates come first, in Morton order, ties in the order of the register; the others follow.
    """
    lon, lat = floats(cores["lon"]), floats(cores["lat"])
    is_placed = np.isfinite(lon) & np.isfinite(lat)
    placed = np.flatnonzero(is_placed)
    x, y = mercator(lon[placed], lat[placed])
    morton = np.argsort(morton_keys(x, y), kind="stable")
    return np.concatenate([placed[morton], np.flatnonzero(~is_placed)]), placed.size


def position_step(placed: int) -> int:
    """Return the spacing of the drawing integers that positions are kept to."""
    return MANY_STEP if placed > MANY else 1


def core_levels(cores: pd.DataFrame) -> Ints:
    """Return what each core makes of its street, as a position in ``STREET_LEVELS``: the lower, the more urgent.

    Of what is overdue only open cores count: a late notice of a core that was reinstated long ago needs nobody on site,
    and a street would have the same colour for both.
    """
    urgency = cores["urgency"] if "urgency" in cores else pd.Series(None, index=cores.index, dtype="str")
    tests = [
        urgency.eq(HAZARD),
        urgency.eq(OVERDUE) & ~_is_reinstated(cores),
        cores["status"].eq("flagged"),
        cores["status"].eq("pending"),
    ]
    levels = [STREET_LEVELS.index(level) for level in ("hazard", "overdue", "flagged", "open", "order")]
    found: Ints = np.select([test.to_numpy(dtype=bool) for test in tests], levels[:-1], levels[-1]).astype(np.int64)
    return found


def _is_reinstated(cores: pd.DataFrame) -> pd.Series:
    """Return which cores are back in the road by their state, or by what else the map has of them."""
    if "state" in cores:
        return cores["state"].eq("back")
    is_dated = cores["reinstated_at"].notna() if "reinstated_at" in cores else False
    return cores["status"].eq("reinstated") | is_dated


def fitting_zoom(x: Ints, y: Ints, most: int) -> int:
    """Return the lowest tile zoom at which positions in Morton order are few enough for a symbol each.

    Parameters
    ----------
    x, y
        Drawing integers, in Morton order.
    most
        How many symbols a square of 512 pixels may hold.
    """
    for zoom in range(1, LAST_FAR_ZOOM):
        # a tile of 512 pixels is a square of the zoom before
        tile = ((x >> (31 - zoom)) << 30) + (y >> (31 - zoom))
        edges = np.flatnonzero(np.diff(tile, prepend=-1, append=-1))
        counts = np.sort(np.diff(edges))
        if not counts.size or counts[int(np.ceil((counts.size - 1) * FULLEST_SHARE))] <= most:
            return zoom
    return LAST_FAR_ZOOM


def symbol_zooms(cores: pd.DataFrame, order: Ints, placed: int) -> dict[str, int]:
    """Return the tile zooms from which hazards, all that is flagged, and all cores have a symbol.

    Parameters
    ----------
    cores
        As the map has them.
    order, placed
        The page's order, as ``page_order`` gives it.
    """
    here = order[:placed]
    x, y = mercator(floats(cores["lon"])[here], floats(cores["lat"])[here])
    is_flagged = cores["status"].eq("flagged").to_numpy(dtype=bool)[here]
    is_hazard = core_levels(cores)[here] == STREET_LEVELS.index(HAZARD)
    return {
        "hazard": fitting_zoom(x[is_hazard], y[is_hazard], CROWD_OF_FLAGGED),
        "flagged": fitting_zoom(x[is_flagged], y[is_flagged], CROWD_OF_FLAGGED),
        "all": fitting_zoom(x, y, CROWD),
    }


def pack_drawing(
    cores: pd.DataFrame,
    findings: pd.DataFrame,
    order: Ints,
    placed: int,
    drawn_roads: pd.Series | None = None,
    squeeze: Squeeze = squeezed,
) -> str:
    """Return what draws the cores: position, status, hazards, what is overdue, uncertain or on no street.

    ``drawn_roads``: ids of the segments that are drawn; a core on none of them has a symbol at every scale. None
    where no core shall. ``squeeze``: as for ``bundle``.

    Raises
    ------
    ContractError
        A status is unknown.
    """
    rows = cores[["row", "lon", "lat", "status"]].iloc[order]
    x, y = mercator(floats(rows["lon"])[:placed], floats(rows["lat"])[:placed])
    step = position_step(placed)
    status = pd.Index(STATUSES).get_indexer(pd.Index(rows["status"]))
    if (status < 0).any():
        strange = sorted(set(rows["status"][status < 0].map(str)))
        raise ContractError(f"map: status {strange} found in the cores, one of {list(STATUSES)} expected.")
    unsure = rows["row"].isin(findings["row"][findings["rule"].isin(UNSURE_RULES)]).to_numpy()
    level = core_levels(cores)[order]
    hazard, overdue = (level == STREET_LEVELS.index(name) for name in (HAZARD, OVERDUE))
    loose = np.zeros(len(order), dtype=bool)
    if drawn_roads is not None and "segment_id" in cores:
        loose = ~is_among(cores["segment_id"], drawn_roads)[order]
    # in one byte: five columns of bits would cost the file half as much again
    marks = status.astype(np.int64)
    for mark, values in zip(MARKS.values(), (unsure, hazard, overdue, loose), strict=True):
        marks += mark * values.astype(np.int64)
    return bundle(
        {
            # truncated, not rounded, or some would leave their square and the Morton order
            "x": pack_ints(x // step, times=step, shift=step // 2),
            "y": pack_ints(y // step, times=step, shift=step // 2),
            "marks": pack_ints(marks),
        },
        squeeze,
    )


def count_statuses(cores: pd.DataFrame) -> list[int]:
    """Return how many cores have each status, in the order of ``STATUSES``."""
    counts = cores["status"].value_counts()
    return [int(counts.get(status, 0)) for status in STATUSES]


def floats(column: pd.Series) -> Floats:
    """Return a column of numbers with NaN where it is missing."""
    return column.to_numpy(dtype=np.float64, na_value=np.nan)
