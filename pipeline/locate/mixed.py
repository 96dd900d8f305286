"""The cores with more than one surface within their error, and how likely each polygon of surface is under them."""

from collections.abc import Iterator
from typing import Final, NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely
from geopandas.array import GeometryArray, from_shapely

from pipeline.clock import Told, uncounted
from pipeline.engines import Count, Done, Engine
from pipeline.locate.chances import AreaChances, area_chances, names_around
from pipeline.locate.learnt_errors import Blurs
from pipeline.locate.near import rows_near, rows_of
from pipeline.locate.overlaps import Overlaps, cut_out, overlaps_near
from pipeline.locate.position_error import FAR, WEIGHED

__all__ = ["blurred", "polygon_chances"]

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]

# cores weighed at a time: each has several errors, and each error several polygons
_CHUNK: Final = 250_000


def polygon_chances(
    x: Floats, y: Floats, blurs: Blurs, named: pd.DataFrame, surfaces: gpd.GeoDataFrame, told: Told, engine: Engine
) -> AreaChances:
    """Return how likely each core is to lie in the polygons of each surface; none where one surface is all round.

    Parameters
    ----------
    x, y
        N positions, in metres; missing where a core has none.
    blurs
        Their errors.
    named
        Rows of ``core`` and ``name``, by core: the surfaces of the segments that each may be on.
    surfaces
        M polygons with ``surface``, smallest first.
    told
        Is told what is worked on, and how much of it is done.
    engine
        Does the work on the cores of each cell.
    """
    shapes, names = np.asarray(surfaces.geometry.array), surfaces["surface"].to_numpy()
    sigma = blurs.widest(len(x))
    mixed, overlaps = _mixed(x, y, sigma, named, shapes, names, told, engine)
    shapes = _cut(shapes, overlaps, told, engine)
    count, own = Count(told, "areas within the errors", len(mixed)), blurs.of(mixed, len(x))
    cells = engine.cells(x[mixed], y[mixed])
    tree = shapely.STRtree(shapes) if engine.sends else None

    def spread() -> Iterator[_Blurred]:
        for cell in cells:
            here = mixed[cell]
            rows = slice(None) if tree is None else rows_near(tree, x[here], y[here], FAR * sigma[here])
            errors = own if len(cell) == len(mixed) else own.of(cell, len(mixed))
            yield _Blurred(x[here], y[here], errors, from_shapely(shapes[rows]), names[rows])

    parts = engine.each(_blur, spread(), [len(cell) for cell in cells], count.told)
    edge_m = np.full(len(x), np.nan)
    for cell, part in zip(cells, parts, strict=True):
        edge_m[mixed[cell]] = part.edge_m
    tables = [
        part.table.assign(core=mixed[cell[part.table["core"].to_numpy()]])
        for cell, part in zip(cells, parts, strict=True)
    ]
    # a table without rows has no kind of its own
    table = pd.concat([one for one in tables if len(one)] or tables[:1])
    return AreaChances(table.sort_values("core", kind="stable", ignore_index=True), edge_m)


class _Around(NamedTuple):
    """N cores of a cell, with the widest of their errors, and what may be under them: segments' surfaces, polygons."""

    x: Floats
    y: Floats
    sigma: Floats
    named: pd.DataFrame
    polygons: GeometryArray
    names: npt.NDArray[np.object_]


class _Mixed(NamedTuple):
    """Which cores have more than one surface within their error, and the polygons that may overlap there."""

    cores: Places
    overlaps: Overlaps


def _mixed(
    x: Floats,
    y: Floats,
    sigma: Floats,
    named: pd.DataFrame,
    shapes: npt.NDArray[np.object_],
    names: npt.NDArray[np.object_],
    told: Told,
    engine: Engine,
) -> _Mixed:
    placed = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    cells = [placed[cell] for cell in engine.cells(x[placed], y[placed])]
    tree = shapely.STRtree(shapes) if engine.sends else None
    core = named["core"].to_numpy()
    rows: list[Places] = []

    def around() -> Iterator[_Around]:
        for cell in cells:
            here = x[cell], y[cell]
            own = np.arange(len(shapes)) if tree is None else rows_near(tree, *here, WEIGHED * sigma[cell])
            rows.append(own)
            mine = named.iloc[rows_of(core, cell)]
            mine = mine.assign(core=np.searchsorted(cell, mine["core"].to_numpy()))
            yield _Around(*here, sigma[cell], mine[["core", "name"]], from_shapely(shapes[own]), names[own])

    sizes, count = [len(cell) for cell in cells], Count(told, "surfaces around the cores", len(placed))
    found = engine.each(_find_mixed, around(), sizes, count.told)
    mixed = np.sort(np.concatenate([cell[one.cores] for cell, one in zip(cells, found, strict=True)]))
    # a pair that is reached from several cells is one
    pairs = [(own[one.overlaps.larger], own[one.overlaps.smaller]) for own, one in zip(rows, found, strict=True)]
    key = np.unique(np.concatenate([larger * np.int64(len(shapes)) + smaller for larger, smaller in pairs]))
    return _Mixed(mixed, Overlaps(*np.divmod(key, len(shapes))))


def _find_mixed(cell: _Around, done: Done) -> _Mixed:
    polygons, count = np.asarray(cell.polygons), len(cell.x)
    around = names_around(cell.x, cell.y, cell.sigma, polygons, cell.names)
    every = pd.concat([around, cell.named.fillna({"name": ""})]).drop_duplicates()
    number = np.bincount(every["core"], minlength=count)
    # a segment without a surface, or no segment at all, leaves a chance to the register
    unnamed = np.bincount(every.loc[every["name"].eq(""), "core"], minlength=count) > 0
    without_segment = np.bincount(cell.named["core"], minlength=count) == 0
    mixed = np.flatnonzero((number > 1) | unnamed | without_segment)

    def told(at: int) -> None:
        done(at * count // len(mixed))

    return _Mixed(mixed, overlaps_near(polygons, cell.x[mixed], cell.y[mixed], cell.sigma[mixed], told))


class _Overlapping(NamedTuple):
    """M polygons, smallest first, some of which overlap."""

    polygons: GeometryArray
    overlaps: Overlaps


def _cut(shapes: npt.NDArray[np.object_], overlaps: Overlaps, told: Told, engine: Engine) -> npt.NDArray[np.object_]:
    """Return the polygons without what the smaller ones of the pairs cover."""
    larger = np.unique(overlaps.larger)
    west, south, east, north = shapely.bounds(shapes[larger]).T
    cells = [larger[cell] for cell in engine.cells((west + east) / 2, (south + north) / 2)]
    pairs = [rows_of(overlaps.larger, cell) for cell in cells]

    def overlapping() -> Iterator[_Overlapping]:
        for here in pairs:
            rows = np.unique([overlaps.larger[here], overlaps.smaller[here]])
            own = Overlaps(*(np.searchsorted(rows, side[here]) for side in overlaps))
            yield _Overlapping(from_shapely(shapes[rows]), own)

    count = Count(told, "overlaps of surfaces", len(overlaps.larger), "overlaps")
    found = engine.each(_cut_out, overlapping(), [len(here) for here in pairs], count.told)
    cut = shapes.copy()
    for cell, one in zip(cells, found, strict=True):
        cut[cell] = np.asarray(one)
    return cut


def _cut_out(cell: _Overlapping, done: Done) -> GeometryArray:
    """Return the larger polygons of the pairs, in order, without what the smaller ones cover."""
    cut = cut_out(np.asarray(cell.polygons), cell.overlaps, done)
    return from_shapely(cut[np.unique(cell.overlaps.larger)])


class _Blurred(NamedTuple):
    """N cores, their errors, and the polygons that these may reach."""

    x: Floats
    y: Floats
    blurs: Blurs
    polygons: GeometryArray
    names: npt.NDArray[np.object_]


def _blur(cell: _Blurred, done: Done) -> AreaChances:
    return blurred(cell.x, cell.y, cell.blurs, np.asarray(cell.polygons), cell.names, done)


def blurred(
    x: Floats,
    y: Floats,
    blurs: Blurs,
    polygons: npt.NDArray[np.object_],
    names: npt.NDArray[np.object_],
    told: Done = uncounted,
) -> AreaChances:
    """Return how likely each of N cores is to lie in each area, over all the errors that its position may have.

    ``told`` is told how many cores are done.
    """
    parts = []
    for begin in range(0, max(len(x), 1), _CHUNK):
        here = slice(begin, begin + _CHUNK)
        errors = slice(*np.searchsorted(blurs.core, [here.start, here.stop]))
        own = Blurs(blurs.core[errors] - begin, blurs.sigma[errors], blurs.share[errors])
        part = _blurred_at_once(x[here], y[here], own, polygons, names, told, begin)
        parts.append(part._replace(table=part.table.assign(core=part.table["core"].to_numpy() + begin)))
    tables = [part.table for part in parts if len(part.table)] or [parts[0].table]
    return AreaChances(pd.concat(tables, ignore_index=True), np.concatenate([part.edge_m for part in parts]))


def _blurred_at_once(
    x: Floats,
    y: Floats,
    blurs: Blurs,
    polygons: npt.NDArray[np.object_],
    names: npt.NDArray[np.object_],
    told: Done,
    begin: int,
) -> AreaChances:
    errors = max(len(blurs.core), 1)
    weighed = area_chances(
        x, y, blurs.sigma, polygons, names, blurs.core, lambda at: told(begin + at * len(x) // errors)
    )
    table = weighed.table
    own = table["core"].to_numpy()
    table = table.assign(core=blurs.core[own], chance=table["chance"].to_numpy() * blurs.share[own])
    edge_m = np.full(len(x), np.nan)
    np.fmin.at(edge_m, blurs.core, weighed.edge_m)
    told(begin + len(x))
    # pandas sums sorted rows in another way than others: whether they are sorted may not depend on the other cores
    table = table.sort_values(["core", "name"], kind="stable")
    return AreaChances(table.groupby(["core", "name"])["chance"].sum().reset_index(), edge_m)
