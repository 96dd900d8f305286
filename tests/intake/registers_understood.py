"""A small register for tests of what a check shows: cells written in the test, roads along one line of latitude."""

import datetime as dt

import pandas as pd
import shapely
from pyproj import CRS

from pipeline.intake.files.tables import RawTable
from pipeline.intake.position_facts import RoadTree
from pipeline.intake.register import read_register
from pipeline.intake.understood import understood_register
from pipeline.programme.input_files import Cores

AS_OF = dt.date(2026, 9, 30)
UTM = CRS.from_epsg(32617)
_ROADS = (490000.0, 4960000.0, 510000.0, 4962000.0)
_COLUMNS = {"core_id": "id", "diameter": "dia", "depth": "depth"}


def register_of(
    cells, *, name="North", path="north.csv", columns=None, units=None, set_aside=None, ragged=None, **settings
):
    """Read a register whose positions are eastings and northings in UTM zone 17."""
    frame = pd.DataFrame(cells, dtype="str")
    aside = {} if set_aside is None else {"set_aside": set_aside}
    table = RawTable(
        frame,
        pd.RangeIndex(1, len(frame) + 1).to_numpy(),
        len(frame),
        path,
        places=pd.RangeIndex(4, len(frame) + 4).to_numpy(),
        ragged=None if ragged is None else pd.Series(ragged, frame.index, dtype="str"),
        **aside,
    )
    section = Cores(
        name=name, path=path, x="e", y="n", crs="EPSG:32617", columns=_COLUMNS | (columns or {}),
        units=units or {"diameter": "mm", "depth": "mm"}, **settings,
    )  # fmt: skip
    return read_register(table, section, "UTC", _ROADS, UTM)


def rows(count, **cells):
    """Rows along a road, 3 m north of it; each cell is one text for all rows, or a list."""
    made = {
        "id": [f"N{number}" for number in range(1, count + 1)],
        "e": [str(500000 + 10 * number) for number in range(count)],
        "n": ["4961003"] * count,
        "dia": ["450"] * count,
        "depth": ["200"] * count,
    }
    return made | {name: cell if isinstance(cell, list) else [cell] * count for name, cell in cells.items()}


def roads():
    """One road, 20 km long, at northing 4961000."""
    return RoadTree(shapely.STRtree([shapely.LineString([(490000, 4961000), (510000, 4961000)])]))


def understood(*registers, is_on_roads=True, limits=None):
    """What was understood of a register made of files."""
    return understood_register(
        list(registers), UTM if is_on_roads else None, roads() if is_on_roads else None, AS_OF, limits
    )
