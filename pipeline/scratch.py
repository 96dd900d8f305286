"""Folders that end with what they are for: for copies of what is read, and what is said where their disk is full.

Beside each is a file that is locked while the process that made the folder lives. What was left by processes that were
killed is thereby known, and removed when the next folder is made there.
"""

import errno
import os
import platform
import secrets
import shutil
import sqlite3
import stat
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import Final

from pipeline.errors import InputError

try:
    import fcntl
except ImportError:  # Windows, where nothing is known of those that were killed
    fcntl = None  # type: ignore[assignment]

__all__ = ["is_full", "refuse_full", "scratch_folder", "temporary_folder"]

_FULL: Final = (errno.ENOSPC, errno.EDQUOT)
_PREFIX: Final = "kerfbook-"
_LOCK: Final = ".lock"
# names alone may be those of other machines that share the folder
_MACHINE: Final = Path("/etc/machine-id")
_LONGEST: Final = 500


@contextmanager
def temporary_folder(parent: Path | None = None) -> Iterator[Path]:
    """Give a folder that nobody else reads, which is removed when the block ends; without ``parent``, in TMPDIR.

    What processes of the same user on the same machine left there when they were killed is removed first.

    Raises
    ------
    OSError
        No folder can be made.
    """
    place = Path(tempfile.gettempdir()) if parent is None else parent
    _remove_left(place)
    folder = place / f"{_PREFIX}{secrets.token_hex(8)}"
    lock = folder.with_name(folder.name + _LOCK)
    # locked before there is a folder: nobody finds one without
    handle = _locked(lock)
    try:
        folder.mkdir(mode=0o700)
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        _let_go(handle, lock, folder)


def _locked(lock: Path) -> int | None:
    """Return the handle of a new lock that is ours; None where there are no locks, and nothing is removed later."""
    if fcntl is None:
        return None
    # under a name that nobody looks for until it is locked
    new = lock.with_name(lock.name + ".new")
    try:
        handle = os.open(new, os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW, 0o600)
    except OSError:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        os.write(handle, _this_machine())
        new.rename(lock)
    except OSError:
        os.close(handle)
        with suppress(OSError):
            new.unlink()
        return None
    return handle


def _let_go(handle: int | None, lock: Path, folder: Path) -> None:
    """Remove a lock while it is held, unless its folder could not be removed: the next process tries again."""
    if handle is None:
        return
    with suppress(OSError):
        if not folder.exists():
            lock.unlink()
    os.close(handle)


def _remove_left(place: Path) -> None:
    """Remove folders whose lock can be taken: they were made by processes that ended without removing them."""
    if fcntl is None:
        return
    with suppress(OSError):
        for lock in place.glob(f"{_PREFIX}*{_LOCK}"):
            with suppress(OSError):
                _remove_if_left(lock)


def _remove_if_left(lock: Path) -> None:
    handle = os.open(lock, os.O_RDWR | os.O_NOFOLLOW | os.O_NONBLOCK)
    with ExitStack() as closing:
        closing.callback(os.close, handle)
        facts = os.fstat(handle)
        is_ours = stat.S_ISREG(facts.st_mode) and facts.st_uid == os.getuid()
        if not is_ours or os.pread(handle, _LONGEST, 0) != _this_machine():
            return
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        # another process may have removed it between our two steps
        if os.path.samestat(lock.lstat(), facts):
            folder = lock.with_suffix("")
            shutil.rmtree(folder, ignore_errors=True)
            if not folder.exists():
                lock.unlink()


def _this_machine() -> bytes:
    machine = b""
    with suppress(OSError):
        machine = _MACHINE.read_bytes()
    return (platform.node().encode() + b" " + machine.strip())[:_LONGEST]


@contextmanager
def scratch_folder(label: str) -> Iterator[Path]:
    """Give a folder for copies of an input, which is removed when the block ends; ``label`` names the input.

    Raises
    ------
    InputError
        No folder can be made, or its disk is full.
    """
    with ExitStack() as ending:
        try:
            folder = ending.enter_context(temporary_folder())
        except OSError as error:
            raise InputError(
                f"{label}: no folder can be made for what is unpacked while it is read ({error.strerror or error}). "
                "Name one in TMPDIR."
            ) from error
        try:
            yield folder
        except (OSError, sqlite3.Error) as error:
            refuse_full(error, label)
            raise


def is_full(error: BaseException) -> bool:
    """Return whether an error says that a disk is full."""
    number = getattr(error, "sqlite_errorcode", None)
    return getattr(error, "errno", None) in _FULL or number == sqlite3.SQLITE_FULL


def refuse_full(error: BaseException, label: str) -> None:
    """Stop where an error says that the disk of temporary files is full; nothing is wrong with the input then.

    Raises
    ------
    InputError
        It does.
    """
    if is_full(error):
        raise InputError(
            f"{label}: does not fit on the disk of {tempfile.gettempdir()}, where inputs are kept while they are read. "
            "Free some space, or name a folder with more in TMPDIR."
        ) from error
