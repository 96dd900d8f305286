"""A map layer as a proposed section: its layer, its columns, and its CRS if the file states none."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd
import pyogrio
import shapely
from pyogrio.errors import DataLayerError, DataSourceError

from pipeline.contracts import is_missing
from pipeline.errors import InputError
from pipeline.intake.cells.dates import read_dates
from pipeline.intake.crs import corners, name_of
from pipeline.intake.files.layers import read_raw
from pipeline.intake.files.tables import RawTable
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.settings import Layer
from pipeline.propose.cell_kinds import column_cells, examples_of
from pipeline.propose.crs_by_roads import Roads, crs_that_fit
from pipeline.propose.header_words import claims
from pipeline.propose.questions import Choice, Question, Section

__all__ = ["LAYERS", "ProposedLayer", "add_columns", "add_crs", "propose_layer", "roads_of"]

_LINES: Final = (shapely.GeometryType.LINESTRING, shapely.GeometryType.MULTILINESTRING)
# the layers beside the registers, and what of them every run needs
LAYERS: Final = {
    "roads": ("segment_id",),
    "surfaces": ("surface",),
    "districts": ("district",),
    "joints": (),
    "resurfaced": ("resurfaced_on",),
    "planned_works": ("due_on",),
    "protected": ("until",),
}
_DATES: Final = frozenset({"resurfaced_on", "due_on", "ends_on", "from", "until", "arrives_on", "expires_on"})
_NUMBERS: Final = frozenset({"width", "slope", "packs"})
# the layers of an OpenStreetMap extract
_EXTRACT: Final = frozenset({"points", "lines", "multilinestrings", "multipolygons"})
_MOST: Final = 0.6
_MOST_CHOICES: Final = 6


@dataclass
class ProposedLayer:
    """A layer as proposed: its section, what was read, and its columns for the summary."""

    section: Section
    table: RawTable
    columns: dict[str, str] = field(default_factory=dict)


def propose_layer(
    file: Path, label: str, name: str, words: dict[str, list[str]], catalogue: Catalogue, roads: Roads | None
) -> ProposedLayer:
    """Return a map layer as a proposed section.

    Parameters
    ----------
    file, label
        The file, and its path as the programme writes it.
    name
        One of ``LAYERS``.
    words
        What headers call each column of such a layer.
    catalogue
        The surfaces whose words are known.
    roads
        The road lines, which show the CRS of a layer that states none; None for the roads themselves.
    """
    section = Section(name, label)
    section.add("", "path", label)
    layer = _layer(file, section, name)
    where = next((str(one.value) for one in section.settings if one.key == "where"), None)
    table = read_raw(Layer(path=file.name, layer=layer, where=where), file.parent, name, None)
    if table.geometry is None:
        raise InputError(f"{label}: a table without geometry; expected a map layer. Give one for --{_option(name)}.")
    if table.crs is None:
        add_crs(section, table, roads)
    return ProposedLayer(section, table, add_columns(section, table, words, LAYERS[name], catalogue))


def roads_of(layer: ProposedLayer) -> Roads | None:
    """Return the road lines of a layer; None where its CRS is not known.

    Raises
    ------
    InputError
        The layer has no lines.
    """
    geometry = layer.table.geometry
    assert geometry is not None
    lines = geometry[np.isin(shapely.get_type_id(geometry), _LINES) & ~shapely.is_empty(geometry)]
    if not len(lines):
        raise InputError(f"{layer.section.label}: the layer has no lines. Give a layer of road lines for --roads.")
    return None if layer.table.crs is None else Roads(lines, layer.table.crs)


def _option(name: str) -> str:
    return name.replace("_", "-")


def _layer(file: Path, section: Section, name: str) -> str | None:
    """Return the layer to read of a file with several: the one named like the section, else the first that fits."""
    try:
        layers = [
            str(layer) for layer, kind in pyogrio.list_layers(file) if kind is not None and layer != "layer_styles"
        ]
    except (DataSourceError, DataLayerError, OSError, ValueError):
        # the reader has the clear sentence for it
        return None
    if len(layers) < 2:
        return None
    if name == "roads" and set(layers) >= _EXTRACT:
        section.add("", "layer", "lines", "the ways of an OpenStreetMap extract")
        section.add("", "where", "highway IS NOT NULL", "the ways that are roads or paths")
        return "lines"
    alike = [layer for layer in layers if name.rstrip("s") in layer.casefold()]
    if len(alike) == 1:
        section.add("", "layer", alike[0], f"of {len(layers)} layers, chosen by name")
        return alike[0]
    choices = tuple(Choice(f'"{layer}"', "", {("", "layer"): layer}) for layer in layers[:_MOST_CHOICES])
    section.ask(Question(f"Which layer holds the {name.replace('_', ' ')}?", choices))
    return layers[0]


def add_crs(section: Section, table: RawTable, roads: Roads | None) -> None:
    """Add the CRS of a layer that states none: by where the roads are, else a question."""
    assert table.geometry is not None
    xy = shapely.get_coordinates(table.geometry)
    fits = crs_that_fit(xy[:, 0], xy[:, 1], roads) if roads is not None and len(xy) else []
    if len(fits) == 1 and not fits[0].swapped:
        section.add("", "crs", name_of(fits[0].crs), "the file states no CRS; in this one the layer lies on the roads")
        table.crs = fits[0].crs
        return
    west, south, east, north = shapely.total_bounds(table.geometry)
    could_be_degrees = west >= -180 and east <= 180 and south >= -90 and north <= 90
    code = "EPSG:4326" if could_be_degrees else "EPSG:..."
    reading = "degrees" if could_be_degrees else "the code of the CRS"
    section.ask(
        Question(
            "Which CRS is the layer in? The file states no CRS; it extends from "
            f"{corners((west, south, east, north))}.",
            (Choice(f'"{code}"', reading, {("", "crs"): code}),),
        )
    )


def add_columns(
    section: Section,
    table: RawTable,
    words: dict[str, list[str]],
    needed: tuple[str, ...],
    catalogue: Catalogue,
) -> dict[str, str]:
    """Add the columns of a layer that its headers name and its cells confirm; return header by column."""
    cells = column_cells(table.frame)
    fitting = [
        (header, claim)
        for header, one in cells.items()
        for claim in claims(header, words)
        if one.filled and _fits(claim.column, one.text, one.filled, one.distinct, catalogue)
    ]
    found: dict[str, str] = {}
    taken: set[str] = set()
    while fitting:
        best = max(claim.strength for _, claim in fitting)
        column = next(claim.column for _, claim in fitting if claim.strength == best)
        rivals = [header for header, claim in fitting if claim.column == column and claim.strength == best]
        if len(rivals) == 1:
            found[column] = rivals[0]
            section.add("columns", column, rivals[0])
        else:
            section.ask(_which(column, rivals, table.frame))
        taken |= set(rivals)
        fitting = [(header, claim) for header, claim in fitting if claim.column != column and header not in taken]
    asked = {setting.key for setting in section.settings}
    for column in needed:
        if column not in asked:
            free = [header for header in cells if header not in taken]
            could_be = [
                header
                for header in free
                if cells[header].filled
                and _fits(column, cells[header].text, cells[header].filled, cells[header].distinct, catalogue)
            ]
            section.ask(_which(column, could_be, table.frame))
    return found


def _fits(column: str, text: pd.Series, filled: int, distinct: int, catalogue: Catalogue) -> bool:
    """Return whether cells can hold a column of a layer."""
    if column == "segment_id":
        # a layer of works may name a segment twice
        return distinct * 2 >= filled
    if column == "surface":
        return float(catalogue.surface_names(text).notna().mean()) >= _MOST / 2
    if column in _DATES:
        days = [read_dates(text, "UTC", day_first=day_first).instants.notna() for day_first in (True, False)]
        return float((days[0] | days[1]).mean()) >= _MOST
    if column in _NUMBERS:
        return float(text.str.contains(r"^[+-]?[0-9]", regex=True).mean()) >= _MOST
    return True


def _which(column: str, headers: list[str], frame: pd.DataFrame) -> Question:
    """Return the question which header means a column of a layer."""
    choices = tuple(
        Choice(
            f'"{header}"',
            ", ".join(examples_of(frame[header][~is_missing(frame[header])])),
            {("columns", column): header},
        )
        for header in headers[:_MOST_CHOICES]
    )
    if not choices:
        listed = ", ".join(map(str, frame.columns)) or "no columns"
        text = f"Which column is `{column}`? No header is known; the file has: {listed}."
        choice = Choice('"..."', "the header of that column", {("columns", column): "..."})
        return Question(text, (choice,), allowed=tuple(map(str, frame.columns)))
    return Question(f"Which column is `{column}`?", choices)
