"""What ``handover.json`` holds beside the counts: all that a pack's pages and GeoPackage need and its tables lack."""

import sqlite3
import zlib
from importlib.metadata import version
from pathlib import Path
from typing import Any, Final

import pandas as pd
import pyogrio
import pyproj
import shapely

from pipeline.contracts import STATUSES
from pipeline.intake.crs import name_of
from pipeline.programme.cautions import CoreCautions, load_cautions
from pipeline.publish.handover.drawing_code import digest_of_drawing
from pipeline.publish.map.page import MapInput
from pipeline.readback.pack_files import BY_DISTRICT, ONE_FILE, PACK_FILES
from pipeline.readback.pack_package import LAYER_STYLES, digest_layer, layer_names, open_package
from pipeline.readback.packs import sha256_of
from pipeline.results import RunResult
from pipeline.version import __version__

__all__ = ["FACTS", "drawing_facts", "layer_facts", "made_with", "read_cautions", "table_facts", "unknown_facts"]

# every key of handover.json: one that is missing leaves something unchecked, one more could say anything
FACTS: Final = frozenset(
    {"programme", "as_of", "run", "crs", "rows", "cores", *STATUSES, "unplaced", "left_out_by_where", "diameter_is"}
    | {"findings", "columns", "columns_of_findings", "findings_without_figures", "language", "units", "contact"}
    | {"choose", "crs_definition", "background", "since", "short_words", "sources", "cautions", "core_cautions"}
    | {
        "changes_may_be_apart_from_the_road",
        "work_zones",
        "position_errors",
        "shifts",
        "maps",
        "tables",
        "layers",
        "made_with",
    }
)

# stated only where it is so
_BY_DISTRICT: Final = {"geopackage": BY_DISTRICT}

# what shapes the bytes of the pages and the GeoPackage
_LIBRARIES: Final = (
    "babel",
    "branca",
    "django-js-lib-leaflet",
    "folium",
    "geopandas",
    "jinja2",
    "numpy",
    "pandas",
    "pyarrow",
    "pyogrio",
    "pyproj",
    "shapely",
)


def drawing_facts(result: RunResult, view: MapInput, cores: pd.DataFrame) -> dict[str, Any]:
    """Return the settings, sources and cautions that the pages show.

    Parameters
    ----------
    result
        The run, its texts in the language of the programme.
    view
        What the run's own map shows.
    cores
        The table of cores as it is handed over.
    """
    background = view.background
    crs = result.inputs.crs
    return {
        "language": view.language,
        "units": view.units,
        "contact": result.settings.handover.contact,
        "choose": result.settings.matching.choose,
        "crs_definition": name_of(crs) if crs.to_authority() else crs.to_wkt(),
        "background": None if background is None else {"url": background.url, "credit": background.credit},
        "since": None if view.since is None else view.since.isoformat(),
        "short_words": dict(view.short_words),
        "sources": view.sources,
        "cautions": view.cautions,
        "core_cautions": None if view.core_cautions is None else _cautions(view.core_cautions, cores),
        "maps": BY_DISTRICT if result.has_district_maps else ONE_FILE,
        **(_BY_DISTRICT if result.settings.publish.geopackage == BY_DISTRICT else {}),
    }


def _cautions(cautions: CoreCautions, cores: pd.DataFrame) -> dict[str, Any]:
    """Return the cautions for cards, of the states and surfaces that the cores handed over have and of no others."""
    states, surfaces = (set(cores[name].dropna().unique()) if name in cores else set() for name in ("state", "surface"))
    lifting = cautions.lifting
    return {
        "state": {name: texts if name in states else [] for name, texts in cautions.state.model_dump().items()},
        "reinstating": cautions.reinstating.cautions if states != {"back"} else [],
        "surface": {name: texts for name, texts in sorted(cautions.surface.items()) if name in surfaces},
        "lifting": {
            "by_machine": lifting.by_machine,
            "by_hand": lifting.by_hand,
            "not_known": lifting.not_known,
            "most_by_hand": f"{lifting.most_by_hand.value} kg",
        },
    }


def unknown_facts(facts: dict[str, Any]) -> list[str]:
    """Return the facts of a pack that no pack has."""
    return sorted(name for name in set(facts) - FACTS if _BY_DISTRICT.get(name) != facts[name])


def read_cautions(handed: dict[str, Any]) -> CoreCautions:
    """Return the cautions that ``drawing_facts`` handed over; the others are the shipped ones, which no card shows."""
    shipped = load_cautions({})
    lifting = shipped.lifting.model_dump(mode="json") | handed["lifting"]
    lifting["most_by_hand"] = {"value": handed["lifting"]["most_by_hand"], "source": "handover.json"}
    return CoreCautions.model_validate(
        {
            "cautions": shipped.general,
            "sheet": shipped.sheet,
            "state": handed["state"],
            "reinstating": {"cautions": handed["reinstating"]},
            "surface": handed["surface"],
            "lifting": lifting,
        }
    )


def table_facts(folder: Path) -> dict[str, str]:
    """Return the SHA-256 of each table, by name."""
    return {
        name: sha256_of(folder / name)
        for name, file in PACK_FILES.items()
        if file.kind == "table" and (folder / name).exists()
    }


def layer_facts(package: Path) -> dict[str, Any]:
    """Return by layer the number of rows and a checksum of what no table holds: its geometries, or all of it."""
    with_table = {file.layer for file in PACK_FILES.values()}
    with open_package(package) as database:
        return {
            layer: digest_layer(database, layer, has_table=layer in with_table)
            for layer in layer_names(database)
            if layer != LAYER_STYLES
        }


def made_with() -> dict[str, str]:
    """Return the versions of everything that shapes a pack's bytes: with others, it may be drawn differently."""
    return {
        "kerfbook": __version__,
        "drawing code": digest_of_drawing(),
        **{name: version(name) for name in _LIBRARIES},
        "gdal": pyogrio.__gdal_version_string__,
        "geos": shapely.geos_version_string,
        "proj": pyproj.__proj_version__,
        "sqlite": sqlite3.sqlite_version,
        "zlib": zlib.ZLIB_RUNTIME_VERSION,
    }
