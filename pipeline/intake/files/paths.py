"""Paths of inputs: a file, or the folder of a file geodatabase, and nothing else."""

import re
import stat
from pathlib import Path
from typing import Final

from pipeline.errors import InputError
from pipeline.intake.files.parquet_parts import is_parts_folder, parquet_parts

__all__ = ["input_path", "is_geodatabase"]

# two letters or more: a single one is a drive
_SCHEME: Final = re.compile(r"[A-Za-z][A-Za-z0-9+.-]+:")
_KINDS: Final = {
    stat.S_ISDIR: "a folder",
    stat.S_ISFIFO: "a pipe",
    stat.S_ISSOCK: "a socket",
    stat.S_ISCHR: "a device",
    stat.S_ISBLK: "a device",
}


def input_path(text: str, folder: Path, name: str, key: str = "path", *, may_be_parts: bool = False) -> Path:
    """Return where an input lies.

    Parameters
    ----------
    text
        The path as the programme gives it.
    folder
        Folder of the programme file, which the path is relative to.
    name, key
        Name of the section and its key, for errors.
    may_be_parts
        Whether a folder of Parquet files is taken too.

    Raises
    ------
    InputError
        The path is a web address or a database, there is no file there, or a folder holds more than Parquet files.
    """
    path = (folder / text).absolute()
    is_remote = text.startswith("/vsi") or "://" in text or (_SCHEME.match(text) and not path.exists())
    if is_remote:
        raise InputError(
            f"{text}: this is the address of a web page, a database or a virtual file; expected the path of a file on "
            f"this computer. Save the data as a file and give its path in {name}.{key}."
        )
    if not path.exists():
        raise InputError(f"{text}: no such file (looked for {folder / text}). Correct {name}.{key}.")
    if is_geodatabase(path):
        _refuse_links_inside(path, text, "geodatabase")
        return path
    if may_be_parts and is_parts_folder(path):
        parquet_parts(path, text, f"{name}.{key}")
        _refuse_links_inside(path, text, "folder")
        return path
    mode = path.stat().st_mode
    for is_kind, what in _KINDS.items():
        if is_kind(mode):
            raise InputError(f"{text}: this is {what}; expected a file. Give the path of the file in {name}.{key}.")
    return path


def is_geodatabase(path: Path) -> bool:
    """Return whether a path is the folder of a file geodatabase."""
    return path.suffix.lower() == ".gdb" and path.is_dir()


def _refuse_links_inside(path: Path, label: str, what: str) -> None:
    """Stop where a geodatabase, or a folder of parts, holds a link, a pipe or a device in place of one of its files."""
    for entry in sorted(path.rglob("*")):
        mode = entry.lstat().st_mode
        if not stat.S_ISREG(mode) and not stat.S_ISDIR(mode):
            raise InputError(
                f"{label}: {entry.name} in it is a link to other data, not data; expected the {what}'s own files. "
                f"Copy the {what} again, with the files themselves."
            )
