"""The layers of the GeoPackage, and the titles, meanings and lists of values of their columns."""

from collections.abc import Iterable
from typing import Final, NamedTuple

from pipeline.contracts import (
    CORE_TABLE,
    DATES_UNDERSTOOD,
    FINDING_TABLE,
    HANDED_CHANGE_TABLE,
    HANDED_RULE_TABLE,
    INTAKE_TABLES,
    ORDER_TABLES,
    PUBLISHED,
    STATUS_COUNTS,
    WORKS_TABLE,
    WORST_COUNTS,
    Column,
)

__all__ = ["LAYERS", "Description", "Layer", "date_columns", "describe_columns"]


class Layer(NamedTuple):
    """What a layer is called, what it holds, and its columns."""

    title: str
    meaning: str
    columns: tuple[Column, ...]


# the layers, those on top first
LAYERS: Final = {
    "cores": Layer("Cores", "one per row of the register; those without a usable position have no point", CORE_TABLE),
    "segments": Layer(
        "Road segments",
        "centrelines, with the number of their cores by status",
        (*INTAKE_TABLES["segments"], *STATUS_COUNTS, *WORST_COUNTS),
    ),
    # below the streets, whose colours they would tint
    "works": Layer(
        "Works (areas)", "planned works, protected streets and resurfaced roads that are drawn as areas", WORKS_TABLE
    ),
    "works_lines": Layer(
        "Works (lines)", "planned works, protected streets and resurfaced roads that are drawn as lines", WORKS_TABLE
    ),
    "districts": Layer(
        "Districts",
        "outlines, with the number of their cores by status",
        (*INTAKE_TABLES["districts"], *STATUS_COUNTS, *WORST_COUNTS),
    ),
    "findings": Layer(
        "Findings",
        "what is wrong or doubtful about a core, one per row, the most urgent first",
        FINDING_TABLE,
    ),
    "changes": Layer("Changes", "what changed since the run before, one per row", HANDED_CHANGE_TABLE),
    "rules": Layer("Rules", "what each rule checks, its limits and who set them", HANDED_RULE_TABLE),
    "orders": Layer("Orders", "what to order, by district, period and item", ORDER_TABLES["lines"]),
}


def date_columns(layer: str, *, is_pack: bool = False) -> list[str]:
    """Return the columns of a layer that hold dates; of the register's own, those that a pack has as understood."""
    known = PUBLISHED.values() if is_pack and layer == "cores" else LAYERS[layer].columns
    understood = DATES_UNDERSTOOD if layer == "cores" else ()
    return [*understood, *(column.published for column in known if column.kind in ("instant", "day"))]


class Description(NamedTuple):
    """A column's title and meaning; ``values``: each value with its meaning, where only certain values can occur."""

    title: str
    meaning: str
    values: dict[str, str]


def describe_columns(layer: str, names: Iterable[object], *, is_pack: bool = False) -> dict[str, Description]:
    """Return the descriptions of a layer's columns; the register's own columns have none.

    Parameters
    ----------
    layer
        A key of ``LAYERS``.
    names
        Names of the layer's columns, all of them or some.
    is_pack
        The layer is of a pack: its cores have columns of the register as the contract understands them. In a run's
        own layer a column of the same name is the register's, as it was read.

    Returns
    -------
    dict
        By column, in the order of ``names``.
    """
    known = {column.published: column for column in LAYERS[layer].columns if column.kind != "geometry"}
    if is_pack and layer == "cores":
        known = PUBLISHED
    return {
        name: Description(known[name].title, _sentence(known[name].meaning), dict(known[name].values))
        for name in map(str, names)
        if name in known
    }


def _sentence(phrase: str) -> str:
    return phrase[:1].upper() + phrase[1:]
