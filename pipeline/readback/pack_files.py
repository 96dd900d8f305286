"""The files that may belong to a handover pack, what each is, and how it is checked: the one list of them."""

import re
from pathlib import Path
from typing import Any, Final, Literal, NamedTuple

from pipeline.contracts import (
    FINDING_TABLE,
    HANDED_CHANGE_TABLE,
    HANDED_RULE_TABLE,
    PACKAGE_INDEX,
    PUBLISHED,
    WORKS_CORES,
    WORKS_TABLE,
    Column,
)

__all__ = [
    "BY_DISTRICT", "DISTRICTS", "IDENTITY", "MANIFEST", "MAP", "MOST_COLUMNS", "MOST_FILES", "ONE_FILE", "PACKAGE",
    "PACK_FILES", "PAGES", "SIGNATURE", "TABLES", "PackFile", "district_package", "district_packages_in",
    "has_district_maps", "has_district_packages", "is_district_map", "is_district_package", "pack_file", "pages_in",
    "too_large_together",
]  # fmt: skip

MANIFEST: Final = "SHA256SUMS"
# a signature of the checksums: it cannot be listed in what it signs
SIGNATURE: Final = "SHA256SUMS.sig"
IDENTITY: Final = "handover.json"
PACKAGE: Final = "cores.gpkg"
MAP: Final = "map.html"
# the table of the GeoPackages of districts, where there are any
DISTRICTS: Final = "districts.csv"
# with a map and a GeoPackage for each district
MOST_FILES: Final = 20_000
# of a table or a layer, as SQLite allows; a register has at most 1,900
MOST_COLUMNS: Final = 2000
# what the facts say of the maps: one for everything, or one per district, to which MAP then leads
ONE_FILE: Final = "one file"
BY_DISTRICT: Final = "by district"
_DISTRICT_MAP: Final = re.compile(r"map-[a-z0-9]+(-[a-z0-9]+)*\.html", re.ASCII)
_DISTRICT_PACKAGE: Final = re.compile(r"cores-[a-z0-9]+(-[a-z0-9]+)*\.gpkg", re.ASCII)


class PackFile(NamedTuple):
    """One file of a pack.

    ``kind``: a table is read cell by cell and compared with the layer of the GeoPackage that ``layer`` names, works and
    the cores in them with several, and with the map; what is drawn is drawn again from the tables, the layers and
    ``handover.json``, and compared byte for byte. ``is_needed``: a pack without it is incomplete. ``columns``: those of
    a table by name, with their kinds; others are text. ``words``: key of the sentence that describes it.
    ``most_bytes``: no such file is larger.
    """

    kind: Literal["table", "package", "drawn", "facts"]
    words: str
    is_needed: bool = True
    columns: dict[str, Column] = {}  # noqa: RUF012 - never changed
    layer: str | None = None
    most_bytes: int = 2 << 30


# in the order in which the page on how to read a pack lists them
PACK_FILES: Final[dict[str, PackFile]] = {
    MAP: PackFile("drawn", "map", most_bytes=200 << 20),
    "cores.csv": PackFile("table", "cores", columns=PUBLISHED, layer="cores"),
    "findings.csv": PackFile(
        "table", "findings", columns={column.published: column for column in FINDING_TABLE}, layer="findings"
    ),
    "rules.csv": PackFile(
        "table",
        "rules",
        columns={column.name: column for column in HANDED_RULE_TABLE},
        layer="rules",
        most_bytes=50 << 20,
    ),
    "works.csv": PackFile("table", "works", is_needed=False, columns={column.name: column for column in WORKS_TABLE}),
    "works_cores.csv": PackFile(
        "table", "works_cores", is_needed=False, columns={column.name: column for column in WORKS_CORES}
    ),
    "what-changed.html": PackFile("drawn", "what_changed", is_needed=False, most_bytes=50 << 20),
    "changes.csv": PackFile(
        "table",
        "changes",
        is_needed=False,
        columns={column.name: column for column in HANDED_CHANGE_TABLE},
        layer="changes",
    ),
    "work-zones.geojson": PackFile("drawn", "work_zones", is_needed=False),
    PACKAGE: PackFile("package", "gpkg", most_bytes=8 << 30),
    DISTRICTS: PackFile(
        "drawn",
        "districts",
        is_needed=False,
        columns={column.name: column for column in PACKAGE_INDEX},
        most_bytes=50 << 20,
    ),
    "how-to-read.html": PackFile("drawn", "", most_bytes=50 << 20),
    "datapackage.json": PackFile("drawn", "data_package", most_bytes=50 << 20),
    # a list takes twenty times the bytes that it is written with
    IDENTITY: PackFile("facts", "identity", most_bytes=4 << 20),
}
TABLES: Final = tuple(name for name, file in PACK_FILES.items() if file.kind == "table")
PAGES: Final = tuple(name for name, file in PACK_FILES.items() if file.kind == "drawn")


def has_district_maps(facts: dict[str, Any]) -> bool:
    """Return whether each district of a pack has a map of its own, by its ``handover.json``."""
    return bool(facts.get("maps") == BY_DISTRICT)


def has_district_packages(facts: dict[str, Any]) -> bool:
    """Return whether each district of a pack has a GeoPackage too, by its ``handover.json``; else it says nothing."""
    return bool(facts.get("geopackage") == BY_DISTRICT)


def is_district_map(name: str) -> bool:
    """Return whether a file may be the map of a district, by its name."""
    return _DISTRICT_MAP.fullmatch(name) is not None


def is_district_package(name: str) -> bool:
    """Return whether a file may be the GeoPackage of a district, by its name."""
    return _DISTRICT_PACKAGE.fullmatch(name) is not None


def district_package(stem: str) -> str:
    """Return the name of the GeoPackage of a district."""
    return f"cores-{stem}.gpkg"


def pack_file(name: str) -> PackFile | None:
    """Return what a file of a pack is, by its name; None for a file of another name."""
    like = MAP if is_district_map(name) else PACKAGE if is_district_package(name) else name
    return PACK_FILES.get(like)


def pages_in(folder: Path) -> list[str]:
    """Return the files of a pack that are drawn, by their names."""
    return sorted(file.name for file in folder.iterdir() if file.name in PAGES or is_district_map(file.name))


def district_packages_in(folder: Path) -> list[str]:
    """Return the GeoPackages of districts in a pack, by their names."""
    return sorted(file.name for file in folder.iterdir() if is_district_package(file.name))


def too_large_together(size: int) -> str:
    """Return what is wrong with the bytes of all GeoPackages of districts together; an empty text for nothing."""
    most = PACK_FILES[PACKAGE].most_bytes
    return f"GeoPackages of districts of {size:,} bytes together, at most {most:,}" if size > most else ""
