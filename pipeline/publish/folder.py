"""A run's folder, which appears complete or not at all: written beside its target, then renamed."""

import filecmp
import re
import shutil
import signal
import sqlite3
import tempfile
import threading
import unicodedata
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import pyarrow as pa
from pyogrio.errors import DataLayerError, DataSourceError
from xlsxwriter.exceptions import XlsxWriterException

from pipeline.errors import OutputError

# each library has its own error for a full disk
_UNWRITABLE = (OSError, DataSourceError, DataLayerError, sqlite3.Error, XlsxWriterException, pa.ArrowException)

__all__ = ["folder_name", "lay_files", "new_folder", "same_but_for", "settled"]

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
) -> Iterator[Path]:
    """Give a draft folder to write into, renamed to ``target`` when the block ends without an error.

    A folder already there is replaced, unless ``is_same(new, old)`` returns that nothing has changed. Other files in it
    are kept, except those named in ``outdated``: files of an earlier run that this run does not write. ``settle`` is
    called with the target once the folder is there: if it fails, the folder before it comes back.

    Raises
    ------
    OutputError
        The target cannot be written to.
    """
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        draft = Path(tempfile.mkdtemp(prefix=f".{target.name}.", dir=target.parent))
    except OSError as error:
        raise OutputError(
            f"{target.parent}: cannot be written to ({error.strerror}). Choose another folder with --out."
        ) from error
    try:
        # others may not read a temporary folder, but may read a run
        draft.chmod(0o755)
        yield draft
        if target.exists() and is_same(draft, target):
            with _uninterrupted():
                settle(target)
        else:
            _replace(draft, target, outdated, settle)
    except _UNWRITABLE as error:
        raise OutputError(
            f"{target}: cannot be written ({error}). Free some disk space, or choose another folder with --out."
        ) from error
    finally:
        shutil.rmtree(draft, ignore_errors=True)


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
        raise OutputError(
            f"{target}: cannot be written to ({error.strerror}). Choose another folder with {option}."
        ) from error
    try:
        yield draft
        for file in sorted(draft.iterdir()):
            file.replace(target / file.name)
    except _UNWRITABLE as error:
        raise OutputError(
            f"{target}: cannot be written ({error}). Free some disk space, or choose another folder with {option}."
        ) from error
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _replace(draft: Path, target: Path, outdated: Collection[str], settle: Callable[[Path], None]) -> None:
    is_first = not target.exists()
    # files that others put into the folder stay there
    for other in () if is_first else target.iterdir():
        if other.name not in outdated and not (draft / other.name).exists():
            shutil.copytree(other, draft / other.name) if other.is_dir() else shutil.copy2(other, draft / other.name)
    old = target.with_name(f"{draft.name}.old")
    with _uninterrupted():
        if not is_first:
            target.rename(old)
        try:
            draft.rename(target)
            _settle_or_take_back(draft, target, settle)
        finally:
            if not is_first:
                # also where the second fails
                if not target.exists():
                    old.rename(target)
                shutil.rmtree(old, ignore_errors=True)


def _settle_or_take_back(draft: Path, target: Path, settle: Callable[[Path], None]) -> None:
    try:
        settle(target)
    except BaseException:
        target.rename(draft)
        raise


@contextmanager
def _uninterrupted() -> Iterator[None]:
    """Do a block of some milliseconds that ends a command without an interruption; what comes meanwhile is let go."""
    if threading.current_thread() is not threading.main_thread():
        # only the main thread is interrupted
        yield
        return
    before = {one: signal.signal(one, lambda *_: None) for one in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for one, handler in before.items():
            # a handler that was not set from Python cannot be set from there
            signal.signal(one, signal.SIG_DFL if handler is None else handler)


def same_but_for(name: str, new: Path, old: Path) -> bool:
    """Return whether the old folder holds every file of the new one with the same bytes, except one file."""
    files = {str(file.relative_to(new)) for file in new.rglob("*") if file.is_file()}
    if not all((old / file).is_file() for file in files):
        return False
    _, different, unread = filecmp.cmpfiles(new, old, files - {name}, shallow=False)
    return not different and not unread
