"""Paths of inputs: a file, a file geodatabase, a folder of Parquet files, or an address that may be fetched."""

import errno
import re
import stat
from pathlib import Path
from typing import Final

from pipeline.databases import without_credentials
from pipeline.errors import InputError
from pipeline.intake.files.parquet_parts import is_parts_folder, parquet_parts
from pipeline.intake.files.remote import local_copy, may_connect
from pipeline.programme.addresses import Address, as_address
from pipeline.visible_text import bytes_not_utf8

__all__ = ["input_path", "is_geodatabase", "matching_files", "refuse_undecodable", "refuse_unreachable", "shown_path"]

# two letters or more: a single one is a drive
_SCHEME: Final = re.compile(r"[A-Za-z][A-Za-z0-9+.-]+:")
# a share of another computer, as Windows writes it
_SHARE: Final = re.compile(r"[\\/]{2}")
# of a path in an error
_LONGEST: Final = 300
# folders that a pattern may name one below the other; each is a call within a call
_DEEPEST_PATTERN: Final = 50
# what the system says of a path where there is nothing
_NO_FILE: Final = (errno.ENOENT, errno.ENOTDIR, errno.EBADF, errno.ELOOP)
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
        The path is an address that may not be opened or cannot be fetched, there is no file there, or a folder holds
        more than Parquet files.
    """
    try:
        text = as_address(text)
    except ValueError as error:
        raise InputError(f"{name}.{key}: {error}. Correct it.") from None
    if isinstance(text, Address):
        return local_copy(text, name, key)
    path = (folder / text).absolute()
    refuse_unreachable(path, text, f"{name}.{key}")
    if not may_connect() and _is_on_a_share(text, path, folder.absolute()):
        raise InputError(
            f"{text}: leads to a share of another computer, to which no connection is made unless it is asked for. Add "
            f"--allow-remote to the command, connect the share as a drive, or copy the file, and give its path in "
            f"{name}.{key}."
        )
    if _SCHEME.match(text) and not path.exists():
        raise InputError(
            f"{without_credentials(text)}: this is the address of a web page, a database or a virtual file; expected "
            f"the path of a file on this computer. Save the data as a file and give its path in {name}.{key}."
        )
    if not path.exists():
        raise InputError(
            f"{shown_path(text)}: no such file (looked for {shown_path(str(folder / text))}). Correct {name}.{key}."
        )
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


def shown_path(text: str) -> str:
    """Return a path as an error names it: as it is written, without the end of one that no system takes."""
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}..."


def refuse_unreachable(path: Path, text: str, key: str) -> None:
    """Stop where the system cannot even tell whether there is a file; ``key`` for errors.

    Raises
    ------
    InputError
        It cannot.
    """
    try:
        # from Python 3.14 on, exists() keeps to itself why it cannot tell
        path.stat()
    except ValueError:
        return
    except OSError as error:
        if error.errno in _NO_FILE:
            return
        raise InputError(
            f"{shown_path(text)}: cannot be looked for ({error.strerror}). Check {key}, and the permissions of the "
            "folders on the way there."
        ) from error


def matching_files(pattern: str, folder: Path, key: str) -> list[Path]:
    """Return what a pattern of paths matches, relative to a folder unless it begins at a root; ``key`` for errors.

    Raises
    ------
    InputError
        The pattern cannot be followed.
    """
    path = Path(pattern)
    root = Path(path.anchor) if path.is_absolute() else folder
    if len(path.parts) > _DEEPEST_PATTERN:
        why = f"it names more than {_DEEPEST_PATTERN} folders one below the other"
    elif any("**" in part and part != "**" for part in path.parts):
        # which from Python 3.13 on is taken for one star
        why = "** stands beside other characters, where it can only be the name of a folder"
    else:
        try:
            return list(root.glob(str(path.relative_to(path.anchor))))
        except (OSError, ValueError) as error:
            why = getattr(error, "strerror", None) or str(error)
    raise InputError(
        f"{shown_path(pattern)}: no pattern that can be followed ({why}); expected one such as "
        f'"2026/*.csv". Correct {key}.'
    )


def refuse_undecodable(paths: list[str]) -> None:
    """Stop at a path that is not text, and which no programme and no output could name.

    Raises
    ------
    InputError
        There is one.
    """
    for path in paths:
        if shown := bytes_not_utf8(path):
            raise InputError(
                f"{shown_path(shown)}: found a name that is not UTF-8 text, expected one that is. Rename the file."
            )


def is_geodatabase(path: Path) -> bool:
    """Return whether a path is the folder of a file geodatabase."""
    return path.suffix.lower() == ".gdb" and path.is_dir()


def _is_on_a_share(text: str, path: Path, folder: Path) -> bool:
    """Return whether a path, or a link on the way to it from the programme, leads to another computer."""
    if _SHARE.match(text):
        return True
    for part in (path, *path.parents):
        if part == folder:
            break
        # looks at the link itself, and not for what it leads to
        if part.is_symlink() and _SHARE.match(str(part.readlink())):
            return True
    return False


def _refuse_links_inside(path: Path, label: str, what: str) -> None:
    """Stop where a geodatabase, or a folder of parts, holds a link, a pipe or a device in place of one of its files."""
    for entry in sorted(path.rglob("*")):
        mode = entry.lstat().st_mode
        if not stat.S_ISREG(mode) and not stat.S_ISDIR(mode):
            raise InputError(
                f"{label}: {entry.name} in it is a link to other data, not data; expected the {what}'s own files. "
                f"Copy the {what} again, with the files themselves."
            )
