"""A folder for copies of what is read, and what is said where there is none or its disk is full."""

import errno
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from pipeline.errors import InputError

__all__ = ["is_full", "refuse_full", "scratch_folder"]

_FULL: Final = (errno.ENOSPC, errno.EDQUOT)


@contextmanager
def scratch_folder(label: str) -> Iterator[Path]:
    """Give a folder for copies of an input, which is removed when the block ends; ``label`` names the input.

    Raises
    ------
    InputError
        No folder can be made, or its disk is full.
    """
    try:
        made = tempfile.TemporaryDirectory(prefix="kerfbook-", ignore_cleanup_errors=True)
    except OSError as error:
        raise InputError(
            f"{label}: no folder can be made for what is unpacked while it is read ({error.strerror or error}). Name "
            "one in TMPDIR."
        ) from error
    with made as folder:
        try:
            yield Path(folder)
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
