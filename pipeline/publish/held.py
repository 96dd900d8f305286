"""A folder held by one command at a time: two that write the same run would take each other's drafts away."""

import datetime as dt
import os
import platform
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from pipeline.errors import OutputError
from pipeline.publish.exchange import clear_drafts, refuse_unkept, restore

try:
    import fcntl
except ImportError:  # Windows, where two commands at once are not told apart
    fcntl = None  # type: ignore[assignment]

__all__ = ["held"]

_LONGEST: Final = 200


@contextmanager
def held(target: Path, option: str = "--out") -> Iterator[None]:
    """Hold a folder, which need not be there yet, for this command alone.

    What commands that were killed have left beside it is put right and removed. A command that is killed lets go by
    itself. Folders above the target are made; those still empty at the end are removed again.

    Raises
    ------
    OutputError
        Another command holds it, nothing can be written there, or what is there could not be kept. ``option``: of the
        command line, that names it.
    """
    made = [folder for folder in target.parents if not folder.exists()]
    lock = target.with_name(f".{target.name}.lock")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        handle = _locked(lock, target, option)
        try:
            restore(target.parent)
            if handle is not None:
                clear_drafts(target)
            if target.is_dir():
                refuse_unkept(target)
        except (OSError, OutputError):
            _let_go(handle, lock)
            raise
    except OSError as error:
        raise OutputError(
            f"{target.parent}: cannot be written to ({error.strerror}). Choose another folder with {option}."
        ) from error
    try:
        yield
    finally:
        _let_go(handle, lock)
        for folder in made:
            try:
                folder.rmdir()
            except OSError:
                break


def _locked(lock: Path, target: Path, option: str) -> int | None:
    """Return the handle of a lock that is ours, or None where the system or the file system knows no locks."""
    if fcntl is None:
        return None
    while True:
        handle = os.open(lock, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o644)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            holder = os.pread(handle, _LONGEST, 0).decode("utf-8", "replace")
            os.close(handle)
            raise OutputError(
                f"{target}: is being written by another command ({holder or 'just started'}). Wait for it to end, or "
                f"choose another folder with {option}."
            ) from None
        except OSError:
            os.close(handle)
            lock.unlink(missing_ok=True)
            return None
        if _is_still(lock, handle):
            began = dt.datetime.now().astimezone().strftime("%Y-%m-%d %H:%M")
            # a disk that is full is told when the run is written; the lock needs no room
            with suppress(OSError):
                os.truncate(handle, 0)
                os.pwrite(handle, f"process {os.getpid()} on {platform.node()}, since {began}".encode(), 0)
            return handle
        # the one before removed its lock between our two steps
        os.close(handle)


def _is_still(lock: Path, handle: int) -> bool:
    try:
        return os.path.samestat(lock.stat(), os.fstat(handle))
    except OSError:
        return False


def _let_go(handle: int | None, lock: Path) -> None:
    if handle is None:
        return
    # removed while it is held: whoever opened it meanwhile sees that it is no longer the one
    with suppress(OSError):
        lock.unlink()
    os.close(handle)
