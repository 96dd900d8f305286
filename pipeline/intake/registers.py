"""All registers of a programme as one: each file read by its own settings, then put one below the other."""

from collections import ChainMap
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from itertools import accumulate
from pathlib import Path
from typing import Final

import pandas as pd
from pyproj import CRS

from pipeline.clock import Counted
from pipeline.contracts import INTAKE_COLUMNS, REGISTER_COLUMNS
from pipeline.errors import InputError, NoCoresError
from pipeline.intake.crs import Extent
from pipeline.intake.decisions import NO_ENTRIES
from pipeline.intake.files.layers import layers_of, read_raw
from pipeline.intake.files.remote import matching_addresses
from pipeline.intake.files.tables import RawTable, refuse_too_wide
from pipeline.intake.precision import written_precision
from pipeline.intake.register import Register, read_register
from pipeline.intake.same_cores import repeated_rows
from pipeline.programme.addresses import Address
from pipeline.programme.settings import Cores, Settings
from pipeline.quantify import hole_mm

__all__ = ["SET_ASIDE_COLUMNS", "Registers", "merged", "paths_of", "read_parts", "read_registers"]

# rows that hold no core: from which register and file, where in it, why, and what they say
SET_ASIDE_COLUMNS: Final = ("register", "file", "place", "reason", "text")
_OPTIONAL: Final = frozenset(column.name for column in REGISTER_COLUMNS if not column.required)
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

    Raises
    ------
    InputError
        A file cannot be used, or a path matches no file.
    """
    parts = []
    first: dict[tuple[object, ...], Register] = {}
    for section in settings.cores:
        for part in read_parts(section, settings, folder, roads, roads_crs, kerf_mm, announce, entries=entries):
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
    found: list[tuple[Cores, RawTable]] = []
    quiet: list[NoCoresError] = []
    notices: list[str] = []
    count = 0
    for path in paths_of(section, folder):
        one = section.model_copy(update={"path": path, "name": section.register_name})
        tell = announce(one.label("cores"))
        with trying():
            layers, left_out = layers_of(one, folder)
            notices += left_out
            for layer in layers:
                count += 1
                with trying():
                    try:
                        found.append(_raw_part(one, layer, folder, tell, is_alone=len(layers) == 1))
                    except NoCoresError as error:
                        quiet.append(error)
    if quiet and len(quiet) == count:
        with trying():
            raise quiet[0] if count == 1 else _all_quiet(quiet, section)
    notices += [f"{error.label}: {error.what}, so it adds no core to {section.register_name}." for error in quiet]
    parts: list[Register] = []
    for own, table in _without_absent_columns(found):
        with trying():
            part = read_register(table, own, settings.programme.timezone, roads, roads_crs, entries)
            part = replace(part, path=own.path, sheet=part.sheet or str(own.layer or ""))
            parts.append(_as_holes(part, section, settings, kerf_mm))
    return [replace(part, notices=[*notices, *part.notices]) if n == 0 else part for n, part in enumerate(parts)]


def _raw_part(
    section: Cores, layer: str | None, folder: Path, tell: Counted | None, *, is_alone: bool
) -> tuple[Cores, RawTable]:
    """Return one file, or one sheet or layer of it, with the settings that it is read by."""
    own = section.model_copy(update={"layer": layer})
    table = read_raw(own, folder, "cores", None, tell)
    refuse_too_wide(len(table.frame.columns), table.label)
    if not is_alone and table.label == section.path:
        # so that a row can be found
        table.label = f"{section.path}, layer {layer}"
    return own, table


def _without_absent_columns(found: list[tuple[Cores, RawTable]]) -> list[tuple[Cores, RawTable]]:
    """Return the parts of a register with settings that ask none for an optional column that only other parts have."""
    held = [{str(name).strip().casefold() for name in table.frame} for _, table in found]
    anywhere = set().union(*held)
    parts = []
    for (section, table), names in zip(found, held, strict=True):
        asked = {name: column.strip().casefold() for name, column in section.columns.items() if name in _OPTIONAL}
        absent = [name for name, column in asked.items() if column not in names and column in anywhere]
        table.notices += [
            f"{table.label}: no column {section.columns[name]!r}, which other parts of the register have."
            for name in absent
        ]
        columns = {name: column for name, column in section.columns.items() if name not in absent}
        units = {name: unit for name, unit in section.units.items() if name not in absent}
        parts.append((section.model_copy(update={"columns": columns, "units": units}), table))
    return parts


def _all_quiet(quiet: list[NoCoresError], section: Cores) -> InputError:
    """Return the error for a register of several parts none of which holds a core."""
    return InputError(
        f"{section.path}: none of {len(quiet):,} files or sheets holds a core, the first being {quiet[0].label} "
        f"({quiet[0].what}); expected one row per core. Export them again with the data."
    )


def paths_of(section: Cores, folder: Path) -> list[str]:
    """Return the files that the path of a register stands for, in the order of their names.

    Raises
    ------
    InputError
        A pattern matches no file, or an output of a run.
    """
    if isinstance(section.path, Address) and section.is_pattern:
        return [*matching_addresses(section.path, "cores")]
    if not section.is_pattern or (folder / section.path).exists():
        return [section.path]
    path = Path(section.path)
    root = Path(path.anchor) if path.is_absolute() else folder
    pattern = str(path.relative_to(path.anchor)) if path.is_absolute() else section.path
    # a spreadsheet program leaves a hidden lock file beside an open workbook
    # a link whose file is gone stays, for the error that no month goes missing
    files = sorted(file for file in root.glob(pattern) if not file.is_dir() and not file.name.startswith((".", "~$")))
    if not files:
        raise InputError(f"{section.path}: no file matches (looked in {root}). Correct cores.path.")
    for file in files:
        if any((above / "run.json").is_file() for above in (file.parent, file.parent.parent)):
            raise InputError(
                f"{section.path}: matches {file}, which is an output of an audit; expected registers alone. Correct "
                "cores.path, or move the outputs to another folder."
            )
    return [str(file if path.is_absolute() else file.relative_to(root)) for file in files]


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
