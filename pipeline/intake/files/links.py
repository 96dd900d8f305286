"""Files that are links to other data, or another kind of file than their name says."""

import re
from pathlib import Path
from typing import Final

from pipeline.errors import InputError

__all__ = ["kind_of", "refuse_links"]

_HEAD: Final = 1 << 16
_BLOCK: Final = 1 << 23
_GZIP: Final = b"\x1f\x8b"
_MAGIC: Final = {
    b"SQLite format 3\x00": "an SQLite file such as a GeoPackage",
    b"fgb\x03": "a FlatGeobuf file",
    b"\x00\x00\x27\x0a": "a shapefile",
    b"PK\x03\x04": "a zip archive or an .xlsx workbook",
    b"PAR1": "a Parquet file",
    b"%PDF": "a PDF",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"GIF8": "a picture",
    _GZIP: "a gzip archive",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet (.xls)",
    b"\x7fELF": "a program",
}
# nothing can be read from these, whatever they are called
_TO_LOOK_AT: Final = ("a PDF", "a picture")
# what the first bytes have to be; other formats have no fixed beginning
_EXPECTED: Final = {
    ".gpkg": b"SQLite format 3\x00",
    ".sqlite": b"SQLite format 3\x00",
    ".db": b"SQLite format 3\x00",
    ".fgb": b"fgb\x03",
    ".shp": b"\x00\x00\x27\x0a",
}
_JSON: Final = {".json", ".geojson", ".topojson", ".geojsonl", ".geojsons", ".ndjson", ".jsonl"}
# descriptions of other data in XML, JSON and MapInfo's own words
_XML_LINK: Final = re.compile(
    rb"<(?:\w+:)?(?:OGRVRTDataSource|OGRVRTLayer|VRTDataset|OGRWFSDataSource|OGRGMLASDataSource|GDAL_WM[ST]S?|"
    rb"W[FM]S_Capabilities|WM[ST]_MS_Capabilities|NetworkLink)\b"
)
_JSON_LINK: Final = re.compile(rb'"gdal_streamed_alg"')
_JSON_DATA: Final = re.compile(rb'"(?:features|geometry|geometries|coordinates|objects)"\s*:')
_NEXT_PAGE: Final = re.compile(rb'"exceededTransferLimit"\s*:\s*true|"rel"\s*:\s*"next"')
_CRS_LINK: Final = re.compile(rb'"crs"\s*:\s*\{[^{}]*"link"', re.IGNORECASE)
_TAB_LINK: Final = re.compile(
    rb'\\IsSeamless"\s*=\s*"TRUE"|^\s*(?:open\s+table|create\s+view)\b|\btype\s+linked\b', re.IGNORECASE | re.MULTILINE
)


def refuse_links(path: Path, label: str) -> None:
    """Stop where a file names other data in place of holding its own, or is not what its ending says.

    Raises
    ------
    InputError
        The file is a link, one page of several, or of another kind than its name says.
    """
    if not path.is_file():
        return
    suffix = path.suffix.lower()
    with path.open("rb") as file:
        head = file.read(_HEAD)
        file.seek(max(path.stat().st_size - _HEAD, 0))
        tail = file.read(_HEAD)
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    if _is_link(text, suffix):
        raise InputError(
            f"{label}: this is a link to other data, not data. Save the data that it leads to as a file, and give the "
            "path of that file."
        )
    _refuse_other_kinds(head, suffix, label)
    if suffix in _JSON and text:
        _refuse_json_links(path, text, tail, label)


def _is_link(text: bytes, suffix: str) -> bool:
    """Return whether the beginning of a file describes where data lies."""
    if text.startswith(b"<"):
        links = {match[0] for match in _XML_LINK.finditer(text)}
        # an extract may have a link beside its own placemarks
        has_data = b"<Placemark" in text
        return bool(links) and not (has_data and all(b"NetworkLink" in link for link in links))
    if text.startswith(b"{"):
        is_index = b'"links"' in text and len(text) < _HEAD // 2 and not _JSON_DATA.search(text)
        return bool(_JSON_LINK.search(text)) or is_index
    return suffix == ".tab" and bool(_TAB_LINK.search(text))


def _refuse_other_kinds(head: bytes, suffix: str, label: str) -> None:
    """Stop where the first bytes belong to another format."""
    expected = _EXPECTED.get(suffix)
    if not head or (expected and head.startswith(expected)):
        return
    kind = kind_of(head)
    if kind in _TO_LOOK_AT:
        raise InputError(
            f"{label}: this is {kind}: no table and no layer can be read from it. Ask for the data itself, such as a "
            "workbook, a CSV file or a GeoPackage, and give the path of that file."
        )
    if kind == _MAGIC[_GZIP]:
        raise InputError(
            f"{label}: this is {kind}, which cannot be read. Unpack it, and give the path of the file in it."
        )
    if kind is not None:
        raise InputError(
            f"{label}: this is {kind}, not what {suffix!r} stands for. Give the file its proper extension."
        )


def kind_of(head: bytes) -> str | None:
    """Return what the first bytes of a file say that it is; None where they do not tell."""
    return next((what for magic, what in _MAGIC.items() if head.startswith(magic)), None)


def _refuse_json_links(path: Path, head: bytes, tail: bytes, label: str) -> None:
    """Stop where a JSON file is one page of several, or takes its CRS from elsewhere."""
    before = re.split(rb'"features"\s*:', head, maxsplit=1)[0]
    after = re.split(rb'"(?:Feature|geometry)"', tail)[-1]
    if _NEXT_PAGE.search(before) or _NEXT_PAGE.search(after):
        raise InputError(
            f"{label}: this is one page of several: it has a link to the next one. Save all pages as one file."
        )
    if _has(path, _CRS_LINK):
        raise InputError(
            f"{label}: its CRS is a link to other data; expected the name of the CRS. Save the layer again with its "
            'CRS by name, such as "urn:ogc:def:crs:EPSG::32617".'
        )


def _has(path: Path, pattern: re.Pattern[bytes]) -> bool:
    """Return whether a pattern is found in a file of any size."""
    kept = b""
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            if pattern.search(kept + block):
                return True
            # it may lie across the border of two blocks
            kept = block[-_HEAD:]
    return False
