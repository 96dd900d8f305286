"""Folders of Parquet files that are one table: which files belong to it, and what the names of folders say."""

import os
import re
from pathlib import Path
from typing import Final
from urllib.parse import unquote

from pipeline.errors import InputError

__all__ = ["PARQUET", "folder_columns", "is_parts_folder", "parquet_parts", "part_name"]

PARQUET: Final = frozenset({".parquet", ".geoparquet", ".pq"})
# what programs write beside the data: _metadata, _SUCCESS, .part-0.crc, .DS_Store
_ASIDE: Final = (".", "_")
_DIGITS: Final = re.compile(r"(\d+)")
# as Hive writes that there is no value
_NOTHING: Final = "__HIVE_DEFAULT_PARTITION__"


def is_parts_folder(path: Path) -> bool:
    """Return whether a path is a folder that can only be read as one of Parquet files."""
    # never an error, where a path is longer than any can be
    return os.path.isdir(path) and path.suffix.lower() != ".gdb"  # noqa: PTH112


def parquet_parts(folder: Path, label: str, key: str = "path") -> list[Path]:
    """Return the Parquet files in a folder and those below it, numbers in their names in the order of their size.

    Files and folders whose name begins with a point or an underscore are no part of the data. ``key``: that of the
    programme file which names the folder, for errors.

    Raises
    ------
    InputError
        There are none, or other files among them.
    """
    data = []
    for above, folders, names in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith(_ASIDE))
        for name in sorted(names):
            file = (Path(above) / name).relative_to(folder)
            if name.startswith(_ASIDE):
                continue
            # at the first such file: the folder may be that of everything
            if file.suffix.lower() not in PARQUET:
                raise InputError(
                    f"{label}: this is a folder with {file.as_posix()}; only Parquet files in a folder are read as one "
                    f"table. Give one file in {key}, or move the other files out of the folder."
                )
            data.append(file)
    if not data:
        raise InputError(
            f"{label}: this is a folder without data; expected a file, or a folder of Parquet files. Correct {key}, "
            "or export the parts again."
        )
    return [folder / file for file in sorted(data, key=_in_order)]


def part_name(label: str, folder: Path, part: Path) -> str:
    """Return what a part is called: as the programme calls the folder, then its own name."""
    return f"{label.rstrip('/')}/{part.relative_to(folder).as_posix()}"


def folder_columns(folder: Path, part: Path) -> dict[str, str | None]:
    """Return the columns that the folders of a part stand for, such as ``district=North``; None for no value."""
    pairs = (name.partition("=") for name in part.relative_to(folder).parts[:-1] if "=" in name)
    return {unquote(key): None if value == _NOTHING else unquote(value) for key, _, value in pairs}


def _in_order(file: Path) -> list[tuple[tuple[str | int, ...], str]]:
    # every second piece is digits, so that the same places hold the same kinds; the name itself ends a tie
    return [
        (tuple(int(piece) if piece.isdecimal() else piece for piece in _DIGITS.split(name)), name)
        for name in file.parts
    ]
