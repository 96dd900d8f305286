"""The layout of a zip: whether every program that unpacks it finds the same files as this one."""

import zipfile
from pathlib import Path
from struct import Struct
from typing import IO, Final

__all__ = ["layout_problem", "other_name"]

# APPNOTE 4.3.7: the head of a file, without its signature
_LOCAL: Final = Struct("<4s2xHHHHLLLHH")
_LOCAL_MARK: Final = b"PK\x03\x04"
# APPNOTE 4.3.16: the end of the central directory, and 4.3.14 and 4.3.15 for zips beyond 4 GB
_END: Final = Struct("<4s4HLLH")
_END_MARK: Final = b"PK\x05\x06"
_END_64: Final = 56 + 20
# APPNOTE 4.3.9: sizes that follow a file written to a stream, with or without a signature
_FOLLOWS: Final = 1 << 3
_DESCRIPTORS: Final = (0, 12, 16, 20, 24)
_IN_EXTRA: Final = 0xFFFFFFFF
# APPNOTE 4.6.9: a name that some programs use in place of that of the entry, behind a version and a checksum
_FIELD: Final = Struct("<HH")
_OTHER_NAME: Final = 0x7075
_BEFORE_NAME: Final = 5


def layout_problem(path: Path, pack: zipfile.ZipFile) -> str:
    """Return what a zip has besides one file after the other and one directory of them; empty for nothing.

    Programs that unpack zips look for the directory from the end, from the start, or go from file to file. Only if
    nothing lies before, between and after the files do all of them find the same.
    """
    with path.open("rb") as source:
        at = 0
        for entry in sorted(pack.infolist(), key=lambda entry: entry.header_offset):
            found = _end_of(source, entry)
            if not _follows_on(entry.header_offset - at, is_first=at == 0):
                return f"{abs(entry.header_offset - at):,} bytes that belong to no file"
            if found is None:
                return f"another head before {entry.filename} than its directory states"
            at = found
        if not _follows_on(pack.start_dir - at, is_first=at == 0):
            return f"{abs(pack.start_dir - at):,} bytes that belong to no file"
        size = source.seek(0, 2)
        source.seek(max(size - _END.size, 0))
        end = source.read(_END.size)
    if len(end) < _END.size or not end.startswith(_END_MARK) or end[-2:] != b"\0\0":
        return "a comment, or bytes after its end"
    room = size - _END.size - pack.start_dir - int(_END.unpack(end)[5])
    return "" if room in {0, _END_64} or _END.unpack(end)[5] == _IN_EXTRA else "a second directory of its files"


def _follows_on(gap: int, *, is_first: bool) -> bool:
    return gap == 0 or (not is_first and gap in _DESCRIPTORS)


def _end_of(source: IO[bytes], entry: zipfile.ZipInfo) -> int | None:
    """Return where a file ends; None if the head before it says something else than the directory."""
    source.seek(entry.header_offset)
    head = source.read(_LOCAL.size)
    if len(head) < _LOCAL.size:
        return None
    mark, flags, method, _, _, crc, packed, size, name, extra = _LOCAL.unpack(head)
    stated = (crc, packed, size)
    wanted = (entry.CRC, entry.compress_size, entry.file_size)
    is_same = all(one in {other, _IN_EXTRA} for one, other in zip(stated, wanted, strict=True))
    is_later = bool(flags & _FOLLOWS) and not any(part and part != _IN_EXTRA for part in stated)
    if mark != _LOCAL_MARK or method != entry.compress_type or not (is_same or is_later):
        return None
    source.seek(int(name), 1)
    if other_name(source.read(extra), entry.filename):
        return None
    return entry.header_offset + _LOCAL.size + int(name) + int(extra) + entry.compress_size


def other_name(extra: bytes, name: str) -> bool:
    """Return whether the further fields of an entry give it another name than its own, or cannot be read."""
    at = 0
    while at + _FIELD.size <= len(extra):
        kind, size = _FIELD.unpack_from(extra, at)
        at += _FIELD.size
        if kind == _OTHER_NAME and extra[at + _BEFORE_NAME : at + size] != name.encode():
            return True
        at += size
    return at > len(extra)
