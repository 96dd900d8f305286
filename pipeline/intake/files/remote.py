"""Inputs that lie on the web or in a store, each fetched once into a private folder and then read like any file.

Which addresses may be opened is asked where a path becomes a file, many calls below the command that knows it: so it is
set for a block of code, and no connection is made outside such a block.
"""

import re
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final
from urllib.parse import unquote

from pipeline.clock import Told, silent
from pipeline.errors import InputError, OutputError
from pipeline.intake.files.object_stores import matching_objects, open_object, parts_in_store
from pipeline.intake.files.transfer import LostError, NotThereError, Stream
from pipeline.intake.files.web import open_web
from pipeline.programme.addresses import Address
from pipeline.scratch import is_full, temporary_folder

__all__ = ["Remote", "local_copy", "matching_addresses", "may_connect", "remote_inputs"]

_TRIES: Final = 3
_WAIT_S: Final = 1.0
# less than this in such a time is no transfer
_LEAST_BYTES: Final = 1 << 16
_WITHIN_S: Final = 60.0
_MB: Final = 1_000_000
_LONGEST_NAME: Final = 100
_LONGEST_ENDING: Final = 10
# the files beside one that are read with it: those that it cannot do without, and others
_BESIDE: Final = {
    ".shp": ((".shx", ".dbf"), (".prj", ".cpg")),
    ".dbf": ((), (".cpg",)),
    ".tab": ((), (".dat", ".map", ".id", ".ind")),
    ".mif": ((), (".mid",)),
    ".gml": ((), (".xsd",)),
}


@dataclass
class Remote:
    """What may be fetched, and what has been: copies, and errors, by address; ``told`` is told how much has come."""

    allowed: bool
    folder: Path | None = None
    told: Told = silent
    copies: dict[str, Path | InputError] = field(default_factory=dict)


_CURRENT: ContextVar[Remote | None] = ContextVar("remote", default=None)


@contextmanager
def remote_inputs(*, allowed: bool) -> Iterator[Remote]:
    """Let inputs be fetched in a block of code, if that is allowed; its copies are gone when it ends.

    Raises
    ------
    OutputError
        There is no folder for the copies.
    """
    with ExitStack() as stack:
        remote = Remote(allowed)
        if allowed:
            try:
                remote.folder = stack.enter_context(temporary_folder())
            except OSError as error:
                raise OutputError(
                    f"no folder can be made for what --allow-remote fetches ({error.strerror}). Name one in TMPDIR."
                ) from error
        token = _CURRENT.set(remote)
        try:
            yield remote
        finally:
            _CURRENT.reset(token)


def may_connect() -> bool:
    """Return whether inputs on other computers may be opened."""
    remote = _CURRENT.get()
    return remote is not None and remote.allowed


def local_copy(address: Address, name: str, key: str) -> Path:
    """Return the file or the folder of Parquet files that an address was fetched into.

    Parameters
    ----------
    address
        The address.
    name, key
        The section that names it and its key, for errors.

    Raises
    ------
    InputError
        It may not be opened, or cannot be fetched.
    """
    remote = _allowed(address, name, key)
    if address.full not in remote.copies:
        try:
            assert remote.folder is not None
            remote.copies[address.full] = _fetched(address, remote.folder / str(len(remote.copies)), remote.told)
        except InputError as error:
            # what cannot be had is not asked for again
            remote.copies[address.full] = error
        except OSError as error:
            remote.copies[address.full] = _no_room(address, error)
    found = remote.copies[address.full]
    if isinstance(found, InputError):
        raise found
    return found


def matching_addresses(address: Address, name: str, key: str = "path") -> list[Address]:
    """Return the objects of a store that a pattern stands for.

    Raises
    ------
    InputError
        The store may not be opened, or nothing in it matches.
    """
    _allowed(address, name, key)
    try:
        return matching_objects(address)
    except LostError as lost:
        raise InputError(f"{address}: {lost.why}. {lost.remedy}") from None


def _allowed(address: Address, name: str, key: str) -> Remote:
    """Return what may be fetched; stop where this address may not."""
    remote = _CURRENT.get()
    if not address.scheme or remote is None:
        raise InputError(
            f"{address}: this is the address of a web page, a database or a virtual file; expected the path of a file "
            f"on this computer. Save the data as a file and give its path in {name}.{key}."
        )
    if not remote.allowed:
        raise InputError(
            f"{address}: this is an address, and no connection is made unless it is asked for. Add --allow-remote to "
            f"the command, or save the data as a file and give its path in {name}.{key}."
        )
    return remote


def _fetched(address: Address, folder: Path, told: Told) -> Path:
    """Fetch what an address stands for, with the files that belong to it, into a folder of its own."""
    folder.mkdir()
    file = folder / _file_name(address)
    for name, part in [] if address.is_web else _parts(address):
        target = file / name
        target.parent.mkdir(parents=True, exist_ok=True)
        _fetch(part, target, told)
    if not file.exists():
        _fetch(address, file, told)
        _fetch_beside(address, file, told)
    return file


def _parts(address: Address) -> list[tuple[str, Address]]:
    try:
        return parts_in_store(address)
    except LostError as lost:
        raise InputError(f"{address}: {lost.why}. {lost.remedy}") from None


def _fetch_beside(address: Address, file: Path, told: Told) -> None:
    """Fetch the files beside one that are read with it."""
    needed, optional = _BESIDE.get(file.suffix.lower(), ((), ()))
    for ending in (*needed, *optional):
        # in capitals where the name of the file itself is
        own = ending.upper() if file.suffix.isupper() else ending
        beside = Address(re.sub(rf"{re.escape(file.suffix)}(?=$|[?#])", own, address.full, count=1))
        try:
            _fetch(beside, file.with_suffix(own), told)
        except NotThereError as error:
            if ending in needed:
                raise InputError(
                    f"{address}: its {own} is not beside it, or may not be read. Put the files that belong together "
                    "into one zip archive, and give the address of that."
                ) from error


def _fetch(address: Address, file: Path, told: Told) -> None:
    """Fetch one file; a connection that fails is tried again a few times, from the beginning."""
    opened = open_web if address.is_web else open_object
    for tries_left in reversed(range(_TRIES)):
        try:
            with opened(address) as stream:
                return _write(stream, file, address, told)
        except LostError as lost:
            if not tries_left:
                raise InputError(f"{address}: {lost.why}; tried {_TRIES} times. {lost.remedy}") from None
            time.sleep(_WAIT_S * (_TRIES - tries_left))
    return None


def _write(stream: Stream, file: Path, address: Address, told: Told) -> None:
    """Write what arrives to a file, and make sure that it is all."""
    size = stream.size
    if size is not None and size > shutil.disk_usage(file.parent).free:
        raise _no_room(address)
    done, mark, since = 0, 0, time.monotonic()
    try:
        with file.open("wb") as out:
            while block := stream.read():
                out.write(block)
                done += len(block)
                told(str(address), done // _MB, (size or 0) // _MB, "MB")
                if time.monotonic() - since > _WITHIN_S:
                    if done - mark < _LEAST_BYTES:
                        raise LostError("hardly anything arrives", "Run again later.")
                    mark, since = done, time.monotonic()
    except OSError as error:
        # a stream has errors of its own: this is the disk
        raise _no_room(address, error) from None
    if size is not None and done != size:
        raise LostError(f"only {done:,} of {size:,} bytes arrived", "Run again.")


def _no_room(address: Address, error: OSError | None = None) -> InputError:
    place = tempfile.gettempdir()
    if error is not None and not is_full(error):
        return InputError(
            f"{address}: cannot be kept in {place} while it is read ({error.strerror}). Name another folder in TMPDIR."
        )
    return InputError(
        f"{address}: does not fit on the disk of {place}, where inputs are kept while they are read. Free some space, "
        "or name a folder with more in TMPDIR."
    )


def _file_name(address: Address) -> str:
    """Return a name for the file that an address is fetched into, with the address's own ending."""
    name = address.rstrip("/").rpartition("/")[2]
    name = re.sub(r'[\x00-\x1f\x7f<>:"/\\|?*]', "_", unquote(name) if address.is_web else name)
    stem, dot, ending = (name.strip(". ") or "data").rpartition(".")
    if not dot or len(ending) > _LONGEST_ENDING:
        stem, ending = f"{stem}{dot}{ending}", ""
    # file systems take names of 255 bytes
    return stem.encode()[:_LONGEST_NAME].decode(errors="ignore") + (f".{ending}" if ending else "")
