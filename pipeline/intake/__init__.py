"""Intake: users' files in, typed frames out; nothing else in the program reads an input."""

from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS
from pyproj.exceptions import ProjError

from pipeline.clock import Told, numbered
from pipeline.contracts import Temperatures, column_by_column, sharing_blanks
from pipeline.errors import InputError
from pipeline.intake.crs import name_of, refuse_stretch, run_crs, to_crs, transformation_accuracy_m
from pipeline.intake.decisions import NO_ENTRIES, Entries
from pipeline.intake.layer_facts import LayerFacts
from pipeline.intake.map_layers import LAYERS, layer_frame, read_layer, typed_layers
from pipeline.intake.placed_layer import PlacedLayer, outermost_feature, refuse_elsewhere, roads_note
from pipeline.intake.promised import NOTHING_PROMISED, Promised, read_promised
from pipeline.intake.registers import Registers, in_run_crs, read_registers
from pipeline.intake.returned_fields import fill_returned
from pipeline.intake.returns import read_returns
from pipeline.intake.road_works import WORKS_LAYERS, with_known_segments
from pipeline.intake.same_cores import same_cores
from pipeline.intake.stock import read_stock
from pipeline.intake.unmatched import refuse_unknown_items, unmatched_names, unmatched_stock, yard_names
from pipeline.intake.unmatched_crews import refuse_nowhere, unmatched_crews
from pipeline.intake.weather import read_weather
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.settings import Layer, Settings

__all__ = ["LAYERS", "InputFile", "Inputs", "layer_frame", "middle_of", "read_inputs", "read_layer"]

# a transformation less accurate than this is reported
_REPORTED_ACCURACY_M: Final = 1.0
_OSM_CREDIT: Final = "© OpenStreetMap contributors, ODbL"


@dataclass(frozen=True)
class InputFile:
    """One input file as it was read, so that two runs can be compared.

    ``accuracy_m``: of the transformation to the run's CRS, in metres; None where it is not known. ``register``: name of
    the register that a file of cores belongs to; empty for others. ``crs``: empty for the table of stock. ``parts``:
    the checksum of each part by its name, where the input is a folder of them.
    """

    section: str
    path: str
    sha256: str
    rows: int
    rows_in_file: int
    crs: str
    accuracy_m: float | None
    register: str = ""
    parts: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Inputs:
    """The inputs of a run, in its CRS; ``cores`` has ``x_m`` and ``y_m``; a layer that is not given is None.

    ``stretch``: by what share metres of the CRS differ from metres on the ground, at most, where the roads are.
    ``layers``: what was understood of each map layer. ``entries``: what was decided about findings. ``promised``: the
    plan that is kept. ``returns``: what became of each field that crews returned.
    """

    register: Registers
    cores: pd.DataFrame
    segments: gpd.GeoDataFrame
    surfaces: gpd.GeoDataFrame | None
    districts: gpd.GeoDataFrame | None
    joints: gpd.GeoDataFrame | None
    resurfaced: gpd.GeoDataFrame | None
    planned_works: gpd.GeoDataFrame | None
    protected: gpd.GeoDataFrame | None
    stock: pd.DataFrame | None
    crs: CRS
    stretch: float
    files: list[InputFile]
    notices: list[str]
    credits: list[str]
    layers: list[LayerFacts]
    entries: Entries = NO_ENTRIES
    promised: Promised = NOTHING_PROMISED
    returns: pd.DataFrame = field(default_factory=pd.DataFrame)
    temperatures: Temperatures | None = None

    @property
    def for_audit(self) -> "Inputs":
        """The same without the single files of the registers, which only a check of what was understood shows again."""
        none = [
            replace(part, frame=part.frame.head(0).copy(), as_read=part.as_read.head(0).copy())
            for part in self.register.parts
        ]
        return replace(self, register=replace(self.register, frame=self.cores, parts=none))


def read_inputs(
    settings: Settings,
    folder: Path,
    catalogue: Catalogue,
    told: Told,
    entries: Entries = NO_ENTRIES,
) -> Inputs:
    """Read the register, the layers and the stock of a programme.

    Parameters
    ----------
    settings
        The programme.
    folder
        The folder of the programme file, which paths are relative to.
    catalogue
        The surfaces and road classes that layers and register may name.
    told
        Is told the path of each file before it is read, and how many have been read.
    entries
        What was decided about findings; corrections are applied to the registers.

    Raises
    ------
    InputError
        A file cannot be used, or two of them do not cover the same area.
    """
    try:
        return _read(settings, folder, catalogue, told, entries)
    except ProjError as error:
        raise InputError(
            f"programme.crs: the inputs cannot be transformed to the CRS of the run ({error}). "
            "Check programme.crs, and the CRS of each input."
        ) from error


def _files_to_read(settings: Settings) -> int:
    """Return how many files a programme names, a pattern of files as one."""
    others = (*(getattr(settings, name) for name in LAYERS), settings.orders.stock, settings.weather)
    return len(settings.cores) + sum(other is not None for other in others)


def _read(settings: Settings, folder: Path, catalogue: Catalogue, told: Told, entries: Entries) -> Inputs:
    refuse_unknown_items(settings.orders, catalogue.items)
    announce = numbered(told, _files_to_read(settings), "files")
    roads = read_layer(settings.roads, "roads", folder, announce)
    # roads that are nowhere on Earth are told before cores are looked for beside them
    crs = run_crs(settings.programme.crs, *middle_of(roads), "programme.crs")
    outer = partial(outermost_feature, roads)
    stretch = refuse_stretch(crs, roads.extent, roads.crs, "programme.crs", roads.table.notices, outer)
    refuse_nowhere(settings.plan.yards, crs, "plan.yards")
    kerf_mm, note = catalogue.materials.geometry.kerf.value, roads_note(roads)
    register = read_registers(settings, folder, roads.extent, roads.crs, kerf_mm, announce, entries.frame, note)
    zone, day_first = settings.programme.timezone, settings.day_first
    told("positions and copies of cores")
    returned = read_returns(settings.returns, folder, zone, day_first=day_first)
    filled = fill_returned(in_run_crs(register, crs), register.kept, returned)
    register, cores = replace(register, kept=filled.kept), filled.cores
    promised = read_promised(settings.plan.keep, folder, day_first=day_first)
    cores = cores.assign(**same_cores(cores, settings.matching.same_core_m))
    layers = {"roads": roads}
    for name in LAYERS:
        section: Layer | None = getattr(settings, name)
        if name != "roads" and section is not None:
            layers[name] = read_layer(section, name, folder, announce)
            refuse_elsewhere(layers[name], roads)
    frames, facts = typed_layers(layers, settings, catalogue, crs, told)
    frames |= {one: with_known_segments(frames[one], layers[one], frames["roads"]) for one in WORKS_LAYERS & {*frames}}
    files = _input_files(register, layers, crs)
    files += [InputFile("decisions", one.path, one.sha256, one.entries, one.rows, "", 0.0) for one in entries.files]
    notices = [*register.notices, *(line for layer in layers.values() for line in layer.table.notices)]
    files += [InputFile("returns", one.path, one.sha256, one.filled, one.rows, "", 0.0) for one in returned.files]
    if promised.path:
        files.append(InputFile("plan", promised.path, promised.sha256, promised.rows, promised.rows, "", 0.0))
    notices += [*entries.notices, *filled.notices]
    stock = None
    if settings.orders.stock is not None:
        announce(settings.orders.stock.label("orders.stock"))
        yards = yard_names(settings.orders, frames.get("districts"))
        read = read_stock(settings.orders.stock, folder, catalogue.items, yards, day_first=settings.day_first)
        notices += [*read.notices, *unmatched_stock(read, settings.orders, frames.get("districts"))]
        stock = read.frame
        files.append(InputFile("stock", read.label, read.sha256, len(stock), read.rows_in_file, "", 0.0))
    temperatures = None
    if settings.weather is not None:
        temperatures, tables = read_weather(settings.weather, folder, zone, day_first=day_first)
        notices += [line for table in tables for line in table.notices]
        files += [InputFile("weather", one.label, one.sha256, one.rows, one.rows_in_file, "", 0.0) for one in tables]
    cores = sharing_blanks(column_by_column(cores))
    told("names that match nothing")
    notices += unmatched_crews(settings, catalogue, frames["roads"], frames.get("districts"))
    notices += unmatched_names(
        settings, catalogue, cores, frames["roads"], frames.get("surfaces"), frames.get("districts")
    )
    return Inputs(
        register=register, cores=cores, segments=frames["roads"], surfaces=frames.get("surfaces"),
        districts=frames.get("districts"), joints=frames.get("joints"), resurfaced=frames.get("resurfaced"),
        planned_works=frames.get("planned_works"), protected=frames.get("protected"),
        stock=stock, crs=crs, stretch=stretch, files=files,
        notices=[*notices, *_accuracy_notices(files, crs)], credits=_credits(settings),
        layers=facts, entries=entries, promised=promised, returns=filled.report, temperatures=temperatures,
    )  # fmt: skip


def middle_of(roads: PlacedLayer) -> tuple[float, float]:
    """Return longitude and latitude of the middle of the roads: no wrong position of a core moves it."""
    assert roads.table.geometry is not None
    x, y = np.median(shapely.get_coordinates(roads.table.geometry), axis=0)
    lon, lat = to_crs(np.array([x]), np.array([y]), roads.crs, CRS.from_epsg(4326))
    return float(lon[0]), float(lat[0])


def _input_files(register: Registers, layers: dict[str, PlacedLayer], crs: CRS) -> list[InputFile]:
    """Return the files that were read, the registers first."""
    read = [
        ("cores", part.label, part.sha256, len(part.frame), part.rows_in_file, part.crs, part.name, part.part_sums)
        for part in register.parts
    ]
    for layer in layers.values():
        table = layer.table
        size = len(table.frame), table.rows_in_file
        read.append((layer.name, table.label, table.sha256, *size, layer.crs, "", table.part_sums))
    return [
        InputFile(
            section, path, digest, rows, rows_in_file, name_of(own), transformation_accuracy_m(own, crs), name, parts,
        )
        for section, path, digest, rows, rows_in_file, own, name, parts in read
    ]  # fmt: skip


def _accuracy_notices(files: list[InputFile], crs: CRS) -> list[str]:
    """Return a notice per file that was transformed less accurately than to a metre.

    A datum shift without its grid still gives coordinates, some metres off, and PROJ does not report it.
    """
    return [
        f"{file.path}: transformed from {file.crs} to {name_of(crs)} "
        + ("with unknown accuracy." if file.accuracy_m is None else f"to within {file.accuracy_m:g} m.")
        for file in files
        if file.rows and (file.accuracy_m is None or file.accuracy_m > _REPORTED_ACCURACY_M)
    ]


def _credits(settings: Settings) -> list[str]:
    """Return the credits that map and report have to show, each once."""
    sections = [*settings.cores, *(getattr(settings, name) for name in LAYERS)]
    lines = []
    for section in sections:
        if section is None:
            continue
        if section.attribution:
            lines.append(section.attribution)
        elif section.path.lower().endswith((".pbf", ".osm")):
            lines.append(_OSM_CREDIT)
    return list(dict.fromkeys(lines))
