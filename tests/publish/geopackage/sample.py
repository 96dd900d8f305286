"""Six cores, a segment, a district, a finding and an order in a GeoPackage, and ways to ask it."""

import sqlite3
import xml.etree.ElementTree as ET
from contextlib import closing

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from pipeline.contracts import CORE_COLUMNS
from pipeline.publish.geopackage.package import GeoPackage, write_geopackage
from pipeline.publish.tables import core_table

UTM = CRS.from_epsg(32617)
NASTY = """x"'); DROP TABLE cores; --]]></qgis><img src=x>&{{ 7 }}"""
# status and findings of six cores, and how each is drawn
CORES = [
    ("flagged", "size-implausible", "flagged"),
    ("flagged", "road-uncertain;size-implausible", "flagged, hollow"),
    ("pending", "", "pending"),
    ("pending", "cores-overlap;surface-uncertain", "pending, hollow"),
    ("reinstated", None, "reinstated"),
    ("reinstated", "district-uncertain", "reinstated, hollow"),
]
DRAWN = [drawn for _, _, drawn in CORES]


def cores_table(own=None):
    frame = pd.DataFrame({name: [1.0] * 6 for name in CORE_COLUMNS})
    frame = frame.assign(
        row=range(1, 7),
        core_id=list("ABCDEF"),
        status=[status for status, _, _ in CORES],
        findings=pd.Series([findings for _, findings, _ in CORES], dtype="str"),
        side=["left", "right", None, "left", "left", "left"],
        surface_from=["polygon", "segment", "register", "none", "none", "none"],
        state=["open", "plated", "interim", "back", "unknown", None],
        urgency=["hazard", "overdue", "quality", "record", None, None],
        street_matched="Quay",
        opened_on=pd.Timestamp("2026-09-01", tz="America/Toronto"),
        reinstated_at=pd.Series([pd.NaT] * 6, dtype="datetime64[us, America/Toronto]"),
    )
    return core_table(frame, pd.DataFrame(own or {}, index=frame.index))


def write(path, table=None, *, districts=("A",), findings=True, orders=True, **told):
    table = cores_table() if table is None else table
    places = pd.DataFrame({"x_m": [405000.0] * 5 + [np.nan], "y_m": [4961000.0] * 5 + [np.nan]})
    segments = gpd.GeoDataFrame(
        {"segment_id": ["S2", "S1"], "street": ["Quay", NASTY], "cores_flagged": [1, 1]},
        geometry=[shapely.LineString([(0, 0), (1, 1)])] * 2,
        crs=UTM,
    )
    outlines = gpd.GeoDataFrame(
        {"district": list(districts), "cores_flagged": 2, "cores_pending": 3, "cores_reinstated": 4},
        geometry=[shapely.box(0, 0, 1, 1)] * len(districts),
        crs=UTM,
    )
    found = pd.DataFrame(
        {
            "row": [1],
            "core_id": ["A"],
            "rule": ["size-implausible"],
            "severity": ["fail"],
            "message": [NASTY],
            "evidence": [""],
        }
    )
    lines = pd.DataFrame({"district": ["A"], "period": ["2026-W40"], "item": ["water"], "needed": [1.0]})
    content = GeoPackage(
        table, places, segments, outlines if districts else None, UTM, findings if isinstance(findings, pd.DataFrame) else found if findings else None,
        lines if orders else None, **told,
    )  # fmt: skip
    write_geopackage(content, path)
    return path


def ask(path, question, *answers):
    with closing(sqlite3.connect(path)) as database:
        # the one function of QGIS's expressions in our filters that SQLite calls by another name
        database.create_function("strpos", 2, lambda text, part: text.find(part) + 1)
        return database.execute(question, answers).fetchall()


def qml(path, layer):
    ((text,),) = ask(path, "SELECT styleQML FROM layer_styles WHERE f_table_name = ?", layer)
    return ET.fromstring(text)


def sld(path, layer):
    ((text,),) = ask(path, "SELECT styleSLD FROM layer_styles WHERE f_table_name = ?", layer)
    return ET.fromstring(text)
