"""A run's folder, which appears complete or not at all: written beside its target, then put in its place."""

import errno
import filecmp
import re
import shutil
import signal
import sqlite3
import tempfile
import threading
import unicodedata
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

import pyarrow as pa
from pyogrio.errors import DataLayerError, DataSourceError
from xlsxwriter.exceptions import XlsxWriterException

from pipeline.completed import COMPLETED, STOPS
from pipeline.errors import OutputError
from pipeline.publish.exchange import draft_beside, keep, put_in_place, to_disk, walked

# each library has its own error for a full disk
_UNWRITABLE = (OSError, DataSourceError, DataLayerError, sqlite3.Error, XlsxWriterException, pa.ArrowException)

__all__ = ["files_in", "folder_name", "lay_files", "new_folder", "same_but_for", "settled"]

_NO_ROOM: Final = (errno.ENOSPC, errno.EDQUOT)
# what SQLite, and libraries without the number of an error, say of a file whose end could not be written
_CUT_SHORT: Final = re.compile("image is malformed|disk I/O error|File too large")
_FAILS: Final = (errno.EIO, errno.ESTALE)
# Windows keeps these for devices, whatever the ending
_DEVICE: Final = re.compile("con|prn|aux|nul|(?:com|lpt)[0-9]")


def folder_name(programme: str) -> str:
    """Return the folder name of a programme: letters of any script without accents, digits, hyphens."""
    plain = re.sub(r"[\u0300-\u036f]", "", unicodedata.normalize("NFKD", programme)).casefold()
    words = re.sub(r"[\W_]+", "-", plain).strip("-")
    # file systems take names of 255 bytes
    words = words.encode()[:200].decode(errors="ignore").strip("-") or "programme"
    return f"{words}-1" if _DEVICE.fullmatch(words) else words


def settled(_: Path) -> None:
    """Do nothing: the folder alone is the run."""


@contextmanager
def new_folder(
    target: Path,
    is_same: Callable[[Path, Path], bool],
    outdated: Collection[str] = (),
    settle: Callable[[Path], None] = settled,
    written: Callable[[Path], Collection[str] | None] = lambda _: None,
) -> Iterator[Path]:
    """Give a draft folder to write into, which takes the place of ``target`` when the block ends without an error.

    A folder already there is replaced, unless ``is_same(new, old)`` returns that nothing has changed. Whoever calls
    this holds the target (:func:`pipeline.publish.held.held`).

    Parameters
    ----------
    target
        The folder.
    is_same
        Tells of the draft and the folder before it whether they hold the same.
    outdated
        Names in the folder that this command may write: where it does not, they are those of an earlier one, and go.
    settle
        Called with the target once the folder is there: if it fails, the folder before it comes back.
    written
        Returns the files that an earlier command wrote into a folder, from its own record, of which those not written
        again go, and all others stay. None where there is no record: then ``outdated`` counts, and what is in a
        folder that both write is taken as the earlier command's.

    Raises
    ------
    OutputError
        The target cannot be written to.
    """
    place = _real(target)
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        draft = draft_beside(place)
    except OSError as error:
        raise _unwritable(target.parent, error, "--out") from error
    left: Path | None = draft
    try:
        yield draft
        if place.exists() and is_same(draft, place):
            with _uninterrupted():
                settle(target)
                COMPLETED.append(target)
        else:
            _keep_others(draft, place, outdated, written)
            to_disk(draft)
            with _uninterrupted():
                left = _replace(draft, place, lambda: settle(target))
                COMPLETED.append(target)
    except _UNWRITABLE as error:
        raise _unwritable(target, error, "--out") from error
    finally:
        if left is not None:
            # the next command clears what cannot be removed now
            with _uninterrupted(), suppress(OSError):
                shutil.rmtree(left, ignore_errors=True)


@contextmanager
def lay_files(target: Path, option: str = "--out") -> Iterator[Path]:
    """Give a draft folder to write files into; when the block ends without an error, each is moved to ``target``.

    Other files there are left untouched. ``option``: that of the command line which names the target, for errors.

    Raises
    ------
    OutputError
        The target cannot be written to.
    """
    try:
        target.mkdir(parents=True, exist_ok=True)
        draft = Path(tempfile.mkdtemp(prefix=".draft.", dir=target))
    except OSError as error:
        raise _unwritable(target, error, option) from error
    try:
        yield draft
        to_disk(draft)
        with _uninterrupted():
            for file in sorted(draft.iterdir()):
                COMPLETED.append(file.replace(target / file.name))
    except _UNWRITABLE as error:
        raise _unwritable(target, error, option) from error
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _real(target: Path) -> Path:
    """Return the folder that a link leads to, as it is this that is replaced and not the link."""
    if not target.is_symlink():
        return target
    place = target.resolve()
    if not place.is_dir():
        raise OutputError(
            f"{target}: is a link to {place}, where no folder is. Make that folder, or remove the link, and run again."
        )
    return place


def _unwritable(target: Path, error: Exception, option: str) -> OutputError:
    """Return the error about a place that cannot be written to, with what to do about its reason."""
    reason = getattr(error, "strerror", None) or str(error)
    number = getattr(error, "errno", None)
    if number == errno.EFBIG or (number is None and _CUT_SHORT.search(reason)):
        reason = "a file could not grow to its full size"
        remedy = (
            "Free some disk space, lift the limit on the size of files (`ulimit -f`), or choose another folder with "
            f"{option}."
        )
    elif number in _NO_ROOM or (number is None and re.search(r"(?i)\bfull\b|no space", reason)):
        remedy = f"Free some disk space, or choose another folder with {option}."
    elif number in _FAILS:
        remedy = f"The disk or the network fails: have it checked, or choose another folder with {option}."
    else:
        remedy = f"Choose another folder with {option}."
    return OutputError(f"{target}: cannot be written ({reason}). {remedy}")


def _keep_others(
    draft: Path, target: Path, outdated: Collection[str], written: Callable[[Path], Collection[str] | None]
) -> None:
    """Copy into a draft what others have put into the folder before it, and give it that folder's permissions."""
    if not target.exists():
        return
    ours = written(target)
    for place, folders, files in walked(target):
        links = [name for name in folders if Path(place, name).is_symlink()]
        for name in (*files, *links):
            file = Path(place, name)
            within = file.relative_to(target)
            if ours is None:
                is_ours = within.parts[0] in outdated or (draft / within.parts[0]).exists()
            else:
                is_ours = within.as_posix() in ours or (draft / within).exists()
            if not is_ours:
                (draft / within).parent.mkdir(parents=True, exist_ok=True)
                keep(file, draft / within)
    shutil.copymode(target, draft)


def _replace(draft: Path, target: Path, settle: Callable[[], None]) -> Path | None:
    """Put a draft in the place of its target, and return the folder that is to be removed, None if there is none."""
    old = put_in_place(draft, target)
    try:
        settle()
    except BaseException:
        if old == draft:
            put_in_place(draft, target)
        else:
            target.rename(draft)
            if old is not None:
                old.rename(target)
        raise
    return old


@contextmanager
def _uninterrupted() -> Iterator[None]:
    """Do a block of some milliseconds that ends a command without an interruption; what comes meanwhile is let go."""
    if threading.current_thread() is not threading.main_thread():
        # only the main thread is interrupted
        yield
        return
    before = {one: signal.signal(one, lambda *_: None) for one in STOPS}
    try:
        yield
    finally:
        for one, handler in before.items():
            # a handler that was not set from Python cannot be set from there
            signal.signal(one, signal.SIG_DFL if handler is None else handler)


def files_in(folder: Path) -> list[str]:
    """Return the files in a folder and its folders, by their path in it."""
    return [file.relative_to(folder).as_posix() for file in folder.rglob("*") if file.is_file()]


def same_but_for(name: str, new: Path, old: Path) -> bool:
    """Return whether the old folder holds every file of the new one with the same bytes, except one file."""
    files = set(files_in(new))
    if not all((old / file).is_file() for file in files):
        return False
    _, different, unread = filecmp.cmpfiles(new, old, files - {name}, shallow=False)
    return not different and not unread
