"""One folder put in the place of another at once, so that a stop at any moment leaves the one or the other whole.

Linux and macOS exchange two folders in one step. Elsewhere, and on file systems that cannot, the older folder is moved
aside first; what a stop between the two steps leaves is put right by :func:`restore` at the next start.
"""

import ctypes
import errno
import os
import re
import secrets
import shutil
import stat
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from pipeline.errors import OutputError

__all__ = ["clear_drafts", "draft_beside", "keep", "put_in_place", "refuse_unkept", "restore", "to_disk", "walked"]

_OLD: Final = ".old"
# a draft, and a folder moved aside
_LEFT: Final = re.compile(r"\.(?P<name>.+)\.[a-z0-9_]{8}(?P<old>\.old)?")
# renameat2 of Linux (RENAME_EXCHANGE) and renamex_np of macOS (RENAME_SWAP) name the exchange by the same number
_EXCHANGE: Final = 2
_HERE: Final = -100
# errors by which a disk says that what was written is not on it
_TOLD: Final = (errno.EIO, errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


def draft_beside(target: Path) -> Path:
    """Make and return a hidden folder beside a target, with the permissions that a new folder has here."""
    draft = target.with_name(f".{target.name}.{secrets.token_hex(4)}")
    draft.mkdir()
    return draft


def to_disk(folder: Path) -> None:
    """Have the system write everything in a folder to its disk, so that a loss of power leaves no empty files."""
    for place, _, files in walked(folder):
        for path in (*(Path(place, name) for name in files), Path(place)):
            _sync(path)


def walked(folder: Path) -> Iterator[tuple[str, list[str], list[str]]]:
    """Give what ``os.walk`` gives; a folder that cannot be listed is an OSError, and is not passed over."""

    def stop(error: OSError) -> None:
        raise error

    return os.walk(folder, onerror=stop)


def keep(file: Path, place: Path) -> None:
    """Lay a file of somebody else, which stays where it is, into a draft too.

    A pipe, a socket or a device has no content to copy: it gets a second name, and goes on to work.

    Raises
    ------
    OutputError
        It cannot be kept; the error names it.
    OSError
        Nothing more can be written there.
    """
    what, mode = "this file", file.lstat().st_mode
    try:
        if stat.S_ISLNK(mode):
            # a copy would look at what it leads to
            place.symlink_to(file.readlink())
        elif stat.S_ISREG(mode):
            shutil.copy2(file, place)
        else:
            what = "this pipe, socket or device"
            os.link(file, place, follow_symlinks=False)
    except OSError as error:
        if error.errno in _TOLD:
            raise
        raise OutputError(
            f"{file}: {what} of somebody else cannot be kept beside a new run ({error.strerror}). Remove it, or move "
            "it to another folder, and run again."
        ) from error


def refuse_unkept(target: Path) -> None:
    """Stop before the work where a folder holds a pipe, a socket or a device that could not be kept afterwards.

    Raises
    ------
    OutputError
        There is one.
    """
    for place, _, files in walked(target):
        for file in (Path(place, name) for name in files):
            mode = file.lstat().st_mode
            if not stat.S_ISREG(mode) and not stat.S_ISLNK(mode):
                probe = target.with_name(f".{target.name}.{secrets.token_hex(4)}")
                keep(file, probe)
                probe.unlink()


def put_in_place(draft: Path, target: Path) -> Path | None:
    """Give a draft the name of its target.

    Returns
    -------
    pathlib.Path or None
        The folder that was there before, under its new name; None if there was none.

    Raises
    ------
    OSError
        The target is as it was.
    """
    if not target.exists():
        draft.rename(target)
        _sync(target.parent)
        return None
    if _exchange(draft, target):
        _sync(target.parent)
        return draft
    old = target.with_name(draft.name + _OLD)
    target.rename(old)
    try:
        draft.rename(target)
    except BaseException:
        old.rename(target)
        raise
    _sync(target.parent)
    return old


def restore(parent: Path) -> None:
    """Give each folder that was moved aside its name again, where a stop kept its successor from taking that name."""
    moved = [(left, match["name"]) for left, match in _left_in(parent) if match["old"]]
    # of several it is the newest: those before were to be removed
    for left, name in sorted(moved, key=lambda one: one[0].stat().st_mtime, reverse=True):
        if not (parent / name).exists():
            left.rename(parent / name)


def clear_drafts(target: Path) -> None:
    """Remove what stopped commands left beside a target; nobody else may be writing it."""
    for left, match in _left_in(target.parent):
        if match["name"] == target.name:
            shutil.rmtree(left, ignore_errors=True)


def _left_in(parent: Path) -> Iterator[tuple[Path, re.Match[str]]]:
    for entry in sorted(parent.iterdir()) if parent.is_dir() else ():
        match = _LEFT.fullmatch(entry.name)
        if match and entry.is_dir() and not entry.is_symlink():
            yield entry, match


def _exchange(one: Path, other: Path) -> bool:
    """Exchange two folders in one step; return False where the system or the file system has no such step."""
    try:
        library = ctypes.CDLL(None, use_errno=True)
        if sys.platform == "darwin":
            failed = library.renamex_np(os.fsencode(one), os.fsencode(other), _EXCHANGE)
        else:
            failed = library.renameat2(_HERE, os.fsencode(one), _HERE, os.fsencode(other), _EXCHANGE)
    except (AttributeError, TypeError, OSError):
        return False
    return not failed


def _sync(path: Path) -> None:
    """Have one file or folder written to disk, where the system can do so."""
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
    except OSError:
        # a link, or Windows, which opens no folder
        return
    try:
        os.fsync(handle)
    except OSError as error:
        # what cannot be synced is no file of a disk; a disk that fails or is full must be told
        if error.errno in _TOLD:
            raise
    finally:
        os.close(handle)
