"""The formats of map layers: which of GDAL's drivers may open a file, and that nothing else is opened with it."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import pyogrio

# the only way to make a change to the list of drivers effective
from pyogrio._ogr import _register_drivers

from pipeline.errors import InputError

__all__ = ["drivers_for", "only_drivers"]

_JSON: Final = ("GeoJSON", "GeoJSONSeq", "ESRIJSON", "TopoJSON", "JSONFG")
_DRIVERS: Final = {
    ".gpkg": ("GPKG",),
    ".sqlite": ("SQLite",),
    ".db": ("SQLite",),
    ".shp": ("ESRI Shapefile",),
    ".dbf": ("ESRI Shapefile",),
    ".geojson": _JSON,
    ".json": _JSON,
    ".topojson": ("TopoJSON",),
    # a sequence of one feature is like any other GeoJSON
    ".geojsonl": ("GeoJSONSeq", "GeoJSON"),
    ".geojsons": ("GeoJSONSeq", "GeoJSON"),
    ".ndjson": ("GeoJSONSeq", "GeoJSON"),
    ".jsonl": ("GeoJSONSeq", "GeoJSON"),
    ".fgb": ("FlatGeobuf",),
    ".gdb": ("OpenFileGDB",),
    ".kml": ("LIBKML", "KML"),
    ".gml": ("GML",),
    ".xml": ("GML",),
    ".gpx": ("GPX",),
    ".tab": ("MapInfo File",),
    ".mif": ("MapInfo File",),
    ".osm": ("OSM",),
    ".pbf": ("OSM",),
    ".dxf": ("DXF",),
    ".dgn": ("DGN",),
    ".csv": ("CSV",),
    ".tsv": ("CSV",),
    ".txt": ("CSV",),
}
_OPTIONS: Final = {
    # no request leaves this computer: curl knows no proxy of this kind, and gives up before it connects
    "GDAL_HTTP_PROXY": "none://none",
    "GDAL_HTTPS_PROXY": "none://none",
    "GDAL_HTTP_MAX_RETRY": "0",
    "CPL_VSIL_CURL_ALLOWED_FILENAME": "none",
    "GML_DOWNLOAD_SCHEMA": "NO",
    "GML_SKIP_RESOLVE_ELEMS": "ALL",
    "GML_USE_SCHEMA_IMPORT": "NO",
    "LIBKML_RESOLVE_STYLE": "NO",
    "OGR_SQLITE_ALLOW_EXTERNAL_ACCESS": "NO",
    # nothing is written beside an input
    "GDAL_PAM_ENABLED": "NO",
    "SHAPE_RESTORE_SHX": "NO",
    # its own stream ends the process at a feature without geometry
    "OGR_FLATGEOBUF_STREAM_BASE_IMPL": "YES",
}
# GDAL has one list of drivers per process
_LOCK: Final = threading.RLock()


def drivers_for(path: Path, label: str) -> tuple[str, ...]:
    """Return GDAL's drivers for a file, by its extension.

    Raises
    ------
    InputError
        No format that can be read has this ending.
    """
    drivers = _DRIVERS.get(path.suffix.lower())
    if drivers is None:
        what = f"the extension {path.suffix!r}" if path.suffix else "no extension"
        raise InputError(
            f"{label}: found {what}; expected a map layer in one of: parquet, zip, kmz, "
            f"{', '.join(ending.removeprefix('.') for ending in _DRIVERS)}. Save the layer in one of these, or give "
            "the file its proper extension."
        )
    return drivers


@contextmanager
def only_drivers(drivers: tuple[str, ...], scratch: Path) -> Iterator[None]:
    """Let GDAL open files with these drivers alone, without the network, and with temporary files in ``scratch``.

    Raises
    ------
    RuntimeError
        GDAL kept other drivers.
    """
    with _LOCK:
        every = list(pyogrio.list_drivers())
        others = ",".join(name for name in every if name not in drivers)
        options = {**_OPTIONS, "CPL_TMPDIR": str(scratch), "GDAL_SKIP": others}
        before = {name: pyogrio.get_gdal_config_option(name) for name in options}
        pyogrio.set_gdal_config_options(options)
        try:
            _register_drivers()
            kept = set(pyogrio.list_drivers()) - set(drivers)
            if kept:
                raise RuntimeError(f"GDAL cannot be restricted to {', '.join(drivers)}: it kept {', '.join(kept)}")
            yield
        finally:
            # without a single driver first, so that they come back in the order in which GDAL asks them
            pyogrio.set_gdal_config_options({"GDAL_SKIP": ",".join(every)})
            _register_drivers()
            pyogrio.set_gdal_config_options(before)
            _register_drivers()
