"""The map layers: road segments, surface polygons, districts, in the run's CRS."""

from dataclasses import dataclass
from typing import Final

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely
from pyproj import CRS, Transformer

from pipeline.contracts import Column, no_text
from pipeline.errors import InputError
from pipeline.intake.cells.measures import read_measures
from pipeline.intake.cells.numbers import read_numbers
from pipeline.intake.crs import Extent, layer_crs
from pipeline.intake.files.tables import RawTable
from pipeline.intake.register import find_column
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.settings import Layer

# what the level or tunnel column of a road layer says of a road below ground
_UNDERGROUND: Final = {"yes", "true", "tunnel", "underground", "culvert", "covered", "building_passage"}

__all__ = [
    "PlacedLayer", "as_districts", "as_segments", "as_surfaces", "layer_column", "place_layer", "projected",
]  # fmt: skip


@dataclass(frozen=True)
class PlacedLayer:
    """A raw layer whose CRS is settled, with the extent of its geometry in that CRS."""

    table: RawTable
    section: Layer
    name: str
    crs: CRS
    extent: Extent


def place_layer(table: RawTable, section: Layer, name: str, kinds: tuple[str, ...]) -> PlacedLayer:
    """Settle the CRS of a layer, and keep its geometries of the kinds that serve.

    Raises
    ------
    InputError
        No geometry of these kinds, or no CRS.
    """
    if table.geometry is None:
        raise InputError(f"{table.label}: a table without geometry. Give a map layer in {name}.path.")
    wanted = [getattr(shapely.GeometryType, kind.upper()) for kind in kinds]
    fits = np.isin(shapely.get_type_id(table.geometry), wanted) & ~shapely.is_empty(table.geometry)
    if not fits.any():
        raise InputError(
            f"{table.label}: the layer holds no {kinds[0].lower()}s. Name another in {name}.path or {name}.layer."
        )
    if not fits.all():
        table.notices.append(
            f"{table.label}: {int((~fits).sum())} features without a {kinds[0].lower()} are left aside."
        )
    geometry = shapely.force_2d(table.geometry[fits])
    extent = tuple(float(side) for side in shapely.total_bounds(geometry))
    assert len(extent) == 4
    crs = layer_crs(table.crs, section.crs, extent, table.label, f"{name}.crs", table.notices)
    table.frame, table.rows, table.geometry = (
        table.frame[fits].reset_index(drop=True),
        table.rows[fits],
        geometry,
    )
    return PlacedLayer(table, section, name, crs, extent)


def layer_column(layer: PlacedLayer, name: str) -> pd.Series:
    """Return a column of the layer as text, blanks missing; all missing where the layer has none of the name."""
    source = find_column(layer.table, layer.section.columns, Column(name, "text"), layer.name)
    if source is None:
        return no_text(layer.table.frame.index)
    return layer.table.frame[source].str.strip().where(lambda text: text.ne(""))


def projected(layer: PlacedLayer, crs: CRS) -> npt.NDArray[np.object_]:
    """Return the layer's geometry in another CRS."""
    assert layer.table.geometry is not None
    transformer = Transformer.from_crs(layer.crs, crs, always_xy=True)
    moved: npt.NDArray[np.object_] = shapely.transform(
        layer.table.geometry, lambda xy: np.column_stack(transformer.transform(xy[:, 0], xy[:, 1]))
    )
    return moved


def _surfaces_of(layer: PlacedLayer, catalogue: Catalogue) -> pd.Series:
    written = layer_column(layer, "surface")
    names = catalogue.surface_names(written)
    strange = written[names.isna()].value_counts().sort_index()
    if len(strange):
        said = ", ".join(f"{word!r} ({count})" for word, count in strange.head(10).items())
        layer.table.notices.append(
            f"{layer.table.label}: surfaces the catalogue does not know, read as unknown: {said}. "
            "Add them to an alias list under catalogue.surfaces."
        )
    # a layer that says "unknown" says nothing: the next source is asked
    return names.where(names.ne("unknown"))


def as_segments(layer: PlacedLayer, catalogue: Catalogue, crs: CRS) -> gpd.GeoDataFrame:
    """Return the road segments in the run's CRS, one row for each unbroken line.

    Columns ``segment_id``, ``street``, ``surface``, ``road_class``, ``class_name`` (the catalogue's name of it),
    ``road_authority``, ``slope_percent``, ``half_width_m`` (by the layer's width in metres, else by class),
    ``is_underground``, ``start_m`` (chainage where the line
    starts: a segment of several lines counts on), geometry. Sorted by segment id, whole numbers by value, so that
    the first of equals is the same whatever the order of the layer.
    """
    ids = layer_column(layer, "segment_id").fillna(pd.Series(layer.table.rows).astype("str"))
    lines = projected(layer, crs)
    several = shapely.get_type_id(lines) == shapely.GeometryType.MULTILINESTRING
    lines[several] = shapely.line_merge(lines[several])
    frame = gpd.GeoDataFrame(
        {
            "segment_id": ids,
            "street": layer_column(layer, "street"),
            "surface": _surfaces_of(layer, catalogue),
            "road_class": layer_column(layer, "road_class"),
            "class_name": catalogue.road_classes(layer_column(layer, "road_class")).fillna("other"),
            "road_authority": layer_column(layer, "road_authority"),
            "slope_percent": _slopes(layer),
            "half_width_m": _widths_m(layer, catalogue) / 2,
            "is_underground": _is_underground(layer_column(layer, "level")),
        },
        geometry=lines,
        crs=crs,
    ).explode(ignore_index=False)
    frame = frame[np.isfinite(frame.length) & frame.length.gt(0)]
    if frame.empty:
        raise InputError(f"{layer.table.label}: no segment of any length in {crs.name}. Check {layer.name}.crs.")
    length = frame.length
    frame["start_m"] = length.groupby(level=0).cumsum() - length
    repeats = int(ids.duplicated().sum())
    if repeats:
        layer.table.notices.append(f"{layer.table.label}: {repeats} segment ids are used more than once.")
    whole = frame["segment_id"].str.fullmatch(r"\d{1,18}").all()
    number = pd.to_numeric(frame["segment_id"]) if whole else pd.Series(0, frame.index)
    order = pd.DataFrame({"number": number, "id": frame["segment_id"], "wkb": shapely.to_wkb(frame.geometry.array)})
    places = order.reset_index(drop=True).sort_values(["number", "id", "wkb"], kind="stable").index
    return frame.iloc[places].reset_index(drop=True)


def _widths_m(layer: PlacedLayer, catalogue: Catalogue) -> pd.Series:
    by_class = catalogue.road_widths_m(layer_column(layer, "road_class"))
    written = read_measures(layer_column(layer, "width"), "m", "m", None)
    unread = int(written.problem.notna().sum())
    if unread:
        layer.table.notices.append(f"{layer.table.label}: {unread} widths cannot be read; the road's class serves.")
    return written.values.where(written.values.gt(0)).fillna(by_class)


def _slopes(layer: PlacedLayer) -> pd.Series:
    """Percent, whether the cell says so or not; "1 in 12" and the like are not read, and said."""
    written = layer_column(layer, "slope")
    slope = read_numbers(written.str.replace("%", "", regex=False).str.strip(), None)
    unread = int((written.notna() & slope.isna()).sum())
    if unread:
        layer.table.notices.append(
            f"{layer.table.label}: {unread} slopes cannot be read and are left out; write them in percent."
        )
    return slope


def _is_underground(level: pd.Series) -> pd.Series:
    """A level below nought, or a word for it; a bridge is where cores can be."""
    number = pd.to_numeric(level, errors="coerce")
    return number.lt(0) | level.str.casefold().isin(_UNDERGROUND)


def as_surfaces(layer: PlacedLayer, catalogue: Catalogue, crs: CRS) -> gpd.GeoDataFrame:
    """Return the surface polygons in the run's CRS, smallest first: a patch lies within its street.

    Columns ``surface``, geometry; polygons whose surface is not known are left out.
    """
    shapes = _valid(layer, crs)
    frame = gpd.GeoDataFrame({"surface": _surfaces_of(layer, catalogue)}, geometry=shapes, crs=crs).dropna()
    if frame.empty:
        layer.table.notices.append(f"{layer.table.label}: no polygon with a known surface; segments serve.")
    order = pd.DataFrame({"area": frame.area, "surface": frame["surface"], "wkb": shapely.to_wkb(frame.geometry.array)})
    return frame.loc[order.sort_values(["area", "surface", "wkb"]).index].reset_index(drop=True)


def as_districts(layer: PlacedLayer, crs: CRS) -> gpd.GeoDataFrame:
    """Return the districts in the run's CRS, one row for each name, sorted by it."""
    source = find_column(layer.table, layer.section.columns, Column("district", "text"), layer.name)
    if source is None:
        raise InputError(
            f"{layer.table.label}: no column for `district`; "
            f"the file has: {', '.join(layer.table.fields or layer.table.frame.columns)}. "
            'Set districts.columns.district = "..." in the programme file.'
        )
    names = layer_column(layer, "district")
    nameless = names.isna()
    if nameless.any():
        layer.table.notices.append(
            f"{layer.table.label}: {int(nameless.sum())} polygons without a name are left aside."
        )
    frame = gpd.GeoDataFrame({"district": names}, geometry=_valid(layer, crs), crs=crs)[~nameless]
    if frame.empty:
        raise InputError(f"{layer.table.label}: no district has a name in column {source!r}.")
    united = frame.dissolve(by="district", sort=True).reset_index()
    return united[["district", "geometry"]]


def _valid(layer: PlacedLayer, crs: CRS) -> npt.NDArray[np.object_]:
    shapes = projected(layer, crs)
    broken = ~shapely.is_valid(shapes)
    if broken.any():
        layer.table.notices.append(f"{layer.table.label}: {int(broken.sum())} invalid polygons are mended.")
        shapes[broken] = shapely.make_valid(shapes[broken], method="structure", keep_collapsed=False)
    return shapes
