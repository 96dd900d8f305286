"""What the maps of a pack hold together, where each district has a map of its own."""

from pathlib import Path
from typing import Any

import pandas as pd

from pipeline.errors import InputError
from pipeline.publish.handover.drawn import PackContent
from pipeline.publish.map.by_district import IN_PACK, maps_of, title_of
from pipeline.publish.words import words_of
from pipeline.publish.works import WORKS
from pipeline.readback.pack_files import MAP, has_district_maps
from pipeline.readback.pack_map import MapColumns, read_map_columns

__all__ = ["read_maps"]


def read_maps(folder: Path, content: PackContent) -> MapColumns:
    """Return what the map of a pack holds, or its maps together: each core is in one of them.

    Raises
    ------
    InputError
        A map is missing or not one that Kerfbook wrote, or is not that of its district.
    """
    if not has_district_maps(content.facts):
        return read_map_columns(folder / MAP)
    cores, facts = content.tables["cores.csv"], content.facts
    words = words_of(facts["language"])
    held = []
    for name, file in maps_of(cores[cores["copy_of"].isna()], IN_PACK).items():
        one = read_map_columns(folder / file)
        title = title_of(facts["programme"], name, words)
        if one.page.get("title") != title:
            raise InputError(f"{file}: title: found {one.page.get('title')}, expected {title}")
        held.append(one)
    return _together(held, content)


def _together(held: list[MapColumns], content: PackContent) -> MapColumns:
    names = sorted({name for one in held for name in one.lists})
    pages = [one.page for one in held]
    days = {str(page.get("asOf")) for page in pages}
    page: dict[str, Any] = {
        "title": content.facts["programme"],
        "asOf": ", ".join(sorted(days)),
        "cores": sum(int(one.get("cores", 0)) for one in pages),
        "works": _works(pages, content),
    }
    return MapColumns(
        pd.concat([one.cores for one in held], ignore_index=True),
        {name: most for one in held for name, most in one.digits.items()},
        sorted({name for one in held for name in one.days}),
        pd.concat([one.findings for one in held], ignore_index=True),
        {name: pd.concat([one.lists[name] for one in held if name in one.lists], ignore_index=True) for name in names},
        page,
    )


def _works(pages: list[dict[str, Any]], content: PackContent) -> list[dict[str, Any]]:
    """Return the works of all maps in the order of their table; one that differs between two maps is there twice."""
    table = content.tables.get(WORKS)
    order = {} if table is None else {name: at for at, name in enumerate(table["works_id"])}
    found = {repr(entry): entry for page in pages for entry in page.get("works", [])}
    return sorted(found.values(), key=lambda entry: (order.get(entry.get("id"), len(order)), str(entry.get("id"))))
