"""Files as GDAL may open them: checked, unpacked, and where it would make files beside an input, in a folder apart."""

import shutil
from pathlib import Path
from typing import Final

from pipeline.intake.files.archives import is_archive, unpack
from pipeline.intake.files.databases import refuse_endless_views, refuse_links_in_database, settled_copy
from pipeline.intake.files.links import refuse_links
from pipeline.intake.files.truncation import refuse_cut_short

__all__ = ["staged"]

_DATABASES: Final = {".gpkg", ".sqlite", ".db"}
_MARKUP: Final = {".gml", ".xml"}


def staged(path: Path, label: str, scratch: Path) -> Path:
    """Return the file that GDAL may open for an input: the input itself, or one in ``scratch``.

    Raises
    ------
    InputError
        The input is a link to other data, is cut short, or is an archive that cannot be used.
    """
    if is_archive(path):
        path = unpack(path, label, scratch)
    refuse_links(path, label)
    refuse_cut_short(path, label)
    suffix = path.suffix.lower()
    if suffix in _DATABASES:
        path = settled_copy(path, label, scratch)
        refuse_links_in_database(path, label)
        refuse_endless_views(path, label)
    elif suffix in _MARKUP and path.parent != scratch:
        path = _apart(path, scratch)
    return path


def _apart(path: Path, scratch: Path) -> Path:
    """Return a link to a GML file, and to its schema, in a folder apart.

    GDAL keeps what it has learnt of a GML file in a file beside it, and believes one that it finds there.
    """
    for part in (path, path.with_suffix(".xsd")):
        if part.exists():
            try:
                (scratch / part.name).symlink_to(part)
            except OSError:  # not every system lets every user make links
                shutil.copyfile(part, scratch / part.name)
    return scratch / path.name
