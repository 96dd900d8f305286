"""Files that were cut short: some formats still open, and give only some of their rows."""

from pathlib import Path

from pipeline.errors import InputError

__all__ = ["refuse_cut_short"]

_SQLITE, _SHAPE = b"SQLite format 3\x00", (9994).to_bytes(4, "big")
_HEAD = 100


def refuse_cut_short(path: Path, label: str) -> None:
    """Stop where a GeoPackage, or a part of a shapefile, is shorter than its own header says.

    Raises
    ------
    InputError
        The file is shorter than it says.
    """
    if not path.is_file():
        return
    parts = [path]
    if path.suffix.lower() == ".shp":
        # a name may hold the marks of a pattern
        beside = sorted(part for part in path.parent.iterdir() if part.stem == path.stem)
        parts += [part for end in (".shx", ".dbf") for part in beside if part.suffix.lower() == end]
    for part in parts:
        expected, size = _length_by_header(part), part.stat().st_size
        if size < expected:
            which = label if part == path else f"{label}: its {part.suffix}"
            raise InputError(f"{which}: the file is cut short ({size} bytes of {expected}). Copy or export it again.")


def _length_by_header(path: Path) -> int:
    """Return the length in bytes that the header states; 0 where it states none."""
    with path.open("rb") as file:
        head = file.read(_HEAD)
    if head.startswith(_SQLITE) and len(head) == _HEAD:
        page = int.from_bytes(head[16:18], "big")
        # the page count is valid only if the last change wrote it
        if head[24:28] == head[92:96]:
            return (65536 if page == 1 else page) * int.from_bytes(head[28:32], "big")
    elif head.startswith(_SHAPE):
        # shapefiles count words of two bytes
        return 2 * int.from_bytes(head[24:28], "big")
    elif path.suffix.lower() == ".dbf" and len(head) >= 32:
        records, header, record = (int.from_bytes(head[a:b], "little") for a, b in ((4, 8), (8, 10), (10, 12)))
        return header + records * record
    return 0
