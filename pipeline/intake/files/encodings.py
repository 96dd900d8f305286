"""Text files of any encoding as UTF-8, with line ends that are all alike."""

import codecs
import io
import re
import shutil
from collections import Counter
from pathlib import Path
from typing import Final

from pipeline.errors import InputError, SettingsError
from pipeline.programme.ranges import shortened
from pipeline.wording import counted

__all__ = ["as_utf8", "in_utf8", "with_line_feeds"]

_MAGIC: Final = {
    b"PK\x03\x04": "a zip archive or an .xlsx workbook",
    b"SQLite format 3": "an SQLite file such as a GeoPackage",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet (.xls)",
    b"%PDF": "a PDF",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"\x1f\x8b": "a gzip archive",
    b"PAR1": "a Parquet file",
    b"fgb\x03": "a FlatGeobuf file",
    b"\x7fELF": "a program",
}
# a file with more than one control character in this many is not text
_CONTROL_SHARE: Final = 1000
# slips, however short the file
_STRAY_CONTROLS: Final = 5
_DELIMITERS: Final = (b",", b";", b"\t", b"|")
_CONTROLS: Final = bytes([*range(9), *range(14, 32)])
# a byte that is not UTF-8, as Python marks it -> its letter in Windows-1252
_WINDOWS_1252: Final = {0xDC00 + byte: bytes([byte]).decode("cp1252", errors="replace") for byte in range(128, 256)}
_NOT_UTF8: Final = re.compile("[\udc80-\udcff]")
_OTHER_THAN_ASCII: Final = re.compile("[^\x00-\x7f\udc80-\udcff]")
# what Python can decode too, but nobody writes a table in: names of hosts, escapes in source code
_NO_ENCODINGS: Final = {"charmap", "idna", "punycode", "raw-unicode-escape", "undefined", "unicode-escape"}
# files beside a text with shapes, by which GDAL knows its types and its CRS
_BESIDE: Final = (".csvt", ".prj")


def as_utf8(raw: bytes, label: str, encoding: str | None, notices: list[str], section: str | None = "cores") -> bytes:
    """Return a text in UTF-8, read in the encoding that is set or else found.

    What is not UTF-8 in a file that no setting describes is read as Windows-1252, letter by letter: a few such lines
    in a file of UTF-8 spoil no other line, and no row is lost. ``section``: where its settings are, for errors; None
    where it has none of an encoding.

    Raises
    ------
    InputError
        The file is not text, or not in the encoding that is set.
    SettingsError
        There is no such encoding.
    """
    for magic, kind in _MAGIC.items():
        if raw.startswith(magic):
            raise InputError(
                f"{label}: this is {kind}, not text. Give the file its proper extension, or export it as CSV."
            )
    # the mark at the beginning is certain, whatever is set for the other files of the register
    if encoding is not None and not raw.startswith(codecs.BOM_UTF8):
        decoded = _decoded(raw, label, encoding, section).removeprefix("\ufeff")
        return decoded.replace("\x00", "\N{REPLACEMENT CHARACTER}").encode("utf-8", errors="replace")
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        text = raw.decode("utf-16", errors="replace").encode()
    else:
        text = raw.removeprefix(codecs.BOM_UTF8)
        try:
            if not text.isascii():
                text.decode("utf-8")
        except UnicodeDecodeError:
            text = _repaired(text, label, notices, section).encode()
    controls = len(text) - len(text.translate(None, _CONTROLS))
    if controls > _STRAY_CONTROLS and controls * _CONTROL_SHARE > len(text):
        raise InputError(f"{label}: this is a binary file, not text. Export it as CSV.")
    # other programs end a text at a NUL
    return text.replace(b"\x00", "\N{REPLACEMENT CHARACTER}".encode()) if controls else text


def in_utf8(path: Path, label: str, scratch: Path, notices: list[str]) -> Path:
    """Return a text for a reader that takes bytes as they are: itself, or a copy in UTF-8 with what lies beside it.

    Raises
    ------
    InputError
        The file is not text.
    """
    raw = path.read_bytes()
    text = as_utf8(raw, label, None, notices, section=None)
    if text == raw:
        return path
    copy = scratch / "utf8" / path.name
    copy.parent.mkdir()
    copy.write_bytes(text)
    for part in (path.with_suffix(end) for end in _BESIDE):
        if part.is_file():
            shutil.copyfile(part, copy.with_name(part.name))
    return copy


def _decoded(raw: bytes, label: str, encoding: str, section: str | None) -> str:
    """Return the text in the encoding that is set."""
    _refuse_unknown_encoding(encoding, section)
    try:
        return raw.decode(encoding)
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise InputError(
            f"{label}: line {line:,}: byte {error.start:,} is not {encoding}. Set {section}.encoding to that of the "
            "file."
        ) from error


def _refuse_unknown_encoding(encoding: str, section: str | None) -> None:
    try:
        # this does not take what makes bytes of bytes, such as zip
        io.TextIOWrapper(io.BytesIO(), encoding)
        known = codecs.lookup(encoding).name not in _NO_ENCODINGS
    except (LookupError, ValueError):
        # a name of odd characters is a ValueError
        known = False
    if not known:
        raise SettingsError(
            f'{section}.encoding: found {shortened(encoding)}, expected an encoding of text such as "utf-8" or '
            '"cp1252". Correct it.'
        )


def _repaired(raw: bytes, label: str, notices: list[str], section: str | None) -> str:
    """Return a text that is not UTF-8 throughout, and report where it is not."""
    text = raw.decode("utf-8", errors="surrogateescape")
    first = _NOT_UTF8.search(text)
    if first is not None and _OTHER_THAN_ASCII.search(text):
        line = text.count("\n", 0, first.start()) + 1
        more = sum(1 for part in text.split("\n")[line:] if _NOT_UTF8.search(part))
        also = f" and {counted(more, 'later line')}" if more else ""
        verb = "are" if more else "is"
        notices.append(
            f"{label}: line {line:,}{also} {verb} not UTF-8 like the rest; read as Windows-1252. Check the letters."
        )
    else:
        how = "Save it as UTF-8" if section is None else f"Set {section}.encoding"
        notices.append(f"{label}: not UTF-8, read as Windows-1252. {how} if letters look wrong.")
    return text.translate(_WINDOWS_1252)


def with_line_feeds(text: bytes, label: str, notices: list[str]) -> bytes:
    """Return a text whose lines all end in a line feed.

    A carriage return alone ends a line where the file has more of them than of other line ends, and where each part of
    the line has as many fields as the other lines. Elsewhere it is a slip inside a cell and is read as a blank.
    """
    if b"\r" not in text:
        return text
    text = text.replace(b"\r\n", b"\n")
    alone = text.count(b"\r")
    if alone == 0:
        return text
    if alone > text.count(b"\n"):
        return text.replace(b"\r", b"\n")
    text = _with_rows_apart(text)
    alone = text.count(b"\r")
    if alone == 0:
        return text
    line = text.count(b"\n", 0, text.index(b"\r")) + 1
    notices.append(
        f"{label}: line {line:,}: {counted(alone, 'carriage return')} inside a line read as a space."
        if alone == 1
        else f"{label}: {counted(alone, 'carriage return')} inside lines read as spaces, the first in line {line:,}."
    )
    return text.replace(b"\r", b" ")


def _with_rows_apart(text: bytes) -> bytes:
    """Return a text in which rows that only carriage returns separate are lines of their own."""
    lines = text.split(b"\n")
    for mark in _DELIMITERS:
        others = Counter(line.count(mark) for line in lines if b"\r" not in line and line.strip())
        usual = others.most_common(1)[0][0] if others else 0
        if not usual:
            continue
        for number, line in enumerate(lines):
            if b"\r" in line and all(part.count(mark) == usual for part in line.split(b"\r")):
                lines[number] = line.replace(b"\r", b"\n")
    return b"\n".join(lines)
