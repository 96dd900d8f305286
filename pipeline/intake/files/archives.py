"""Zip archives: the one map layer inside, unpacked to a folder of the program's own."""

import lzma
import re
import shutil
import zipfile
import zlib
from pathlib import Path, PurePosixPath
from typing import Final

from pipeline.errors import InputError
from pipeline.scratch import refuse_full

__all__ = ["is_archive", "unpack"]

_MAPS: Final = (".shp", ".gpkg", ".geojson", ".fgb", ".gdb/", ".tab", ".gml", ".kml")
_ARCHIVES: Final = (".zip", ".kmz", ".7z", ".rar", ".tar", ".gz", ".tgz")
# text packs to a hundredth of its size at best, a bomb to a thousandth
_MOST_RATIO: Final = 200
_SMALL_BYTES: Final = 1 << 30


def is_archive(path: Path) -> bool:
    """Return whether a file is an archive that is unpacked before it is read."""
    return path.suffix.lower() in {".zip", ".kmz"}


def unpack(path: Path, label: str, scratch: Path) -> Path:
    """Return the one map file of an archive, unpacked with the files that belong to it.

    Raises
    ------
    InputError
        The archive cannot be read, has no map file or several, or would fill the disk.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            main = _the_one_map(archive, label)
            members = _members_of(archive, main)
            _refuse_excess(members, label, scratch)
            for member in members:
                # only names below the map's own folder are used, never the path in the archive
                inner = member.filename.removeprefix(main) if main.endswith("/") else ""
                target = scratch / PurePosixPath(main).name / inner if inner else scratch / _name(member)
                target.parent.mkdir(exist_ok=True)
                with archive.open(member) as packed, target.open("wb") as file:
                    shutil.copyfileobj(packed, file, 1 << 20)
    except (zipfile.BadZipFile, zlib.error, lzma.LZMAError, EOFError, OSError, RuntimeError, ValueError) as error:
        refuse_full(error, label)
        raise InputError(
            f"{label}: cannot be read as a zip archive ({error}). Zip the file again, or unpack it and give its path."
        ) from error
    return scratch / PurePosixPath(main).name


def _name(member: zipfile.ZipInfo) -> str:
    return PurePosixPath(member.filename).name


def _the_one_map(archive: zipfile.ZipFile, label: str) -> str:
    """Return the name of the one map file in an archive; a geodatabase is a folder."""
    names = [name for name in archive.namelist() if not name.startswith("__MACOSX")]
    outside = next((name for name in names if ".." in PurePosixPath(name).parts or name.startswith("/")), None)
    if outside is not None:
        raise InputError(
            f"{label}: the archive has a file named {outside!r}, whose path leads out of it; expected paths within the "
            "archive. Do not use this archive: ask for a new one."
        )
    whole = {re.sub(r"(\.gdb/).*", r"\1", name, flags=re.IGNORECASE) for name in names}
    found = sorted(name for name in whole if name.lower().endswith(_MAPS))
    if len(found) == 1:
        return found[0]
    inner = sorted(name for name in names if name.lower().endswith(_ARCHIVES))
    what = f"{len(found)} map files ({', '.join(found)})" if found else "no map file"
    if not found and inner:
        what += f", but another archive ({', '.join(inner)})"
    raise InputError(f"{label}: the archive has {what}; expected exactly one. Unpack it and give the path of the file.")


def _members_of(archive: zipfile.ZipFile, main: str) -> list[zipfile.ZipInfo]:
    """Return the files of a map: what lies in its folder, or has its name with other endings beside it."""
    files = [member for member in archive.infolist() if not member.is_dir()]
    if main.endswith("/"):
        # a geodatabase has no folders
        return [member for member in files if re.fullmatch(re.escape(main) + r"[^/\\]+", member.filename)]
    path = PurePosixPath(main)
    return [
        member
        for member in files
        if PurePosixPath(member.filename).parent == path.parent
        and PurePosixPath(member.filename).stem.casefold() == path.stem.casefold()
        # what GDAL once learnt of a GML file may no longer be so
        and (member.filename == main or not member.filename.lower().endswith((*_MAPS, ".gfs")))
    ]


def _refuse_excess(members: list[zipfile.ZipInfo], label: str, scratch: Path) -> None:
    """Stop where the files unpack to more than honest data would, or to more than the disk has room for."""
    size = sum(member.file_size for member in members)
    packed = sum(member.compress_size for member in members)
    if size > _SMALL_BYTES and size > _MOST_RATIO * packed:
        raise InputError(
            f"{label}: {packed:,} bytes unpack to {size / 1e9:,.1f} GB, far more than any map layer holds. Unpack it "
            "yourself if you trust it, and give the path of the file."
        )
    if size > shutil.disk_usage(scratch).free:
        raise InputError(
            f"{label}: unpacks to {size:,} bytes, more than are free in {scratch.parent}. Free some space, or "
            "unpack it elsewhere and give the path of the file."
        )
