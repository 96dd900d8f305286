"""A handover pack read back, from its folder or zip: its files and their checksums, and its identity."""

import errno
import hashlib
import os
import re
import stat
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from pipeline.contracts import STATUSES
from pipeline.errors import InputError
from pipeline.readback.json_text import parse_json
from pipeline.readback.pack_entries import NAME, WHAT_TO_DO, most_bytes, unpack_entries
from pipeline.readback.pack_files import MANIFEST
from pipeline.scratch import is_full, refuse_full, scratch_folder
from pipeline.wording import plain_reason

__all__ = [
    "copy_of",
    "open_pack",
    "read_identity",
    "read_sums",
    "sha256_of",
]

_LINE: Final = re.compile(rf"([0-9a-f]{{64}}) [ *]({NAME.pattern})", re.ASCII)
_CHUNK: Final = 1 << 20
# of rows: no file counts further
_MOST: Final = 1 << 53
_RUN: Final = "run.json"
_PACK: Final = "handover"
_NO_PACK: Final = f"Its run has no pack. Add {_PACK!r} to outputs in [publish], and run the audit again."


@contextmanager
def open_pack(path: Path) -> Iterator[Path]:
    """Give the folder with a pack's files; a zip is unpacked into a temporary folder, deleted at the end.

    Raises
    ------
    InputError
        There is no such pack, or the zip is damaged or would write outside its own folder.
    """
    try:
        is_folder, is_file = path.is_dir(), path.is_file()
        # a zip unpacks to a folder within a folder
        is_around = is_folder and not (path / MANIFEST).exists()
        inner = sorted(entry for entry in path.iterdir() if entry.is_dir()) if is_around else []
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror}). {WHAT_TO_DO}") from error
    if is_around and (path / _RUN).is_file():
        how = f"Give its folder {_PACK}, or {_PACK}.zip." if (path / _PACK).is_dir() else _NO_PACK
        raise InputError(f"{path}: the folder of a run, expected a pack. {how}")
    if is_folder:
        yield inner[0] if len(inner) == 1 else path
        return
    if not is_file:
        how = _NO_PACK if (path.parent / _RUN).is_file() else WHAT_TO_DO
        raise InputError(f"{path}: no such file or folder. {how}")
    with scratch_folder(str(path)) as unpacked:
        try:
            with zipfile.ZipFile(path) as pack:
                unpack_entries(pack, path, unpacked)
        except (OSError, ValueError, EOFError, zipfile.BadZipFile, zlib.error, RuntimeError) as error:
            refuse_full(error, str(path))
            raise InputError(f"{path}: not a readable zip ({error}). {WHAT_TO_DO}") from error
        yield unpacked


def copy_of(file: Path, target: Path) -> tuple[int, str]:
    """Copy a file of a pack, and return its bytes and SHA-256: what is checked is the copy, which nobody else changes.

    Raises
    ------
    InputError
        It is not a regular file (a link, folder, pipe or device), cannot be read, or is larger than any such file.
    OSError
        The disk of the copy is full.
    """
    most = most_bytes(file.name)
    size, digest = 0, hashlib.sha256()
    try:
        # a pipe would be waited for, and a link could lead anywhere
        opened = os.open(file, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
        with os.fdopen(opened, "rb") as source, target.open("wb") as copied:
            if not stat.S_ISREG(os.fstat(source.fileno()).st_mode):
                raise InputError(f"{file.name}: a pipe, device or folder, expected a file")
            while chunk := source.read(_CHUNK):
                size += len(chunk)
                if size > most:
                    raise InputError(f"{file.name}: larger than {most:,} bytes, which no such file of a pack is")
                digest.update(chunk)
                copied.write(chunk)
    except OSError as error:
        if is_full(error):
            # nothing is wrong with the file
            raise
        is_link = error.errno == errno.ELOOP
        why = "a link, expected a file" if is_link else f"cannot be read ({error.strerror})"
        raise InputError(f"{file.name}: {why}") from error
    return size, digest.hexdigest()


def sha256_of(file: Path) -> str:
    """Return the SHA-256 of a file."""
    with file.open("rb") as source:
        return hashlib.file_digest(source, "sha256").hexdigest()


def read_sums(file: Path) -> dict[str, str]:
    """Return the checksums by file name, as ``sha256sum`` writes them.

    Raises
    ------
    InputError
        The file is missing or empty, or a line of it is not a checksum and a name.
    """
    sums: dict[str, str] = {}
    # the same lines as sha256sum reads: a carriage return would belong to the name of a file
    *lines, rest = _text(file).split("\n")
    for number, line in enumerate([*lines, rest] if rest else lines, start=1):
        found = _LINE.fullmatch(line)
        if found is None or found[2] in sums:
            raise InputError(f"{file}: line {number}: expected a SHA-256 and a file name, each file once. {WHAT_TO_DO}")
        sums[found[2]] = found[1]
    if not sums:
        raise InputError(f"{file}: empty, expected one checksum per file. {WHAT_TO_DO}")
    return sums


def read_identity(file: Path) -> dict[str, Any]:
    """Return what ``handover.json`` holds: the run, its counts and its columns.

    Raises
    ------
    InputError
        It is missing, or lacks a name or a count, or has one of the wrong type.
    """
    try:
        identity = parse_json(_text(file))
        counts = [identity[name] for name in ("cores", *STATUSES, "unplaced", "findings")]
        # packs made before copies were told apart have a row per core
        counts.append(identity.get("rows", 0))
        texts = [identity[name] for name in ("programme", "as_of", "run", "crs")]
        # packs made before findings were followed do not state their columns
        texts += [*identity["columns"], *identity.get("columns_of_findings", [])]
        is_sound = all(type(count) is int and 0 <= count <= _MOST for count in counts) and all(
            isinstance(text, str) for text in texts
        )
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise InputError(f"{file}: cannot be used ({plain_reason(error)}). {WHAT_TO_DO}") from error
    if not is_sound:
        raise InputError(
            f"{file}: cannot be used (a name or a count has the wrong type, or no pack has as many). {WHAT_TO_DO}"
        )
    return dict(identity)


def _text(file: Path) -> str:
    try:
        if file.stat().st_size > (most := most_bytes(file.name)):
            raise InputError(f"{file}: larger than {most:,} bytes, which no such file of a pack is. {WHAT_TO_DO}")
        return file.read_bytes().decode("utf-8")
    except OSError as error:
        raise InputError(f"{file}: cannot be read ({error.strerror}). {WHAT_TO_DO}") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{file}: not UTF-8 text (byte {error.start}). {WHAT_TO_DO}") from error
