"""Planned works, protected streets and resurfaced roads as they are published and handed over."""

from collections.abc import Collection
from typing import Final

from pipeline.works import ListedWorks

__all__ = ["WORKS", "WORKS_CORES", "handed_works"]

WORKS: Final = "works.csv"
WORKS_CORES: Final = "works_cores.csv"
# columns of works, by the column of cores that their counts are made from
_COUNTED_FROM: Final = {"cores_open": "state", "cores_hazard": "urgency", "cores_overdue": "urgency"}


def handed_works(works: ListedWorks | None, columns: Collection[str], *, is_allowed: bool) -> ListedWorks | None:
    """Return the works as they are handed over: of the cores, only what is handed over of them anyway.

    Parameters
    ----------
    works
        Those of the run; None without a layer of works.
    columns
        The columns of cores that are handed over.
    is_allowed
        Whether the settings allow works to be handed over.
    """
    if works is None or not is_allowed:
        return None
    kept_back = [name for name, source in _COUNTED_FROM.items() if source not in columns]
    always = ("works_id", "row", "core_id")
    return ListedWorks(
        works.works.drop(columns=kept_back),
        works.cores[[name for name in works.cores if name in always or name in columns]],
    )
