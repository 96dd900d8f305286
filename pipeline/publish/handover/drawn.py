"""A pack's pages and GeoPackage, drawn from the pack's own tables, layers and facts, and from nothing else.

Writing a pack and checking one call the same functions: what was altered afterwards is drawn differently.
"""

import datetime as dt
import re
from pathlib import Path
from typing import Any, Final, NamedTuple

import geopandas as gpd
import pandas as pd
import shapely
from pyproj import CRS
from pyproj.exceptions import CRSError

from pipeline.clock import Counted, uncounted
from pipeline.contracts import DATES_UNDERSTOOD, INTAKE_TABLES, STREET_RECORDED, no_text
from pipeline.errors import InputError
from pipeline.publish.data_package import DATA_PACKAGE
from pipeline.publish.geopackage.package import GeoPackage
from pipeline.publish.handover.by_district import draw_districts, list_districts
from pipeline.publish.handover.changes import CHANGES, WHAT_CHANGED, draw_what_changed, rows_changed
from pipeline.publish.handover.dictionary import draw_dictionary
from pipeline.publish.handover.facts import read_cautions
from pipeline.publish.handover.how_to_read import draw_how_to_read
from pipeline.publish.handover.work_zones import WORK_ZONES, draw_work_zones
from pipeline.publish.map.by_district import IN_PACK
from pipeline.publish.map.cards import DAYS
from pipeline.publish.map.page import Background, MapInput, SharedParts
from pipeline.publish.map.pages import map_pages
from pipeline.publish.words import load_words
from pipeline.publish.works import WORKS, WORKS_CORES, works_of
from pipeline.readback.pack_files import (
    DISTRICTS,
    IDENTITY,
    MAP,
    PACKAGE,
    TABLES,
    has_district_maps,
    has_district_packages,
)
from pipeline.readback.pack_package import open_package, read_layers
from pipeline.readback.pack_tables import read_typed
from pipeline.readback.packs import read_identity
from pipeline.works import ListedWorks

__all__ = ["OF_SEGMENTS", "PackContent", "draw_pages", "package_of", "read_content", "read_tables", "shown_cores"]

_DRAWN: Final = "EPSG:4326"
_CRS: Final = re.compile(r"[A-Za-z]+:\w+$|(PROJCRS|PROJCS|BOUNDCRS|COMPOUNDCRS|DERIVEDPROJCRS)\[")
# a grid of shifts is known by its name; a path could lead to a device that never answers
_GRID_BY_PATH: Final = re.compile(r"PARAMETERFILE\s*\[[^\]]*[/\\:]", re.IGNORECASE)
_WHAT_TO_DO: Final = "Ask the sender for the pack again."
# columns of the road layer that a map needs; the others are kept back
OF_SEGMENTS: Final = [
    column.name for column in INTAKE_TABLES["segments"] if column.handed != "on request" and column.kind != "geometry"
]


class PackContent(NamedTuple):
    """What a pack holds.

    ``facts``: ``handover.json``. ``tables``: its CSV files by name, numbers as numbers. ``layers``: those of the
    GeoPackage that have a geometry, by name, in the run's CRS; of ``cores`` only the points count, since its cells are
    in ``cores.csv``.
    """

    facts: dict[str, Any]
    tables: dict[str, pd.DataFrame]
    layers: dict[str, gpd.GeoDataFrame]

    @property
    def crs(self) -> CRS:
        """The CRS that the run measured in."""
        return _crs_of(self.facts)


def _crs_of(facts: dict[str, Any]) -> CRS:
    """Return the CRS that the facts name by its code, or define; packs of earlier versions name it alone."""
    written = str(facts.get("crs_definition", facts["crs"]))
    # PROJ would also take the name of a file, and strings that lead to one
    if not _CRS.match(written) or _GRID_BY_PATH.search(written):
        raise InputError(f"{IDENTITY}: crs: found {written[:60]!r}, expected a code such as EPSG:32617. {_WHAT_TO_DO}")
    try:
        return CRS.from_user_input(written)
    except CRSError as error:
        raise InputError(f"{IDENTITY}: crs: {written[:60]!r} is not known ({error}). {_WHAT_TO_DO}") from error


def read_tables(folder: Path) -> dict[str, pd.DataFrame]:
    """Return the CSV files of a pack by name; those that it does not have are left out."""
    return {name: read_typed(folder / name) for name in TABLES if (folder / name).exists()}


def read_content(folder: Path) -> PackContent:
    """Return what a pack holds.

    Raises
    ------
    InputError
        A file of it cannot be read.
    """
    facts = read_identity(folder / IDENTITY)
    with open_package(folder / PACKAGE) as database:
        layers = {
            name: gpd.GeoDataFrame(layer.cells, geometry=layer.geometry, crs=_crs_of(facts))
            for name, layer in read_layers(database).items()
        }
    return PackContent(facts, read_tables(folder), layers)


def package_of(content: PackContent) -> GeoPackage:
    """Return what a pack's GeoPackage holds; it is given no other column, so it cannot hold one."""
    points = content.layers["cores"].geometry.to_numpy()
    positions = pd.DataFrame({"x_m": shapely.get_x(points), "y_m": shapely.get_y(points)})
    return GeoPackage(
        cores=content.tables["cores.csv"],
        positions=positions,
        segments=content.layers["segments"],
        districts=content.layers.get("districts"),
        crs=content.crs,
        findings=content.tables["findings.csv"],
        title=content.facts["programme"],
        as_of=dt.date.fromisoformat(content.facts["as_of"]),
        is_pack=True,
        works=_works(content),
        changes=content.tables.get(CHANGES),
        rules=content.tables["rules.csv"],
    )


def _works(content: PackContent) -> ListedWorks | None:
    """Return the works that are handed over, with the cores in each."""
    if WORKS not in content.tables or WORKS_CORES not in content.tables:
        return None
    works = works_of(content.tables[WORKS], content.layers, content.crs)
    return ListedWorks(works, content.tables[WORKS_CORES])


def draw_pages(content: PackContent, shared: SharedParts | None = None, tell: Counted = uncounted) -> dict[str, str]:
    """Return the text of each page of a pack, by the name of its file.

    ``shared``: from the map of the run, which makes the pages no other, only sooner drawn. ``tell``: is told how much
    of the map is drawn.
    """
    tables = content.tables
    places = IN_PACK if has_district_maps(content.facts) else None
    districts = {DISTRICTS: list_districts(package_of(content))} if has_district_packages(content.facts) else {}
    pages = {
        **dict(map_pages(_view(content), MAP, places, shared, tell)),
        "how-to-read.html": draw_how_to_read(content.facts, tables["findings.csv"]),
        DATA_PACKAGE: draw_dictionary(content.facts, tables | districts),
        **{name: draw_districts(table) for name, table in districts.items()},
    }
    if CHANGES in tables:
        pages[WHAT_CHANGED] = draw_what_changed(content.facts, tables[CHANGES], tables["cores.csv"])
    if content.facts.get("work_zones") is not None:
        pages[WORK_ZONES] = draw_work_zones(content.facts, content.tables["cores.csv"])
    return pages


def _view(content: PackContent) -> MapInput:
    """Return what a pack's map shows: each core once, with the columns of its table and no others."""
    facts, tables, layers = content.facts, content.tables, content.layers
    cores = tables["cores.csv"]
    cores = cores[cores["copy_of"].isna()].reset_index(drop=True)
    findings = tables["findings.csv"]
    segments = layers["segments"]
    districts = layers.get("districts")
    background = facts["background"]
    works = _works(content)
    return MapInput(
        title=facts["programme"],
        as_of=dt.date.fromisoformat(facts["as_of"]),
        crs=facts["crs"],
        cores=shown_cores(cores, facts["language"]),
        findings=findings[findings["row"].isin(cores["row"])].reset_index(drop=True),
        segments=segments.assign(**{name: no_text(segments.index) for name in OF_SEGMENTS if name not in segments}),
        districts=None if districts is None else districts.to_crs(_DRAWN),
        orders=None,
        unplaced=facts["unplaced"],
        sources=facts["sources"],
        cautions=facts["cautions"],
        background=None if background is None else Background(background["url"], background["credit"]),
        units=facts["units"],
        language=facts["language"],
        core_cautions=None if facts["core_cautions"] is None else read_cautions(facts["core_cautions"]),
        since=None if facts["since"] is None else dt.date.fromisoformat(facts["since"]),
        changes=rows_changed(tables.get(CHANGES)),
        works=None if works is None else works.works.to_crs(_DRAWN),
        in_works=None if works is None else works.cores[["row", "works_id"]],
        reader="authority",
        short_words=facts["short_words"],
    )


def shown_cores(cores: pd.DataFrame, language: str) -> pd.DataFrame:
    """Return the cores with days without a time, and the street that the register records where no segment has one."""
    days = {name: cores[name].str.slice(0, 10) for name in (*DATES_UNDERSTOOD, *DAYS) if name in cores}
    shown = cores.assign(**days)
    if STREET_RECORDED in cores:
        before, _, after = str(load_words(language)["card.street_recorded"]).partition("{street}")
        shown["street"] = cores["street"].fillna(before + cores[STREET_RECORDED] + after)
    return shown
