"""OpenStreetMap extracts: the keys that a programme names, as columns."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import pyogrio

from pipeline.programme.settings import Layer

__all__ = ["osm_keys"]

# the keys that make a closed way an area instead of a line, as in GDAL's own configuration
_AREAS: Final = (
    "aeroway,amenity,boundary,building,craft,geological,historic,landuse,leisure,military,natural,office,place,shop,"
    "sport,tourism,highway=platform,public_transport=platform"
)
_SQL_WORDS: Final = {"AND", "OR", "NOT", "IS", "NULL", "IN", "LIKE", "ILIKE", "BETWEEN"}


@contextmanager
def osm_keys(path: Path, section: Layer, scratch: Path) -> Iterator[None]:
    """Let GDAL return the OpenStreetMap keys that the programme names as fields, not packed into one text."""
    if path.suffix.lower() not in {".pbf", ".osm"}:
        yield
        return
    words = [word for word in re.findall(r"[A-Za-z_][\w:]*", section.where or "") if word.upper() not in _SQL_WORDS]
    keys = dict.fromkeys([*section.columns.values(), "name", "highway", "surface", *words])
    keys.pop("osm_id", None)
    shape = f"osm_id=yes\nattributes={','.join(keys)}\nother_tags=yes\n"
    layers = ("points", "lines", "multipolygons", "multilinestrings", "other_relations")
    config = scratch / "osm.ini"
    config.write_text(
        f"closed_ways_are_polygons={_AREAS}\nattribute_name_laundering=no\n"
        + "".join(f"[{layer}]\n{shape}" for layer in layers),
        encoding="utf-8",
    )
    pyogrio.set_gdal_config_options({"OSM_CONFIG_FILE": str(config)})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options({"OSM_CONFIG_FILE": None})
