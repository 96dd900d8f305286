"""The files of pieces, and of what is made of them, in a folder that this machine and all workers share."""

import pickle
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

from pipeline.errors import OutputError
from pipeline.scratch import temporary_folder

__all__ = ["save_piece", "scratch_in", "take_made", "written"]


@contextmanager
def scratch_in(folder: Path | None) -> Iterator[Path]:
    """Give a folder for pieces that nobody else reads: in a given one, or in that of the system.

    Raises
    ------
    OutputError
        It cannot be made.
    """
    with ExitStack() as ending:
        try:
            made = ending.enter_context(temporary_folder(folder))
        except OSError as error:
            raise OutputError(_unusable(folder or Path(tempfile.gettempdir()), error)) from error
        yield made.resolve()


def save_piece(piece: Path, thing: object) -> None:
    """Write a piece.

    Raises
    ------
    OutputError
        It cannot be written.
    """

    def save() -> None:
        with piece.open("wb") as file:
            pickle.dump(thing, file, protocol=pickle.HIGHEST_PROTOCOL)

    written(piece, save)


def take_made(path: Path) -> Any:  # noqa: ANN401 - what the work made
    """Return what was made, and remove it and the piece that it was made of.

    Raises
    ------
    OutputError
        It cannot be read.
    """
    try:
        with path.open("rb") as file:
            made = pickle.load(file)  # noqa: S301 - written by our own worker in a folder of our own
    except OSError as error:
        raise OutputError(_unusable(path.parent, error)) from error
    for one in (path, path.with_suffix(".piece")):
        one.unlink(missing_ok=True)
    return made


def written(path: Path, write: Callable[[], None]) -> None:
    """Write something.

    Raises
    ------
    OutputError
        It cannot be written.
    """
    try:
        write()
    except OSError as error:
        raise OutputError(_unusable(path.parent, error)) from error


def _unusable(folder: Path, error: OSError) -> str:
    return (
        f"{folder}: the folder for pieces cannot be used ({error.strerror or error}); no outputs were written. Make "
        "room there, or choose another folder that all workers can read and write (--scratch)."
    )
