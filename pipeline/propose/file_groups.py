"""Files with the same header: monthly lists are one register, with a pattern for its path."""

import os
from collections.abc import Callable
from itertools import takewhile
from pathlib import Path
from typing import Final

from pipeline.databases import is_database, shown
from pipeline.errors import InputError, NoCoresError
from pipeline.intake.files.paths import matching_files, refuse_undecodable, refuse_unreachable
from pipeline.propose.first_look import Look, columns_key
from pipeline.propose.registers import FileGroup

__all__ = ["files_of", "groups_of", "refuse_database", "relative"]

_MARKS: Final = "*?["


def files_of(written: str) -> list[Path]:
    """Return the files that a value of ``--from`` stands for: a file, the files of a folder, or those of a pattern.

    Raises
    ------
    InputError
        There is no such file, it is a database, or its name is not text.
    """
    refuse_database(written, "--from")
    if not written:
        raise InputError("--from: found an empty text, expected the path of a file or folder. Correct --from.")
    path = Path(written)
    refuse_unreachable(path, written, "--from")
    if path.is_file() or path.suffix.lower() == ".gdb":
        refuse_undecodable([written])
        return [path]
    if path.is_dir():
        found = [file for file in path.iterdir() if file.is_file()]
    elif any(mark in written for mark in _MARKS):
        found = [file for file in matching_files(written, Path(), "--from") if file.is_file()]
    else:
        found = []
    # a spreadsheet program leaves a hidden lock file beside an open workbook
    found = sorted(file for file in found if not file.name.startswith((".", "~$")))
    if not found:
        what = "the folder holds no files" if path.is_dir() else "not a file" if path.exists() else "no such file"
        raise InputError(f"{written}: {what}. Correct --from.")
    refuse_undecodable([str(file) for file in found])
    return found


def refuse_database(written: str, option: str) -> None:
    """Stop at the address of a database, which is not looked into.

    Raises
    ------
    InputError
        It is one.
    """
    if is_database(written):
        raise InputError(
            f"{option} {shown(written)}: a database, expected a file, as start does not look into databases. Export "
            f"the table to a file and give that with {option}, or write path and table into the programme by hand "
            '(README, "Databases").'
        )


def groups_of(
    files: list[Path], folder: Path, look: Callable[[Path], Look], words: dict[str, list[str]]
) -> list[FileGroup]:
    """Return files as registers: those beside each other with the same columns are one, if a pattern finds just them.

    Parameters
    ----------
    files
        The files, in the order in which they were given.
    folder
        The folder of the programme.
    look
        Returns what the first look finds in a file.
    words
        What headers call each column.
    """
    alike: dict[tuple[object, ...], list[Path]] = {}
    # lists of months without a core may be found by a pattern too
    resting: list[Path] = []
    looks: dict[Path, Look] = {}
    quiet: list[NoCoresError] = []
    for file in files:
        try:
            looks[file] = look(file)
        except NoCoresError as error:
            quiet.append(error)
            resting.append(file)
    if not looks and quiet:
        raise quiet[0]
    for file, found in looks.items():
        sheets = tuple(one.sheet for one in found.alike) or found.sheet
        key = (file.parent.resolve(), file.suffix.lower(), columns_key(found.table, words), sheets)
        alike.setdefault(key, []).append(file)
    groups: list[FileGroup] = []
    taken: set[str] = set()
    for paths in alike.values():
        pattern = _pattern(paths, resting) if len(paths) > 1 else None
        if pattern is not None:
            paths.sort(key=lambda file: file.name)
        parts = [paths] if pattern is not None else [[file] for file in paths]
        for part in parts:
            path = relative(part[0], folder)
            if pattern is not None:
                path = str(Path(path).parent / pattern) if "/" in path else pattern
            name = _free(_name(part, pattern), taken)
            pairs = [(file, one) for file in part for one in looks[file].alike or [looks[file]]]
            groups.append(
                FileGroup(Path(path).as_posix(), [file for file, _ in pairs], [one for _, one in pairs], name)
            )
    return sorted(groups, key=lambda group: files.index(group.files[0]))


def _pattern(files: list[Path], resting: list[Path]) -> str | None:
    """Return a pattern that finds these files in their folder and no others; None where there is none."""
    names = sorted(file.name for file in files)
    beside = sorted(file.name for file in files[0].parent.iterdir() if not file.name.startswith((".", "~$")))
    empty = {file.name for file in resting if file.parent == files[0].parent}
    suffix = files[0].suffix
    stems = [Path(name).stem for name in names]
    start = _common_start(stems)
    end = _common_start([stem[len(start) :][::-1] for stem in stems])[::-1]
    if any(mark in start + end + suffix for mark in _MARKS):
        return None
    for pattern in (f"*{suffix}", f"{start}*{end}{suffix}"):
        if [name for name in beside if Path(name).match(pattern) and name not in empty] == names:
            return pattern
    return None


def _common_start(texts: list[str]) -> str:
    """Return the letters that all texts begin with."""
    return "".join(
        letters[0] for letters in takewhile(lambda letters: len(set(letters)) == 1, zip(*texts, strict=False))
    )


def _name(files: list[Path], pattern: str | None) -> str:
    """Return what a register is called: its file, or the folder of its files, in words."""
    text = files[0].stem if pattern is None else files[0].resolve().parent.name
    return text.replace("_", " ").replace("-", " ").strip().capitalize() if text.islower() else text


def _free(name: str, taken: set[str]) -> str:
    """Return a name that no earlier register has."""
    free, number = name or "cores", 2
    while free.casefold() in taken:
        free, number = f"{name} {number}", number + 1
    taken.add(free.casefold())
    return free


def relative(file: Path, folder: Path) -> str:
    """Return a path as a programme in a folder writes it."""
    try:
        return Path(os.path.relpath(file.resolve(), folder.resolve())).as_posix()
    except ValueError:
        # on another drive
        return file.resolve().as_posix()
