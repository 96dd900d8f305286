"""Intake: files in, contract frames out; nothing else in the program reads an input."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
from pyproj import CRS
from pyproj.exceptions import ProjError

from pipeline.contracts import Column
from pipeline.errors import InputError
from pipeline.intake.crs import extent_of, name_of, run_crs, to_crs, transformation_accuracy_m
from pipeline.intake.files.layers import fingerprint, read_raw
from pipeline.intake.register import Register, find_column, read_register
from pipeline.intake.road_layer import PlacedLayer, as_districts, as_segments, as_surfaces, place_layer
from pipeline.intake.road_works import as_joints, as_works
from pipeline.intake.stock import read_stock
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.settings import Layer, Settings

__all__ = ["InputFile", "Inputs", "read_inputs"]

_ReadLayer = Callable[[Layer, str, tuple[str, ...], list[str]], PlacedLayer]
_LINES = ("LineString", "MultiLineString")
_ROAD_COLUMNS = ["segment_id", "street", "surface", "road_class", "road_authority", "width", "slope", "level"]
_POLYGONS = ("Polygon", "MultiPolygon")
# a transformation less accurate than this is said aloud
_TELLING_ACCURACY_M = 1.0
_OSM_CREDIT = "© OpenStreetMap contributors, ODbL"


@dataclass(frozen=True)
class InputFile:
    """What was read, so that a run can be told from another."""

    section: str
    path: str
    sha256: str
    rows: int
    rows_in_file: int
    crs: str
    accuracy_m: float | None


@dataclass(frozen=True)
class Inputs:
    """The inputs of a run, in its CRS; ``cores`` carries ``x_m`` and ``y_m``; a layer that is not given is None."""

    register: Register
    cores: pd.DataFrame
    segments: gpd.GeoDataFrame
    surfaces: gpd.GeoDataFrame | None
    districts: gpd.GeoDataFrame | None
    joints: gpd.GeoDataFrame | None
    resurfaced: gpd.GeoDataFrame | None
    planned_works: gpd.GeoDataFrame | None
    stock: pd.DataFrame | None
    crs: CRS
    files: list[InputFile]
    notices: list[str]
    credits: list[str]


def read_inputs(settings: Settings, folder: Path, catalogue: Catalogue, tell: Callable[[str], None]) -> Inputs:
    """Read the register and the layers of a programme.

    Parameters
    ----------
    settings
        The programme.
    folder
        Where its file lies: its paths are relative to that.
    catalogue
        The surfaces that layers and register may name.
    tell
        Called with the name of each file as its reading starts.

    Raises
    ------
    InputError
        A file cannot be used, or two of them do not lie in the same place.
    """

    def layer(section: Layer, name: str, kinds: tuple[str, ...], wanted: list[str]) -> PlacedLayer:
        tell(section.path)
        raw = read_raw(section, folder, name, [*section.columns.values(), *wanted])
        for key in section.columns:
            find_column(raw, section.columns, Column(key, "text"), name)
        return place_layer(raw, section, name, kinds)

    try:
        return _read(settings, folder, catalogue, tell, layer)
    except ProjError as error:
        raise InputError(
            f"{settings.cores.path}: cannot be brought to the CRS of the run ({error}). "
            "Check the crs keys of the programme."
        ) from error


def _read(
    settings: Settings, folder: Path, catalogue: Catalogue, tell: Callable[[str], None], layer: _ReadLayer
) -> Inputs:
    roads = layer(settings.roads, "roads", _LINES, _ROAD_COLUMNS)
    tell(settings.cores.path)
    raw_cores = read_raw(settings.cores, folder, "cores", None)
    register = read_register(raw_cores, settings.cores, settings.programme.timezone, roads.extent, roads.crs)
    lon, lat = register.frame["lon"].median(), register.frame["lat"].median()
    crs = run_crs(settings.programme.crs, lon, lat, "programme.crs")
    x_m, y_m = to_crs(register.frame["x"].to_numpy(), register.frame["y"].to_numpy(), register.crs, crs)
    cores = register.frame.assign(x_m=x_m, y_m=y_m)
    nowhere = cores["lon"].notna() & cores["x_m"].isna()
    cores.loc[nowhere, ["x", "y", "lon", "lat", "y_m"]] = np.nan
    cores.loc[nowhere, "position_problem"] = "out of range"

    segments = as_segments(roads, catalogue, crs)
    placed = [roads]
    surfaces = districts = None
    if settings.surfaces is not None:
        polygons = layer(settings.surfaces, "surfaces", _POLYGONS, ["surface"])
        _refuse_apart(polygons, roads)
        surfaces = as_surfaces(polygons, catalogue, crs)
        placed.append(polygons)
    if settings.districts is not None:
        polygons = layer(settings.districts, "districts", _POLYGONS, ["district"])
        _refuse_apart(polygons, roads)
        districts = as_districts(polygons, crs)
        placed.append(polygons)

    further: dict[str, gpd.GeoDataFrame] = {}
    for name, column in (("joints", ""), ("resurfaced", "resurfaced_on"), ("planned_works", "due_on")):
        section = getattr(settings, name)
        if section is None:
            continue
        shapes = layer(section, name, (*_LINES, *_POLYGONS), ["segment_id", column])
        _refuse_apart(shapes, roads)
        further[name] = (
            as_works(shapes, crs, column, settings.programme.timezone, day_first=settings.cores.day_first)
            if column
            else as_joints(shapes, crs)
        )
        placed.append(shapes)

    tell("checksums")
    files = [
        InputFile(
            "cores", settings.cores.path, fingerprint(folder / settings.cores.path), len(cores),
            register.rows_in_file, name_of(register.crs), transformation_accuracy_m(register.crs, crs),
        )
    ]  # fmt: skip
    files += [
        InputFile(
            one.name, one.section.path, fingerprint(folder / one.section.path), len(one.table.frame),
            one.table.rows_in_file, name_of(one.crs), transformation_accuracy_m(one.crs, crs),
        )
        for one in placed
    ]  # fmt: skip
    notices = [*register.notices, *(line for one in placed for line in one.table.notices), *_datum_notices(files, crs)]
    ordering, stock = settings.orders, None
    if ordering.stock is not None:
        tell(ordering.stock.path)
        stock = read_stock(ordering.stock, folder, catalogue.items, day_first=settings.cores.day_first)
    return Inputs(
        register, cores, segments, surfaces, districts, further.get("joints"), further.get("resurfaced"),
        further.get("planned_works"), stock, crs, files, notices, _credits(settings),
    )  # fmt: skip


def _datum_notices(files: list[InputFile], crs: CRS) -> list[str]:
    """A datum shift without its grid works all the same, some metres off, and says nothing: so we do."""
    return [
        f"{file.path}: brought from {file.crs} to {name_of(crs)} "
        + ("with an accuracy that is not known." if file.accuracy_m is None else f"to within {file.accuracy_m:g} m.")
        for file in files
        if file.accuracy_m is None or file.accuracy_m > _TELLING_ACCURACY_M
    ]


def _refuse_apart(layer: PlacedLayer, roads: PlacedLayer) -> None:
    west, south, east, north = extent_of(layer.extent, layer.crs, roads.crs)
    road_west, road_south, road_east, road_north = roads.extent
    apart = west > road_east or east < road_west or south > road_north or north < road_south
    if apart or not np.isfinite([west, south, east, north]).all():
        raise InputError(
            f"{layer.table.label}: does not overlap the roads (it runs from {west:.6g}, {south:.6g} "
            f"to {east:.6g}, {north:.6g} "
            f"in {roads.crs.name}, they from {road_west:.6g}, {road_south:.6g} to {road_east:.6g}, {road_north:.6g}). "
            f"Check {layer.name}.crs and {layer.name}.path."
        )


def _credits(settings: Settings) -> list[str]:
    sections = (
        settings.cores, settings.roads, settings.surfaces, settings.districts, settings.joints, settings.resurfaced,
        settings.planned_works,
    )  # fmt: skip
    lines = []
    for section in sections:
        if section is None:
            continue
        if section.attribution:
            lines.append(section.attribution)
        elif section.path.lower().endswith((".pbf", ".osm")):
            lines.append(_OSM_CREDIT)
    return list(dict.fromkeys(lines))
