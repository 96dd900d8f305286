"""Intake: users' files in, typed frames out; nothing else in the program reads an input."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
from pyproj import CRS
from pyproj.exceptions import ProjError

from pipeline.contracts import Column
from pipeline.errors import InputError
from pipeline.intake.area_layers import as_districts, as_surfaces
from pipeline.intake.crs import name_of, run_crs, to_crs, transformation_accuracy_m
from pipeline.intake.files.layers import read_raw
from pipeline.intake.placed_layer import PlacedLayer, place_layer, refuse_elsewhere
from pipeline.intake.register import Register, find_column, read_register
from pipeline.intake.road_layer import as_segments
from pipeline.intake.road_works import as_joints, as_works
from pipeline.intake.stock import read_stock
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.settings import Layer, Settings

__all__ = ["InputFile", "Inputs", "read_inputs"]

_LINES: Final = ("LineString", "MultiLineString")
_POLYGONS: Final = ("Polygon", "MultiPolygon")
# what each map layer is drawn as, and the columns that are read from it
_LAYERS: Final = {
    "roads": (_LINES, ("segment_id", "street", "surface", "road_class", "road_authority", "width", "slope", "level")),
    "surfaces": (_POLYGONS, ("surface",)),
    "districts": (_POLYGONS, ("district",)),
    "joints": ((*_LINES, *_POLYGONS), ()),
    "resurfaced": ((*_LINES, *_POLYGONS), ("segment_id", "resurfaced_on")),
    "planned_works": ((*_LINES, *_POLYGONS), ("segment_id", "due_on")),
}
# a transformation less accurate than this is reported
_REPORTED_ACCURACY_M: Final = 1.0
_OSM_CREDIT: Final = "© OpenStreetMap contributors, ODbL"


@dataclass(frozen=True)
class InputFile:
    """One input file as it was read, so that two runs can be compared.

    ``accuracy_m``: of the transformation to the run's CRS, in metres; None where it is not known.
    """

    section: str
    path: str
    sha256: str
    rows: int
    rows_in_file: int
    crs: str
    accuracy_m: float | None


@dataclass(frozen=True)
class Inputs:
    """The inputs of a run, in its CRS; ``cores`` has ``x_m`` and ``y_m``; a layer that is not given is None."""

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


def read_inputs(settings: Settings, folder: Path, catalogue: Catalogue, announce: Callable[[str], None]) -> Inputs:
    """Read the register, the layers and the stock of a programme.

    Parameters
    ----------
    settings
        The programme.
    folder
        The folder of the programme file, which paths are relative to.
    catalogue
        The surfaces and road classes that layers and register may name.
    announce
        Called with the path of each file before it is read.

    Raises
    ------
    InputError
        A file cannot be used, or two of them do not cover the same area.
    """
    try:
        return _read(settings, folder, catalogue, announce)
    except ProjError as error:
        raise InputError(
            f"{settings.cores.path}: the inputs cannot be transformed to the CRS of the run ({error}). "
            "Check programme.crs and the crs key of each input."
        ) from error


def _read(settings: Settings, folder: Path, catalogue: Catalogue, announce: Callable[[str], None]) -> Inputs:
    roads = _read_layer(settings.roads, "roads", folder, announce)
    announce(settings.cores.path)
    table = read_raw(settings.cores, folder, "cores", None)
    register = read_register(table, settings.cores, settings.programme.timezone, roads.extent, roads.crs)
    crs = run_crs(
        settings.programme.crs, register.frame["lon"].median(), register.frame["lat"].median(), "programme.crs"
    )
    cores = _in_run_crs(register, crs)
    layers = {"roads": roads}
    for name in _LAYERS:
        section: Layer | None = getattr(settings, name)
        if name != "roads" and section is not None:
            layers[name] = _read_layer(section, name, folder, announce)
            refuse_elsewhere(layers[name], roads)
    frames = {name: _as_frame(layer, settings, catalogue, crs) for name, layer in layers.items()}
    files = _input_files(register, table.sha256, layers, settings, crs)
    notices = [*register.notices, *(line for layer in layers.values() for line in layer.table.notices)]
    stock = None
    if settings.orders.stock is not None:
        announce(settings.orders.stock.path)
        stock = read_stock(settings.orders.stock, folder, catalogue.items, day_first=settings.cores.day_first)
    return Inputs(
        register=register, cores=cores, segments=frames["roads"], surfaces=frames.get("surfaces"),
        districts=frames.get("districts"), joints=frames.get("joints"), resurfaced=frames.get("resurfaced"),
        planned_works=frames.get("planned_works"), stock=stock, crs=crs, files=files,
        notices=[*notices, *_accuracy_notices(files, crs)], credits=_credits(settings),
    )  # fmt: skip


def _read_layer(section: Layer, name: str, folder: Path, announce: Callable[[str], None]) -> PlacedLayer:
    """Read one map layer and establish its CRS."""
    announce(section.path)
    kinds, columns = _LAYERS[name]
    table = read_raw(section, folder, name, [*section.columns.values(), *columns])
    for key in section.columns:
        # a column that the programme names has to be in the file, whether it is used or not
        find_column(table, section.columns, Column(key, "text"), name)
    return place_layer(table, section, name, kinds)


def _in_run_crs(register: Register, crs: CRS) -> pd.DataFrame:
    """Return the register with ``x_m`` and ``y_m``; a position that the run's CRS cannot hold is out of range."""
    x_m, y_m = to_crs(register.frame["x"].to_numpy(), register.frame["y"].to_numpy(), register.crs, crs)
    cores = register.frame.assign(x_m=x_m, y_m=y_m)
    nowhere = cores["lon"].notna() & cores["x_m"].isna()
    cores.loc[nowhere, ["x", "y", "lon", "lat", "y_m"]] = np.nan
    cores.loc[nowhere, "position_problem"] = "out of range"
    return cores


def _as_frame(layer: PlacedLayer, settings: Settings, catalogue: Catalogue, crs: CRS) -> gpd.GeoDataFrame:
    """Return a layer as the stages use it, in the run's CRS."""
    timezone, day_first = settings.programme.timezone, settings.cores.day_first
    match layer.name:
        case "roads":
            return as_segments(layer, catalogue, crs)
        case "surfaces":
            return as_surfaces(layer, catalogue, crs)
        case "districts":
            return as_districts(layer, crs)
        case "joints":
            return as_joints(layer, crs)
        case "resurfaced":
            return as_works(layer, crs, "resurfaced_on", timezone, day_first=day_first)
        case _:
            return as_works(layer, crs, "due_on", timezone, day_first=day_first)


def _input_files(
    register: Register, sha256: str, layers: dict[str, PlacedLayer], settings: Settings, crs: CRS
) -> list[InputFile]:
    """Return the files that were read, the register first."""
    read = [("cores", settings.cores.path, sha256, len(register.frame), register.rows_in_file, register.crs)]
    read += [
        (
            layer.name,
            layer.section.path,
            layer.table.sha256,
            len(layer.table.frame),
            layer.table.rows_in_file,
            layer.crs,
        )
        for layer in layers.values()
    ]
    return [
        InputFile(
            section, path, digest, rows, rows_in_file, name_of(own), transformation_accuracy_m(own, crs),
        )
        for section, path, digest, rows, rows_in_file, own in read
    ]  # fmt: skip


def _accuracy_notices(files: list[InputFile], crs: CRS) -> list[str]:
    """Return a notice per file that was transformed less accurately than to a metre.

    A datum shift without its grid still gives coordinates, some metres off, and PROJ does not report it.
    """
    return [
        f"{file.path}: transformed from {file.crs} to {name_of(crs)} "
        + ("with unknown accuracy." if file.accuracy_m is None else f"to within {file.accuracy_m:g} m.")
        for file in files
        if file.accuracy_m is None or file.accuracy_m > _REPORTED_ACCURACY_M
    ]


def _credits(settings: Settings) -> list[str]:
    """Return the credits that map and report have to show, each once."""
    sections = [settings.cores, *(getattr(settings, name) for name in _LAYERS)]
    lines = []
    for section in sections:
        if section is None:
            continue
        if section.attribution:
            lines.append(section.attribution)
        elif section.path.lower().endswith((".pbf", ".osm")):
            lines.append(_OSM_CREDIT)
    return list(dict.fromkeys(lines))
