"""The inputs of a programme read one by one, so that one that cannot be used does not hide the others."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from math import inf
from pathlib import Path
from typing import Final

import geopandas as gpd
import pandas as pd
from pyproj import CRS
from pyproj.exceptions import ProjError

from pipeline.errors import InputError, KerfbookError, SettingsError
from pipeline.intake import LAYERS, layer_frame, middle_of, read_layer
from pipeline.intake.crs import parse_crs, run_crs
from pipeline.intake.layer_facts import LayerFacts, layer_facts
from pipeline.intake.placed_layer import PlacedLayer, refuse_elsewhere, roads_note
from pipeline.intake.register import Register
from pipeline.intake.registers import read_parts
from pipeline.intake.stock import read_stock
from pipeline.intake.unmatched import yard_names
from pipeline.intake.weather import read_weather
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.settings import Cores, Settings

__all__ = ["SeparateInputs", "read_separately"]

_EVERYWHERE: Final = (-inf, -inf, inf, inf)


@dataclass
class SeparateInputs:
    """Those inputs that could be read, each by itself, and the errors of the others."""

    parts: list[Register] = field(default_factory=list)
    layers: list[LayerFacts] = field(default_factory=list)
    segments: gpd.GeoDataFrame | None = None
    districts: gpd.GeoDataFrame | None = None
    stock: pd.DataFrame | None = None
    crs: CRS | None = None
    notices: list[str] = field(default_factory=list)
    errors: list[KerfbookError] = field(default_factory=list)

    @contextmanager
    def trying(self, programme: Path) -> Iterator[None]:
        """Keep an error about one input, and go on with the next."""
        try:
            yield
        except InputError as error:
            self.errors.append(error)
        except SettingsError as error:
            self.errors.append(SettingsError(f"{programme}: {error}"))
        except ProjError as error:
            self.errors.append(InputError(f"programme.crs: an input cannot be transformed ({error}). Check its CRS."))


def read_separately(
    settings: Settings, programme: Path, catalogue: Catalogue, announce: Callable[[str], None]
) -> SeparateInputs:
    """Read every input of a programme by itself, as far as it can be read.

    Parameters
    ----------
    settings, programme
        The programme and its file.
    catalogue
        The surfaces and road classes that layers may name.
    announce
        Called with the path of each file before it is read.
    """
    read = SeparateInputs()
    folder = programme.parent
    roads = None
    with read.trying(programme):
        roads = read_layer(settings.roads, "roads", folder, announce)
        read.crs = run_crs(settings.programme.crs, *middle_of(roads), "programme.crs")
    # roads that are nowhere on Earth say nothing of where anything else should be
    there = roads if read.crs is not None else None
    for name in LAYERS:
        section = getattr(settings, name)
        if section is None or (name == "roads" and roads is None):
            continue
        with read.trying(programme):
            layer = roads if name == "roads" and roads else read_layer(section, name, folder, announce)
            _take_layer(read, layer, there, settings, catalogue)
    kerf_mm = catalogue.materials.geometry.kerf.value
    for register in settings.cores:
        with read.trying(programme):
            extent, crs = (_EVERYWHERE, _own_crs(register)) if there is None else (there.extent, there.crs)
            note = "" if there is None else roads_note(there)
            parts = read_parts(
                register, settings, folder, extent, crs, kerf_mm, announce, lambda: read.trying(programme), note=note
            )
            read.parts += parts
            read.notices += [notice for part in parts for notice in part.notices]
    if settings.orders.stock is not None:
        announce(settings.orders.stock.label("orders.stock"))
        with read.trying(programme):
            yards = yard_names(settings.orders, read.districts)
            stock = read_stock(settings.orders.stock, folder, catalogue.items, yards, day_first=settings.day_first)
            read.stock = stock.frame
            read.notices += stock.notices
    if settings.weather is not None:
        announce(settings.weather.label("weather"))
        with read.trying(programme):
            zone = settings.programme.timezone
            tables = read_weather(settings.weather, folder, zone, day_first=settings.day_first)[1]
            read.notices += [notice for table in tables for notice in table.notices]
    return read


def _take_layer(
    read: SeparateInputs, layer: PlacedLayer, roads: PlacedLayer | None, settings: Settings, catalogue: Catalogue
) -> None:
    """Add a layer to what was read, with the errors that its use would have."""
    read.layers.append(layer_facts(layer, LAYERS[layer.name][1], catalogue))
    if roads is not None and layer is not roads:
        refuse_elsewhere(layer, roads)
    if read.crs is not None:
        frame = layer_frame(layer, settings, catalogue, read.crs)
        if layer.name == "roads":
            read.segments = frame
        elif layer.name == "districts":
            read.districts = frame
    read.notices += layer.table.notices


def _own_crs(register: Cores) -> CRS:
    """Return the CRS in which a register is read where there are no roads to compare it with."""
    return parse_crs(register.crs or "EPSG:4326", "cores.crs")
