"""All registers of a programme as one: each file read by its own settings, then put one below the other."""

from collections import ChainMap
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from itertools import accumulate
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd
from pyproj import CRS

from pipeline.clock import Counted
from pipeline.contracts import INTAKE_COLUMNS
from pipeline.errors import InputError
from pipeline.intake.crs import Extent, to_crs
from pipeline.intake.decisions import NO_ENTRIES
from pipeline.intake.files.tables import RawTable
from pipeline.intake.precision import written_precision
from pipeline.intake.register import Register, read_register
from pipeline.intake.register_parts import paths_of, raw_parts
from pipeline.intake.same_cores import repeated_rows
from pipeline.programme.addresses import Address
from pipeline.programme.settings import Cores, Settings
from pipeline.quantify import hole_mm

__all__ = [
    "SET_ASIDE_COLUMNS",
    "Registers",
    "in_run_crs",
    "merged",
    "paths_of",
    "read_parts",
    "read_registers",
    "typed_part",
]

# rows that hold no core: from which register and file, where in it, why, and what they say
SET_ASIDE_COLUMNS: Final = ("register", "file", "place", "reason", "text")
_ORDER: Final = [column.name for column in INTAKE_COLUMNS]


@dataclass(frozen=True)
class Registers:
    """The registers of a programme as one.

    ``frame``: N rows, one register below the other, as :class:`pipeline.intake.register.Register` describes them.
    ``as_read``: the registers' own columns as text; a column that a register lacks is missing there. ``kept``: for each
    contract column, the names of the registers that keep it. ``units``: by register, the unit of each measure.
    ``set_aside``: the rows that hold no core. ``parts``: the files in the order of their rows. ``rows_in_file``: all
    rows, also those set aside or excluded by a filter. ``corrections``: the cells that are corrected.
    """

    frame: pd.DataFrame
    as_read: pd.DataFrame
    kept: Mapping[str, frozenset[str]]
    units: dict[str, dict[str, str]]
    set_aside: pd.DataFrame
    parts: list[Register]
    rows_in_file: int
    notices: list[str]
    corrections: pd.DataFrame

    @property
    def present(self) -> frozenset[str]:
        """The contract columns that at least one register keeps."""
        return frozenset(name for name, registers in self.kept.items() if registers)


def read_registers(
    settings: Settings, folder: Path, roads: Extent, roads_crs: CRS, kerf_mm: float,
    announce: Callable[[str], Counted | None], entries: pd.DataFrame = NO_ENTRIES.frame,
    note: str = "Check roads.path.",
) -> Registers:  # fmt: skip
    """Read every register of a programme.

    Parameters
    ----------
    settings
        The programme.
    folder
        The folder of the programme file, which paths are relative to.
    roads, roads_crs
        Extent of the road layer and its CRS.
    kerf_mm
        Width of the kerf: where registers differ in what a diameter means, those of cores become those of holes.
    announce
        Called with the path of each file before it is read.
    entries
        Decisions: those that correct a cell are applied before it is read.
    note
        What to look at in the roads where no core lies near them.

    Raises
    ------
    InputError
        A file cannot be used, or a path matches no file.
    """
    parts = []
    first: dict[tuple[object, ...], Register] = {}
    for section in settings.cores:
        for part in read_parts(
            section, settings, folder, roads, roads_crs, kerf_mm, announce, entries=entries, note=note
        ):
            place = part.path.full if isinstance(part.path, Address) else (folder / part.path).resolve()
            rows = place, part.sheet, section.where, section.table, section.sql
            _refuse_repeated_file(part, first.setdefault(rows, part))
            parts.append(part)
    return merged(parts)


def _refuse_repeated_file(part: Register, first: Register) -> None:
    """Stop where two registers are the same rows: every core would count twice."""
    if part.name != first.name:
        raise InputError(
            f"{part.label}: the register {part.name!r} reads the same rows as {first.name!r} ({first.label}); expected "
            "files, sheets or conditions of its own for each. Delete one of the two [[cores]], or correct its path, "
            "layer or where."
        )


def read_parts(
    section: Cores,
    settings: Settings,
    folder: Path,
    roads: Extent,
    roads_crs: CRS,
    kerf_mm: float,
    announce: Callable[[str], Counted | None],
    trying: Callable[[], AbstractContextManager[None]] = nullcontext,
    entries: pd.DataFrame = NO_ENTRIES.frame,
    note: str = "Check roads.path.",
) -> list[Register]:
    """Read every file and sheet of one register; the other arguments are those of :func:`read_registers`.

    A part with a header and no cores, such as that of a quiet month, adds nothing but a notice.

    Parameters
    ----------
    trying
        Entered around each part; may keep its error, and go on with the next.

    Raises
    ------
    InputError
        A file cannot be used, the path matches no file, or no part holds a core.
    """
    found, notices = raw_parts(section, folder, announce, trying)
    parts: list[Register] = []
    for own, table in found:
        with trying():
            parts.append(typed_part(own, table, section, settings, roads, roads_crs, kerf_mm, entries, note))
    return [replace(part, notices=[*notices, *part.notices]) if n == 0 else part for n, part in enumerate(parts)]


def typed_part(
    own: Cores,
    table: RawTable,
    section: Cores,
    settings: Settings,
    roads: Extent,
    roads_crs: CRS,
    kerf_mm: float,
    entries: pd.DataFrame = NO_ENTRIES.frame,
    note: str = "Check roads.path.",
) -> Register:
    """Return one file or sheet of a register as typed columns.

    ``own``, ``table``: a part of ``section`` as ``raw_parts`` gives it; the notices of the table grow. The other
    arguments and the errors are those of :func:`read_registers`.
    """
    part = read_register(table, own, settings.programme.timezone, roads, roads_crs, entries, note)
    part = replace(part, path=own.path, sheet=part.sheet or str(own.layer or ""))
    return _as_holes(part, section, settings, kerf_mm)


def _as_holes(register: Register, section: Cores, settings: Settings, kerf_mm: float) -> Register:
    """Return a register whose diameters mean what the run's mean."""
    if section.diameter_is == settings.diameter_is:
        return register
    diameter = hole_mm(register.frame["diameter_mm"], section.diameter_is, kerf_mm)
    notice = (
        f"{register.label}: two kerfs of {kerf_mm:g} mm added to each diameter, because other registers give that "
        "of the hole."
    )
    return replace(register, frame=register.frame.assign(diameter_mm=diameter), notices=[*register.notices, notice])


def merged(parts: list[Register]) -> Registers:
    """Return registers as one: their rows in order, numbered through, with the union of their own columns."""
    starts = [0, *accumulate(part.rows_in_file for part in parts)]
    frames = [
        part.frame.assign(row=part.frame["row"] + start, register=part.name, register_file=part.label)
        for part, start in zip(parts, starts, strict=False)
    ]
    names = list(dict.fromkeys(part.name for part in parts))
    frame, as_read = pd.concat(frames, ignore_index=True), _as_read(parts)
    written, sizes = [part.written for part in parts], [len(part.frame) for part in parts]
    steps = written_precision(written, frame["register"], frame["crew"], sizes)
    frame = frame.assign(**repeated_rows(frame, as_read), **steps)
    aside = [part.set_aside.assign(register=part.name, file=part.label) for part in parts]
    return Registers(
        frame=frame[[name for name in _ORDER if name in frame]],
        as_read=as_read,
        kept={
            name: frozenset(part.name for part in parts if name in part.present)
            for name in sorted({column for part in parts for column in part.present})
        },
        units={name: dict(ChainMap(*(part.units for part in parts if part.name == name))) for name in names},
        set_aside=pd.concat(aside, ignore_index=True)[list(SET_ASIDE_COLUMNS)],
        parts=parts,
        rows_in_file=starts[-1] + sum(len(part.set_aside) for part in parts),
        notices=[notice for part in parts for notice in part.notices],
        corrections=pd.concat(
            [p.corrections.assign(row=p.corrections["row"] + start) for p, start in zip(parts, starts, strict=False)],
            ignore_index=True,
        ),
    )


def _as_read(parts: list[Register]) -> pd.DataFrame:
    """Return the registers' own columns, one below the other; names that differ only in case are one column."""
    first: dict[str, str] = {}
    frames = [
        part.as_read.set_axis(
            [first.setdefault(name.casefold(), name) for name in map(str, part.as_read)], axis="columns"
        )
        for part in parts
    ]
    # a column that the first registers lack would come as objects
    return pd.concat(frames, ignore_index=True).astype("str")


def in_run_crs(register: Registers, crs: CRS) -> pd.DataFrame:
    """Return the registers with ``x_m`` and ``y_m``; a position that the run's CRS cannot hold is out of range."""
    parts = [to_crs(part.frame["x"].to_numpy(), part.frame["y"].to_numpy(), part.crs, crs) for part in register.parts]
    x_m, y_m = (np.concatenate(one) for one in zip(*parts, strict=True))
    cores = register.frame.assign(x_m=x_m, y_m=y_m)
    nowhere = cores["lon"].notna() & cores["x_m"].isna()
    cores.loc[nowhere, ["x", "y", "lon", "lat", "y_m"]] = np.nan
    cores.loc[nowhere, "position_problem"] = "out of range"
    return cores
