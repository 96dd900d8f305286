"""The entries of a pack's zip: refused before anything is unpacked where they are not the plain files of one folder.

A zip says twice what it holds, and may say more than it holds: nothing that it states is believed, and what is unpacked
is counted.
"""

import re
import stat
import zipfile
from collections.abc import Iterable
from pathlib import Path, PurePosixPath
from typing import Final

from pipeline.errors import InputError
from pipeline.readback.pack_files import (
    MOST_FILES,
    is_district_map,
    is_district_package,
    pack_file,
    too_large_together,
)
from pipeline.readback.pack_zip import layout_problem, other_name
from pipeline.visible_text import visible

__all__ = ["NAME", "WHAT_TO_DO", "most_bytes", "unpack_entries"]

# a plain file name: no path, no drive, nothing that a terminal or shell would act on
NAME: Final = re.compile(r"[A-Za-z0-9][\w.-]*", re.ASCII)
WHAT_TO_DO: Final = "Give the complete folder handover, or handover.zip, as it was sent."
# bytes of checksums and their signature
_MOST_TEXT: Final = 50 << 20
# bytes that are unpacked at a time
_CHUNK: Final = 1 << 20
# the files of a pack come to a tenth or a fifth of their size; a zip that claims more is made to fill a disk
_MOST_RATIO: Final = 100
# bytes that are unpacked however small the zip is
_ALWAYS: Final = 16 << 20
# besides those of districts
_MOST_FILES: Final = 100
# APPNOTE 4.4.5: plain and deflated, which every program knows
_METHODS: Final = {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}
_IS_ENCRYPTED: Final = 1
# a program that unpacks as the administrator would give these rights to whoever runs the file
_AS_ANOTHER: Final = stat.S_ISUID | stat.S_ISGID
_NO_FOLDER: Final = re.compile(r"[\\/:*?\"<>|]|^[-~.]|[. ]$")


def most_bytes(name: str) -> int:
    """Return how many bytes a file of a pack has at most, by its name."""
    known = pack_file(name)
    return _MOST_TEXT if known is None else known.most_bytes


def unpack_entries(pack: zipfile.ZipFile, path: Path, folder: Path) -> None:
    """Unpack the files of a pack into a folder of our own.

    Raises
    ------
    InputError
        The zip has anything but the files of one folder, each once, or would unpack to far more than a pack.
    """
    entries = pack.infolist()
    for found in (_odd_entries(entries), _odd_size(entries, path), _layout(path, pack)):
        if found:
            raise InputError(f"{path}: {found}. {WHAT_TO_DO}")
    for entry in entries:
        if not entry.is_dir():
            _unpack_one(pack, entry, path, folder / PurePosixPath(entry.filename).name)


def _layout(path: Path, pack: zipfile.ZipFile) -> str:
    problem = layout_problem(path, pack)
    if not problem:
        return ""
    return (
        f"the zip has {problem}, expected the files of one folder and nothing else: other programs may find other "
        "files in it"
    )


def _odd_entries(entries: list[zipfile.ZipInfo]) -> str:
    """Return what the entries are besides plain files of one folder; empty for nothing."""
    files = [entry for entry in entries if not entry.is_dir()]
    names = [PurePosixPath(entry.filename).name for entry in files]
    of_districts = sum(is_district_map(name) or is_district_package(name) for name in names)
    if len(files) - of_districts > _MOST_FILES or len(entries) > MOST_FILES + 1:
        return f"{len(entries):,} files, more than any pack has"
    parts = [entry.filename.partition("/") for entry in entries]
    folders = {folder for folder, _, _ in parts}
    is_flat = bool(files) and all(
        slash and (not name if entry.is_dir() else NAME.fullmatch(name))
        for entry, (_, slash, name) in zip(entries, parts, strict=True)
    )
    folder = next(iter(folders), "")
    if not is_flat or len(folders) != 1 or not folder or _NO_FOLDER.search(folder) or visible(folder) != folder:
        return f"expected one folder of files, found {_some(entry.filename for entry in entries)}"
    # a program on Windows or a Mac finds one file where names differ by their case alone
    if len({entry.filename.casefold() for entry in files}) < len(files):
        return "two files have the same name, expected each once"
    return next(filter(None, map(_odd_entry, entries)), "")


def _odd_entry(entry: zipfile.ZipInfo) -> str:
    """Return why an entry is no plain file or folder; empty if it is one."""
    mode, method = entry.external_attr >> 16, entry.compress_type
    how = zipfile.compressor_names.get(method, f"method {method}")  # type: ignore[attr-defined]
    # a folder that is shared by a group has its mark
    as_another = mode & (stat.S_ISUID if entry.is_dir() else _AS_ANOTHER)
    problems = {
        "has another name besides, expected one": entry.orig_filename != entry.filename
        or other_name(entry.extra, entry.filename),
        "a link or device, expected a file": stat.S_IFMT(mode)
        not in {0, stat.S_IFDIR if entry.is_dir() else stat.S_IFREG},
        f"would run with another user's rights (mode {stat.S_IMODE(mode):o}), expected a plain file": as_another,
        "encrypted, expected a file that can be read without a password": entry.flag_bits & _IS_ENCRYPTED,
        f"packed by {how}, expected Deflate, as every program reads it": method not in _METHODS,
        "a folder that holds bytes, expected an empty entry": entry.is_dir() and entry.file_size,
    }
    return next((f"{entry.filename}: {problem}" for problem, is_so in problems.items() if is_so), "")


def _odd_size(entries: list[zipfile.ZipInfo], path: Path) -> str:
    """Return which file claims more bytes than it can have, or that all of them do; empty for none."""
    for entry in entries:
        if entry.file_size > most_bytes(PurePosixPath(entry.filename).name):
            return f"{entry.filename}: claims {entry.file_size:,} bytes, more than any such file"
    named = ((entry, PurePosixPath(entry.filename).name) for entry in entries)
    too_large = too_large_together(sum(entry.file_size for entry, name in named if is_district_package(name)))
    if too_large:
        return f"claims {too_large}"
    claimed, packed = sum(entry.file_size for entry in entries), path.stat().st_size
    if claimed > max(_MOST_RATIO * packed, _ALWAYS):
        return f"claims {claimed:,} bytes, more than the {packed:,} bytes of a pack's zip can hold"
    return ""


def _unpack_one(pack: zipfile.ZipFile, entry: zipfile.ZipInfo, path: Path, target: Path) -> None:
    left = entry.file_size
    with pack.open(entry) as source, target.open("wb") as unpacked:
        while part := source.read(_CHUNK):
            left -= len(part)
            if left < 0:
                raise InputError(f"{path}: {entry.filename}: holds more bytes than it claims. {WHAT_TO_DO}")
            unpacked.write(part)
    if left:
        raise InputError(f"{path}: {entry.filename}: holds fewer bytes than it claims. {WHAT_TO_DO}")


def _some(names: Iterable[str]) -> str:
    every = list(names)
    more = f" and {len(every) - 5} more" if len(every) > 5 else ""
    return ", ".join(every[:5]) + more if every else "nothing"
