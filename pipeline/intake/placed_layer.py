"""A map layer with a known CRS: what road, area and works layers are made from."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely
from pyproj import CRS, Transformer
from pyproj.exceptions import ProjError

from pipeline.contracts import Column, no_text
from pipeline.errors import InputError
from pipeline.intake.crs import (
    FURTHEST,
    Extent,
    corners,
    degrees_throughout,
    extent_of,
    has_degrees,
    layer_crs,
    name_of,
)
from pipeline.intake.crs_source import crs_cure, crs_source
from pipeline.intake.files.tables import RawTable
from pipeline.intake.register import find_column
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.ranges import shortened
from pipeline.programme.settings import Layer
from pipeline.wording import counted

__all__ = [
    "PlacedLayer", "layer_column", "outermost_feature", "place_layer", "projected", "refuse_elsewhere",
    "refuse_missing_column", "roads_note", "surface_column", "valid_shapes", "within_crs",
]  # fmt: skip

# of one feature; outlines of districts have some hundred thousand, and beyond, the time goes up faster than they do
_MOST_VERTICES: Final = 1_000_000
# what messages call a geometry type
_WORDS: Final = {"LineString": "line", "Polygon": "polygon"}
# an unknown word is listed by example: a layer of a million lines would fill the screen
_MOST_EXAMPLES = 10


@dataclass(frozen=True)
class PlacedLayer:
    """A raw layer whose CRS is known, with the extent of its geometry in that CRS."""

    table: RawTable
    section: Layer
    name: str
    crs: CRS
    extent: Extent


def place_layer(table: RawTable, section: Layer, name: str, kinds: tuple[str, ...]) -> PlacedLayer:
    """Return a layer with its CRS, reduced to the geometries of the given kinds.

    Parameters
    ----------
    table
        What the file holds; its notices grow by what is ignored.
    section, name
        Settings of the layer, and the name of their section.
    kinds
        Geometry types as shapely names them; messages name "LineString" and "Polygon".

    Raises
    ------
    InputError
        The file has no geometry of these kinds, no CRS that places them on the Earth, or a feature that is too large.
    """
    named = [_WORDS[one] for one in kinds if one in _WORDS]
    kind, several = " or ".join(named), " or ".join(f"{word}s" for word in named)
    if table.geometry is None:
        raise InputError(
            f"{table.label}: a table without geometry; expected a map layer of {several}. Give one in {name}.path."
        )
    wanted = [getattr(shapely.GeometryType, name_of_kind.upper()) for name_of_kind in kinds]
    fits = np.isin(shapely.get_type_id(table.geometry), wanted) & ~shapely.is_empty(table.geometry)
    if not fits.any():
        raise InputError(
            f"{table.label}: the layer has no {several}. Give one that has in {name}.path or {name}.layer."
        )
    ignored = int((~fits).sum())
    if ignored:
        table.notices.append(f"{table.label}: {counted(ignored, 'feature')} without a {kind} ignored.")
    fits &= _somewhere(table, fits)
    geometry = table.geometry[fits]
    _refuse_endless(geometry, table.rows[fits], table.label)
    if (shapely.has_z(geometry) | shapely.has_m(geometry)).any():
        geometry = shapely.force_2d(geometry)
    srid = table.srid
    crs = layer_crs(table.crs, section.crs, _extent(geometry), table.label, f"{name}.crs", table.notices, srid=srid)
    table.frame, table.rows, table.geometry = table.frame[fits].reset_index(drop=True), table.rows[fits], geometry
    _keep_on_earth(table, crs, name)
    return PlacedLayer(table, section, name, crs, _extent(table.geometry))


def _refuse_endless(geometry: npt.NDArray[np.object_], rows: npt.NDArray[np.int64], label: str) -> None:
    vertices = shapely.get_num_coordinates(geometry)
    if vertices.max() > _MOST_VERTICES:
        raise InputError(
            f"{label}: feature {rows[vertices.argmax()]:,} has {vertices.max():,} vertices, expected at most "
            f"{_MOST_VERTICES:,}. Simplify it in a GIS (to 0.1 m, for example), or cut it into several features."
        )


def _extent(geometry: npt.NDArray[np.object_]) -> Extent:
    west, south, east, north = (float(side) for side in shapely.total_bounds(geometry))
    return west, south, east, north


def _keep_on_earth(table: RawTable, crs: CRS, name: str) -> None:
    """Drop the features with a coordinate that is nowhere on the Earth, and report them: no map can show them.

    Raises
    ------
    InputError
        None of the features is anywhere on the Earth, or the CRS locates nothing.
    """
    assert table.geometry is not None
    try:
        if degrees_throughout(_extent(table.geometry), crs):
            return
    except ProjError as error:
        raise InputError(
            f"{table.label}: its CRS ({shortened(name_of(crs))}) cannot be transformed to degrees. Set {name}.crs to "
            "the CRS of the coordinates, and correct or remove the one in the layer (of a shapefile, the .prj file)."
        ) from error
    points, shape = shapely.get_coordinates(table.geometry, return_index=True)
    on_earth = np.ones(len(table.frame), dtype=np.bool_)
    on_earth[shape[~has_degrees(points[:, 0], points[:, 1], crs)]] = False
    if on_earth.all():
        return
    remedy = "Correct the coordinates, or the CRS of the layer."
    if not on_earth.any():
        raise InputError(
            f"{table.label}: none of its {counted(len(on_earth), 'feature')} is anywhere on Earth in {name_of(crs)}. "
            f"{remedy}"
        )
    table.notices.append(
        f"{table.label}: {counted(int((~on_earth).sum()), 'feature')} with a coordinate that is nowhere on Earth in "
        f"{name_of(crs)} (such as feature {table.rows[~on_earth][0]}) ignored. {remedy}"
    )
    table.frame, table.geometry = table.frame[on_earth].reset_index(drop=True), table.geometry[on_earth]
    table.rows = table.rows[on_earth]


def _somewhere(table: RawTable, fits: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Return which shapes have coordinates that some place on Earth can have; ``fits``: those that are looked at.

    Raises
    ------
    InputError
        None of them has.
    """
    points, shape = shapely.get_coordinates(table.geometry, return_index=True)
    on_earth = np.ones(len(fits), dtype=np.bool_)
    # a comparison with what is no number is false
    on_earth[shape[~(np.abs(points) <= FURTHEST).all(axis=1)]] = False
    lost = int((fits & ~on_earth).sum())
    if lost:
        what = f"{counted(lost, 'feature')} with a coordinate that is no number, or beyond {FURTHEST:,.0f}"
        if not (fits & on_earth).any():
            raise InputError(f"{table.label}: {what}, and no other; expected places on Earth. Export the layer again.")
        table.notices.append(f"{table.label}: {what} ignored.")
    return on_earth


def layer_column(layer: PlacedLayer, name: str) -> pd.Series:
    """Return a column of the layer as text, blank cells missing; all missing where the layer has no such column."""
    source = find_column(layer.table, layer.section.columns, Column(name, "text"), layer.name)
    if source is None:
        return no_text(layer.table.frame.index)
    return layer.table.frame[source].str.strip().where(lambda text: text.ne(""))


def refuse_missing_column(layer: PlacedLayer, name: str) -> None:
    """Stop where a layer lacks a column that it has to have.

    Raises
    ------
    InputError
        The layer has no such column.
    """
    if find_column(layer.table, layer.section.columns, Column(name, "text"), layer.name) is None:
        raise InputError(
            f"{layer.table.label}: no column for `{name}`; "
            f"the {layer.table.origin} has: {layer.table.listed_columns} "
            f'Set {layer.name}.columns.{name} = "..." in the programme file.'
        )


def projected(layer: PlacedLayer, crs: CRS) -> npt.NDArray[np.object_]:
    """Return the layer's geometry in another CRS."""
    assert layer.table.geometry is not None
    transformer = Transformer.from_crs(layer.crs, crs, always_xy=True)
    moved: npt.NDArray[np.object_] = shapely.transform(
        layer.table.geometry, lambda xy: np.column_stack(transformer.transform(xy[:, 0], xy[:, 1]))
    )
    return moved


def outermost_feature(layer: PlacedLayer) -> str:
    """Return the feature that reaches furthest from the others, as errors name it, with the corners that it lies in."""
    sides = shapely.bounds(layer.table.geometry)
    reach = np.abs(sides - np.nanmedian(sides, axis=0)).max(axis=1)
    at = int(np.nanargmax(reach))
    west, south, east, north = sides[at].tolist()
    return f"Feature {layer.table.rows[at]} of {layer.table.label} ({corners((west, south, east, north))})"


def within_crs(layer: PlacedLayer, shapes: npt.NDArray[np.object_]) -> npt.NDArray[np.bool_]:
    """Return which shapes of the layer, moved to the run's CRS, that CRS can hold; the others are reported."""
    held: npt.NDArray[np.bool_] = np.isfinite(shapely.bounds(shapes)).all(axis=1) | shapely.is_empty(shapes)
    if not held.all():
        layer.table.notices.append(
            f"{layer.table.label}: {counted(int((~held).sum()), 'feature')} too far from the roads to be placed (such "
            f"as feature {layer.table.rows[~held][0]}), ignored. Correct the coordinates, or the CRS of the layer."
        )
    return held


def valid_shapes(layer: PlacedLayer, crs: CRS) -> npt.NDArray[np.object_]:
    """Return the layer's geometry in another CRS, polygons repaired where they are invalid."""
    shapes = projected(layer, crs)
    # a polygon that the CRS cannot hold has no shape to repair
    invalid = ~shapely.is_valid(shapes) & (shapely.get_dimensions(shapes) == 2)
    invalid &= np.isfinite(shapely.bounds(shapes)).all(axis=1)
    if invalid.any():
        layer.table.notices.append(f"{layer.table.label}: {counted(int(invalid.sum()), 'invalid polygon')} repaired.")
        shapes[invalid] = shapely.make_valid(shapes[invalid], method="structure", keep_collapsed=False)
    return shapes


def surface_column(layer: PlacedLayer, catalogue: Catalogue) -> pd.Series:
    """Return the catalogue's name of each surface in the layer; missing where it has none or is "unknown"."""
    written = layer_column(layer, "surface")
    names = catalogue.surface_names(written)
    counts = written[names.isna()].value_counts().sort_index()
    if len(counts):
        examples = ", ".join(f"{word!r} ({count})" for word, count in counts.head(_MOST_EXAMPLES).items())
        more = f" and {counted(len(counts) - _MOST_EXAMPLES, 'more word')}" if len(counts) > _MOST_EXAMPLES else ""
        layer.table.notices.append(
            f"{layer.table.label}: surfaces not in the catalogue, read as unknown: {examples}{more}. "
            'Add them under catalogue.surfaces, such as catalogue.surfaces.asphalt.aliases = ["..."].'
        )
    # where the layer has "unknown", the next source of surfaces is used
    return names.where(names.ne("unknown"))


def refuse_elsewhere(layer: PlacedLayer, roads: PlacedLayer) -> None:
    """Stop where a layer does not overlap the roads.

    Raises
    ------
    InputError
        The extents of the two do not touch.
    """
    if not len(layer.table.rows):
        return
    extent = west, south, east, north = extent_of(layer.extent, layer.crs, roads.crs)
    # across the date line the east has the smaller longitude
    east += 360 if east < west else 0
    road_west, road_south, road_east, road_north = roads.extent
    apart = west > road_east or east < road_west or south > road_north or north < road_south
    if apart or not np.isfinite([west, south, east, north]).all():
        raise InputError(
            f"{layer.table.label}: does not overlap the roads (in {roads.crs.name} it extends from {corners(extent)}, "
            f"the roads from {corners(roads.extent)}). Its CRS is "
            f"{crs_source(layer.table, layer.section, layer.crs, layer.name)}; that of the roads is "
            f"{crs_source(roads.table, roads.section, roads.crs, 'roads')}. "
            + crs_cure(layer.table, layer.section, layer.crs, layer.name)
        )


def roads_note(roads: PlacedLayer) -> str:
    """Return what to look at in the roads where no core lies near them."""
    given = roads.table, roads.section, roads.crs, "roads"
    return (
        f"The CRS of the roads is {crs_source(*given)}, and their coordinates extend from {corners(roads.extent)}. "
        f"{crs_cure(*given)}"
    )
