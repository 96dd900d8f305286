"""Planned works, protected streets and resurfaced roads as they are published and handed over."""

from collections.abc import Collection
from typing import Final

from pipeline.works import ListedWorks

__all__ = ["WORKS", "WORKS_CORES", "counts_kept_back", "handed_works"]

WORKS: Final = "works.csv"
WORKS_CORES: Final = "works_cores.csv"
# columns of works, by the column of cores that their counts are made from
_COUNTED_FROM: Final = {"cores_open": "state", "cores_hazard": "urgency", "cores_overdue": "urgency"}


def counts_kept_back(columns: Collection[str]) -> list[str]:
    """Return the counts of cores that are not handed over, as what they are made from is not."""
    return [name for name, source in _COUNTED_FROM.items() if source not in columns]


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
    always = ("works_id", "row", "core_id")
    return ListedWorks(
        works.works.drop(columns=counts_kept_back(columns)),
        works.cores[[name for name in works.cores if name in always or name in columns]],
    )
