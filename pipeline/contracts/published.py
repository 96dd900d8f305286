"""The table of cores as it is published, and the columns of it that the road authority is handed."""

from collections.abc import Iterable
from typing import Final

from pipeline.contracts.column import Column, names_of
from pipeline.contracts.cores import (
    AUDITED_COLUMNS,
    INTAKE_COLUMNS,
    LOCATED_COLUMNS,
    QUANTIFIED_COLUMNS,
    SPECIFIED_COLUMNS,
)
from pipeline.contracts.register import REGISTER_COLUMNS

__all__ = [
    "CORE_COLUMNS",
    "CORE_TABLE",
    "DATES_UNDERSTOOD",
    "HANDED_ALWAYS",
    "HANDED_COLUMNS",
    "PUBLISHED",
    "as_published",
    "own_names",
    "register_texts",
]

# names of the table of cores, before the register's own columns
_ORDER: Final = (
    "row", "core_id", "diameter_mm", "depth_mm", "status", "findings", "segment_id", "street", "chainage_m", "offset_m",
    "side", "segment_confidence", "runner_up_id", "surface", "surface_from", "surface_confidence", "district", "shade",
    "bedding", "grout_l", "grout_kg", "bags", "water_l_needed", "gravel_kg", "lon", "lat", "opened_on", "reinstated_at",
    "register", "register_row", "register_file", "copy_of", "state", "urgency", "core_kg", "road_class",
    "road_authority",
)  # fmt: skip
_BY_NAME: Final = {
    column.published: column
    for stage in (INTAKE_COLUMNS, LOCATED_COLUMNS, SPECIFIED_COLUMNS, QUANTIFIED_COLUMNS, AUDITED_COLUMNS)
    for column in stage
}
# dates as they were understood, by ISO 8601: a day alone where no time of day was written
DATES_UNDERSTOOD: Final = ("opened_on", "reinstated_at")
CORE_TABLE: Final = tuple(
    _BY_NAME[name]._replace(kind="text") if name in DATES_UNDERSTOOD else _BY_NAME[name] for name in _ORDER
)
CORE_COLUMNS: Final = names_of(CORE_TABLE)
# every column that can be published or handed over, by its published name
PUBLISHED: Final = {column.published: column for column in (*CORE_TABLE, *REGISTER_COLUMNS)}
# without these a map of cores cannot be read; a pack opens with the row, and always has the others
HANDED_ALWAYS: Final = tuple(name for name, column in PUBLISHED.items() if column.handed == "always" and name != "row")
# what the road authority is handed unless a programme says otherwise: no crews, remarks, materials or costs
HANDED_COLUMNS: Final = tuple(
    name for name, column in PUBLISHED.items() if column.handed != "on request" and name != "row"
)
# names that a GeoPackage or a GeoParquet file keeps for itself
_RESERVED: Final = ("fid", "geom", "geometry", "ogc_fid", "bbox")


def as_published(columns: Iterable[Column]) -> tuple[Column, ...]:
    """Return columns under the names that tables give them."""
    return tuple(column._replace(name=column.published, published_as="") for column in columns)


def own_names(register: Iterable[object]) -> list[str]:
    """Return what a register's own columns are called in the table of cores.

    One whose name is taken there, whatever its case, comes as ``register_<name>``.
    """
    taken = {name.casefold() for name in (*CORE_COLUMNS, *_RESERVED)}
    names = []
    for name in map(str, register):
        free = name
        while free.casefold() in taken:
            free = f"register_{free}"
        taken.add(free.casefold())
        names.append(free)
    return names


def register_texts(register: Iterable[object]) -> tuple[Column, ...]:
    """Return the register's own columns as the table of cores holds them: text as it was read."""
    return tuple(
        Column(name, "text", "", name, "the register's own column, as it was read") for name in own_names(register)
    )
