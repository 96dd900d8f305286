"""A run's folder appears whole or not at all: written beside its place, then renamed into it."""

import filecmp
import re
import shutil
import tempfile
import unicodedata
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from pipeline.errors import OutputError

__all__ = ["folder_name", "new_folder", "same_but_for"]


def folder_name(programme: str) -> str:
    """Return a programme's name as a folder: plain letters, digits and hyphens."""
    plain = unicodedata.normalize("NFKD", programme).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:80] or "programme"


@contextmanager
def new_folder(place: Path, is_same: Callable[[Path, Path], bool]) -> Iterator[Path]:
    """Give a folder to write into; it takes its place when the block ends without an error.

    A folder already there is replaced, unless ``is_same(new, old)`` says that nothing has changed.

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
            _replace(draft, place)
    except OSError as error:
        raise OutputError(
            f"{place}: cannot be written ({error}). Free some room, or choose another folder with --out."
        ) from error
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _replace(draft: Path, place: Path) -> None:
    if not place.exists():
        draft.rename(place)
        return
    old = place.with_name(f"{draft.name}.old")
    place.rename(old)
    try:
        draft.rename(place)
    except OSError:
        old.rename(place)
        raise
    shutil.rmtree(old)


def same_but_for(name: str, new: Path, old: Path) -> bool:
    """Tell whether two folders hold the same files with the same bytes, one file aside."""
    files = {str(file.relative_to(new)) for file in new.rglob("*") if file.is_file()}
    if files != {str(file.relative_to(old)) for file in old.rglob("*") if file.is_file()}:
        return False
    _, different, unread = filecmp.cmpfiles(new, old, files - {name}, shallow=False)
    return not different and not unread
