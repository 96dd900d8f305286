"""The files and sheets of a register as raw tables, each with the settings that it is read by."""

import os
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import Final

from pipeline.clock import Counted
from pipeline.contracts import REGISTER_COLUMNS
from pipeline.errors import InputError, NoCoresError
from pipeline.intake.files.layers import layers_of, read_raw
from pipeline.intake.files.paths import matching_files, refuse_undecodable, shown_path
from pipeline.intake.files.remote import matching_addresses
from pipeline.intake.files.tables import RawTable, refuse_too_wide
from pipeline.programme.addresses import Address
from pipeline.programme.settings import Cores

__all__ = ["paths_of", "raw_parts"]

_OPTIONAL: Final = frozenset(column.name for column in REGISTER_COLUMNS if not column.required)


def raw_parts(
    section: Cores,
    folder: Path,
    announce: Callable[[str], Counted | None],
    trying: Callable[[], AbstractContextManager[None]] = nullcontext,
) -> tuple[list[tuple[Cores, RawTable]], list[str]]:
    """Return each file and sheet of one register with the settings that it is read by, and notices about all of them.

    The arguments and the errors are those of :func:`pipeline.intake.registers.read_parts`.
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
    return _without_absent_columns(found), notices


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
        A pattern matches no file, an output of a run, or a file whose name is not text.
    """
    if isinstance(section.path, Address) and section.is_pattern:
        return [*matching_addresses(section.path, "cores")]
    # a file may have the marks of a pattern in its name
    if not section.is_pattern or os.path.exists(folder / section.path):  # noqa: PTH110 - takes names too long for a file
        return [section.path]
    path = Path(section.path)
    root = Path(path.anchor) if path.is_absolute() else folder
    found = matching_files(section.path, folder, "cores.path")
    # a spreadsheet program leaves a hidden lock file beside an open workbook
    # a link whose file is gone stays, for the error that no month goes missing
    files = sorted(file for file in found if not file.is_dir() and not file.name.startswith((".", "~$")))
    if not files:
        raise InputError(f"{shown_path(section.path)}: no file matches (looked in {root}). Correct cores.path.")
    for file in files:
        if any((above / "run.json").is_file() for above in (file.parent, file.parent.parent)):
            raise InputError(
                f"{section.path}: matches {file}, which is an output of an audit; expected registers alone. Correct "
                "cores.path, or move the outputs to another folder."
            )
    paths = [str(file if path.is_absolute() else file.relative_to(root)) for file in files]
    refuse_undecodable(paths)
    return paths
