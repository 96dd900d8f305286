"""What a street or works is coloured by in a GIS: the worst that lies on a street, the kind of works."""

from collections.abc import Collection
from typing import Final, NamedTuple

from pipeline.contracts import STATUS_COUNTS, names_of

__all__ = ["LEVELS", "WIDE_CLASSES", "WORKS_KINDS", "Level", "levels_of"]

# classes of road that are drawn wider, by their catalogue names
WIDE_CLASSES: Final = ("motorway", "main", "secondary")
# title of each kind of works
WORKS_KINDS: Final = {"planned": "Planned works", "protected": "Protected street", "resurfaced": "Resurfaced road"}


class Level(NamedTuple):
    """One colour: its name in the looks, its title, and the counts of which any above zero gives it."""

    name: str
    title: str
    counts: tuple[str, ...]


# the most urgent first: a street has the first level that applies
LEVELS: Final = (
    Level("hazard", "Street with a hazard", ("cores_hazard",)),
    Level("overdue", "Street with an overdue core", ("cores_overdue",)),
    Level("flagged", "Street with a flagged core", ("cores_flagged",)),
    Level("open", "Street with an open core", ("cores_open",)),
    Level("order", "Street with reinstated cores, none flagged", names_of(STATUS_COUNTS)),
    Level("none", "Street without cores", ()),
)


def levels_of(columns: Collection[str]) -> list[Level]:
    """Return the levels that a layer with these columns can tell apart."""
    known = [level._replace(counts=tuple(name for name in level.counts if name in columns)) for level in LEVELS]
    return [level for level in known if level.counts or level.name == "none"]
