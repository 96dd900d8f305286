"""What was read of one row: each cell as written and as understood, and how the position was repaired."""

import re
from collections.abc import Mapping
from typing import Any, Final

import pandas as pd

from pipeline.contracts import REGISTER_COLUMNS, shown_unit
from pipeline.publish.explain.parts import Cell, Grid, Paragraph, Section, Shown, is_given
from pipeline.readback.basis import CoreBasis

__all__ = ["cells_read"]

_LABELLED: Final = tuple(column.name for column in REGISTER_COLUMNS)
# a cell with any of these has a unit of its own
_UNIT: Final = re.compile(r"[^\W\d_]|['\"°%′″]")


def cells_read(
    row: CoreBasis,
    headers: Mapping[str, str],
    units: Mapping[str, str],
    others: Mapping[str, str],
    show: Shown,
) -> Section:
    """Return the cells of one row.

    Parameters
    ----------
    row
        The row's tables.
    headers
        By contract column, and by x, y and position, the name of its column in the register.
    units
        By contract column, the unit of a number without one.
    others
        The cells of columns that were not used, by their names.
    show
        How values are shown.
    """
    say, core = show.words.say, row.core
    parts: list[Paragraph | Grid] = [_cells(row, headers, units, show)]
    if len(row.corrections):
        parts.append(_corrections(row.corrections, show))
    empty = [name for name in _LABELLED if name in headers and not is_given(_as_written(core, name))]
    absent = [name for name in _LABELLED if name not in headers]
    for key, names in (("empty", empty), ("absent", absent)):
        if names:
            parts.append(Paragraph(say(f"explain.{key}", columns=show.words.listed(map(show.label, names)))))
    if is_given(core.get("ragged")):
        parts.append(Paragraph(say("explain.ragged", how=show.words.own(core["ragged"]))))
    if others:
        kept = tuple((show.named(name), show.quoted(cell)) for name, cell in others.items())
        parts.append(Grid(say("explain.others"), (), kept))
    return Section(say("explain.read"), tuple(parts))


def _cells(row: CoreBasis, headers: Mapping[str, str], units: Mapping[str, str], show: Shown) -> Grid:
    """Every cell that holds something, the position last; of a corrected cell, what the register itself holds."""
    say, core = show.words.say, row.core
    held = {one["column"]: one["original"] for one in row.corrections.to_dict("records") if one["standing"] == "holds"}
    rows: list[tuple[Cell, ...]] = [
        (
            show.label(name),
            show.named(headers[name]),
            _written(core, name, headers[name], held, show),
            _understood(core, name, show),
            say("explain.by_decision") if headers[name] in held else _remark(core, name, units.get(name), show),
        )
        for name in _LABELLED
        if name in headers and is_given(_as_written(core, name))
    ]
    place = [show.named(headers[name]) for name in ("position", "x", "y") if name in headers]
    rows.append(
        (
            say("explain.position"),
            show.words.listed(place) or say("explain.points"),
            _position_written(core, show),
            _position(core, show),
            _repair(core, show),
        )
    )
    heads = tuple(say(f"explain.head_{name}") for name in ("meaning", "column", "written", "understood", "how"))
    return Grid(say("explain.cells"), heads, tuple(rows))


def _corrections(corrections: pd.DataFrame, show: Shown) -> Grid:
    """The cells that decisions correct, with the cell of the register, who decided and why."""
    say, own = show.words.say, show.words.own
    rows = tuple(
        (
            show.named(one["column"]),
            show.quoted(one["original"]) if is_given(one["original"]) else say("explain.missing"),
            show.quoted(one["corrected"]) if is_given(one["corrected"]) else say("explain.missing"),
            say(
                "explain.corrected_by",
                who=show.named(one["decided_by"]),
                day=show.named(one["decided_on"]),
                until=show.named(one["until"]),
                reason=own(one["reason"], 2000),
            ),
            own(one["standing"]),
            say("explain.file_line", file=show.named(one["file"]), line=int(one["line"])),
        )
        for one in corrections.to_dict("records")
    )
    heads = tuple(
        say(f"explain.head_{name}") for name in ("column", "original", "corrected", "who", "standing", "entry")
    )
    return Grid(say("explain.corrections"), heads, rows)


def _as_written(core: Mapping[str, Any], name: str) -> object:
    return core.get(f"{name}_text", core.get(name))


def _written(core: Mapping[str, Any], name: str, header: str, held: Mapping[str, Any], show: Shown) -> Cell:
    written = held.get(header, _as_written(core, name))
    return show.quoted(written) if is_given(written) else show.words.say("explain.missing")


def _understood(core: Mapping[str, Any], name: str, show: Shown) -> Cell:
    catalogued = {"surface_recorded": "surface_recorded_name", "shade_used": "shade_used_name"}.get(name, name)
    value = core.get(catalogued)
    if not is_given(value):
        return show.words.say("explain.not_understood")
    return show.value(name, value) if catalogued == name else show.words.translated(str(value))


def _remark(core: Mapping[str, Any], name: str, unit: str | None, show: Shown) -> Cell:
    """Why a cell could not be read, else the unit that its number was taken to have."""
    problem = core.get(f"{name}_problem")
    if is_given(problem):
        return show.words.own(problem)
    is_bare = not _UNIT.search(str(core.get(f"{name}_text", "")))
    return show.words.say("explain.bare_unit", unit=shown_unit(unit)) if unit and is_bare else ""


def _position_written(core: Mapping[str, Any], show: Shown) -> Cell:
    cells = [core[name] for name in ("x_text", "y_text") if is_given(core.get(name))]
    return show.words.listed(show.quoted(cell) for cell in cells) if cells else show.words.say("explain.missing")


def _position(core: Mapping[str, Any], show: Shown) -> Cell:
    if not is_given(core.get("lon")):
        return show.words.say("explain.no_position")
    lon, lat = (show.words.number(core[name], 7) for name in ("lon", "lat"))
    return show.words.say("explain.lon_lat", lon=lon, lat=lat)


def _repair(core: Mapping[str, Any], show: Shown) -> Cell:
    found = [show.words.own(core[name]) for name in ("position_repair", "position_problem") if is_given(core.get(name))]
    return show.words.listed(found)
