"""A run's folder appears whole or not at all: written beside its place, then renamed into it."""

import filecmp
import re
import shutil
import sqlite3
import tempfile
import unicodedata
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from pathlib import Path

import pyarrow as pa
from pyogrio.errors import DataLayerError, DataSourceError
from xlsxwriter.exceptions import XlsxWriterException

from pipeline.errors import OutputError

# each library has its own word for a full disk
_UNWRITABLE = (OSError, DataSourceError, DataLayerError, sqlite3.Error, XlsxWriterException, pa.ArrowException)

__all__ = ["folder_name", "lay_files", "new_folder", "same_but_for"]


def folder_name(programme: str) -> str:
    """Return a programme's name as a folder: letters of any script without accents, digits, hyphens."""
    plain = re.sub(r"[\u0300-\u036f]", "", unicodedata.normalize("NFKD", programme)).casefold()
    words = re.sub(r"[\W_]+", "-", plain).strip("-")
    # a name on disk has room for 255 bytes
    return words.encode()[:200].decode(errors="ignore").strip("-") or "programme"


@contextmanager
def new_folder(place: Path, is_same: Callable[[Path, Path], bool], outdated: Collection[str] = ()) -> Iterator[Path]:
    """Give a folder to write into; it takes its place when the block ends without an error.

    A folder already there is replaced, unless ``is_same(new, old)`` says that nothing has changed. What else lay in it
    is kept, but for the names in ``outdated``: files of ours that this run does not write.

    Raises
    ------
    OutputError
        The place cannot be written to.
    """
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        draft = Path(tempfile.mkdtemp(prefix=f".{place.name}.", dir=place.parent))
    except OSError as error:
        raise OutputError(
            f"{place.parent}: cannot be written to ({error.strerror}). Choose another folder with --out."
        ) from error
    try:
        # a temporary folder is closed to others; a run is for everyone
        draft.chmod(0o755)
        yield draft
        if not (place.exists() and is_same(draft, place)):
            _replace(draft, place, outdated)
    except _UNWRITABLE as error:
        raise OutputError(
            f"{place}: cannot be written ({error}). Free some room, or choose another folder with --out."
        ) from error
    finally:
        shutil.rmtree(draft, ignore_errors=True)


@contextmanager
def lay_files(place: Path) -> Iterator[Path]:
    """Give a folder to write files into; when the block ends without an error, each is moved to ``place`` whole.

    What else lies there stays as it is.

    Raises
    ------
    OutputError
        The place cannot be written to.
    """
    try:
        place.mkdir(parents=True, exist_ok=True)
        draft = Path(tempfile.mkdtemp(prefix=".draft.", dir=place))
    except OSError as error:
        raise OutputError(
            f"{place}: cannot be written to ({error.strerror}). Choose another folder with --out."
        ) from error
    try:
        yield draft
        for file in sorted(draft.iterdir()):
            file.replace(place / file.name)
    except _UNWRITABLE as error:
        raise OutputError(
            f"{place}: cannot be written ({error}). Free some room, or choose another folder with --out."
        ) from error
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _replace(draft: Path, place: Path, outdated: Collection[str]) -> None:
    if not place.exists():
        draft.rename(place)
        return
    # what somebody else laid into the folder stays there
    for other in place.iterdir():
        if other.name not in outdated and not (draft / other.name).exists():
            shutil.copytree(other, draft / other.name) if other.is_dir() else shutil.copy2(other, draft / other.name)
    old = place.with_name(f"{draft.name}.old")
    place.rename(old)
    try:
        draft.rename(place)
    except OSError:
        old.rename(place)
        raise
    shutil.rmtree(old)


def same_but_for(name: str, new: Path, old: Path) -> bool:
    """Tell whether the old folder holds every file of the new one with the same bytes, one file aside."""
    files = {str(file.relative_to(new)) for file in new.rglob("*") if file.is_file()}
    if not all((old / file).is_file() for file in files):
        return False
    _, different, unread = filecmp.cmpfiles(new, old, files - {name}, shallow=False)
    return not different and not unread
