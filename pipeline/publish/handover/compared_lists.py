"""A pack's works, the cores in them and its changes, compared with its GeoPackage, its cores and its map."""

import sqlite3
from typing import Any, Final

import numpy as np
import pandas as pd

from pipeline.publish.handover.changes import CHANGES, rows_changed
from pipeline.publish.handover.compared import differing_cells, first_problem
from pipeline.publish.handover.drawn import PackContent
from pipeline.publish.map.packing import shown_text, shown_texts
from pipeline.publish.works import WORKS, WORKS_CORES
from pipeline.readback.pack_files import MAP, PACKAGE, has_district_maps
from pipeline.readback.pack_map import MapColumns
from pipeline.readback.pack_package import ID, OF_FORMAT, columns_of, layer_names, read_cells

__all__ = ["compare_lists", "compare_works", "lists_in_map"]

# the layers of works, and the table of the cores in each
_LAYERS: Final = {"works": "works_cores", "works_lines": "works_lines_cores"}
# columns of works, by what the map's page calls them
_IN_PAGE: Final = {"works_id": "id", "kind": "kind", "name": "name", "on": "on", "until": "until"}


def compare_works(content: PackContent, database: sqlite3.Connection) -> list[str]:
    """Return a problem per column of works that differs in the GeoPackage, and one if the cores in them do.

    Works drawn both as an area and as lines are in two layers: both must hold the cells of ``works.csv``.
    """
    there = [layer for layer in _LAYERS if layer in layer_names(database)]
    if WORKS not in content.tables or WORKS_CORES not in content.tables:
        has_none = not there and WORKS not in content.tables and WORKS_CORES not in content.tables
        return [] if has_none else [f"{WORKS}, {WORKS_CORES} and the layers of works: only some of them are there"]
    works, inside = content.tables[WORKS], content.tables[WORKS_CORES]
    if works["works_id"].isna().any() or works["works_id"].duplicated().any():
        return [f"{WORKS}: works_id: missing, or twice; expected another for each works"]
    problems, drawn, pairs = [], [works["works_id"].head(0)], []
    for layer in there:
        where = f"{PACKAGE}, layer {layer}"
        names = [name for name in columns_of(database, layer) if name not in OF_FORMAT]
        if names != list(works):
            return [f"{where}: columns: found {names}, expected {list(works)} as in {WORKS}"]
        cells = read_cells(database, layer, [ID, *names])
        at = pd.Index(works["works_id"]).get_indexer(pd.Index(cells["works_id"]))
        if (at < 0).any():
            strange = cells["works_id"].iloc[int(np.flatnonzero(at < 0)[0])]
            return [f"{where}: has works {strange}, which {WORKS} lacks"]
        wanted = works.iloc[at].reset_index(drop=True)
        for name in names:
            is_date = columns_of(database, layer)[name] in {"DATE", "DATETIME"}
            differs = differing_cells(wanted[name], cells[name], is_date=is_date)
            problems += first_problem(differs, wanted, WORKS, where, name, cells[name])
        drawn.append(cells["works_id"])
        pairs.append(_pairs(database, layer, cells, content.tables["cores.csv"]["row"]))
    lacking = works.loc[~works["works_id"].isin(pd.concat(drawn)), "works_id"]
    problems += [f"{WORKS}: works {lacking.iloc[0]} is in no layer of {PACKAGE}"] if len(lacking) else []
    return problems + _other_pairs(inside, pairs, PACKAGE) + _other_cores(inside, content.tables["cores.csv"])


def _pairs(database: sqlite3.Connection, layer: str, works: pd.DataFrame, rows: pd.Series) -> pd.DataFrame:
    """Return ``works_id`` and ``row`` of the cores in works, by the relation; ``rows``: those of the layer of cores."""
    related = read_cells(database, _LAYERS[layer], ["base_id", "related_id"])
    ids = read_cells(database, "cores", [ID])[ID]
    return pd.DataFrame(
        {
            "works_id": related["base_id"].map(pd.Series(works["works_id"].to_numpy(), works[ID])),
            "row": related["related_id"].map(pd.Series(rows.to_numpy(), ids)),
        }
    )


def _other_pairs(inside: pd.DataFrame, found: list[pd.DataFrame], where: str) -> list[str]:
    """Return a problem if the cores in works are others in another place."""
    wanted = inside[["works_id", "row"]]
    there = pd.concat([wanted.head(0), *found], ignore_index=True).drop_duplicates()
    return _unlike(wanted, there, WORKS_CORES, where)


def _unlike(wanted: pd.DataFrame, found: pd.DataFrame, file: str, where: str) -> list[str]:
    """Return the first row that only one of two tables has, each row once."""
    names = [str(name) for name in wanted]
    sides = [table[names].astype("object").where(table[names].notna(), "").astype("str") for table in (wanted, found)]
    both = pd.concat([side.drop_duplicates() for side in sides], keys=["here", "there"])
    alone = both[~both.duplicated(keep=False)]
    if alone.empty:
        return []
    side, cells = alone.index[0][0], ", ".join(f"{name} {alone.iloc[0][name] or 'empty'}" for name in names)
    more = f"; {len(alone) - 1} more differ" if len(alone) > 1 else ""
    return [f"{file}: {cells}: {f'not in {where}' if side == 'here' else f'only in {where}'}{more}"]


def _other_cores(inside: pd.DataFrame, cores: pd.DataFrame) -> list[str]:
    """Return a problem per column of the cores in works that is another in the table of cores."""
    at = pd.Index(cores["row"]).get_indexer(pd.Index(inside["row"]))
    if (at < 0).any():
        return [f"{WORKS_CORES}: row {inside['row'].iloc[int(np.flatnonzero(at < 0)[0])]}: not in cores.csv"]
    found = cores.iloc[at].reset_index(drop=True)
    problems = []
    for name in [str(name) for name in inside if name not in {"works_id", "row"}]:
        if name not in found:
            problems.append(f"{WORKS_CORES}: {name}: cores.csv has no such column")
            continue
        differs = differing_cells(inside[name], found[name], is_date=False)
        problems += first_problem(differs, inside, WORKS_CORES, "cores.csv", name, found[name])
    return problems


def compare_lists(content: PackContent, held: MapColumns) -> list[str]:
    """Return what differs between the map and the tables of works, of the cores in them and of changes."""
    tables = content.tables
    works, page = tables.get(WORKS), held.page.get("works", [])
    if works is not None and has_district_maps(content.facts):
        # a map of a district has the works there: works far from all of them are in the tables alone
        here = {entry.get("id") for entry in page} | {
            *(tables[WORKS_CORES]["works_id"] if WORKS_CORES in tables else ())
        }
        works = works[works["works_id"].isin(here)]
    expected = 0 if works is None else len(works)
    if len(page) != expected:
        return [f"{MAP}: {len(page)} works, expected {expected} as in {WORKS}"]
    problems = [] if works is None else _works_in_page(works, page)
    inside, changed = tables.get(WORKS_CORES), rows_changed(tables.get(CHANGES))
    shown = set(held.cores["row"])
    for file, name, table in ((WORKS_CORES, "works_id", inside), (CHANGES, "change", changed)):
        listed = held.lists.get(name)
        if table is None or listed is None:
            if table is not None:
                problems.append(f"{file}: {MAP} has nothing of it")
            elif listed is not None:
                problems.append(f"{file}: missing, but {MAP} has cells of it")
            continue
        # a map has each core once
        wanted = table.loc[table["row"].isin(shown), ["row", name]]
        problems += _unlike(wanted.assign(**{name: shown_texts(wanted[name])}), listed, file, MAP)
    return problems


def _works_in_page(works: pd.DataFrame, page: list[dict[str, Any]]) -> list[str]:
    problems = []
    for name, key in _IN_PAGE.items():
        texts = works[name].astype("object").where(works[name].notna(), None)
        wanted = pd.Series([None if text is None else shown_text(text) for text in texts], dtype="object")
        found = pd.Series([entry.get(key) for entry in page], dtype="object")
        problems += first_problem(
            differing_cells(wanted, found, is_date=False), works.reset_index(drop=True), WORKS, MAP, name, found
        )
    return problems


def lists_in_map(content: PackContent) -> dict[str, int]:
    """Return how many columns of each table that ``compare_lists`` compares are in the map."""
    columns = {WORKS: len(_IN_PAGE), WORKS_CORES: 2, CHANGES: 2}
    return {name: count for name, count in columns.items() if name in content.tables}
