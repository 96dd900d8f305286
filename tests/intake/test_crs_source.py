"""Where a CRS comes from, and what corrects it: no setting is advised that would have no effect."""

import numpy as np
import pandas as pd
import pytest
from pyproj import CRS

from pipeline.intake.crs_source import crs_cure, crs_source
from pipeline.intake.files.tables import RawTable
from pipeline.programme.settings import Layer

_UTM = CRS.from_epsg(32617)
_DATABASE = "postgresql:///?service=gis"


def _table(declared, srid=0):
    return RawTable(pd.DataFrame(), np.arange(0), 0, "roads", crs=declared, srid=srid)


@pytest.mark.parametrize(
    ("table", "section", "source", "cure"),
    [
        (
            _table(None), {"path": "roads.dxf", "crs": "EPSG:32617"},
            "EPSG:32617, as roads.crs says", "Check roads.crs and roads.path.",
        ),
        (
            _table(None), {"path": _DATABASE, "table": "roads", "crs": "EPSG:32617"},
            "EPSG:32617, as roads.crs says", "Check roads.crs and roads.table.",
        ),
        # what was declared was impossible, and the setting is used
        (
            _table(CRS.from_epsg(4326)), {"path": "roads.gpkg", "crs": "EPSG:32617"},
            "EPSG:32617, as roads.crs says", "Check roads.crs and roads.path.",
        ),
        (
            _table(_UTM), {"path": "roads.gpkg", "crs": "EPSG:4326"}, "EPSG:32617, as its file says",
            ("Check roads.path. If that CRS is wrong, export the file again with the right one; roads.crs is used only "
            "where the file has none."),
        ),
        (
            _table(_UTM, 32617), {"path": _DATABASE, "table": "roads"},
            "EPSG:32617, as its table says (SRID 32617)",
            ("Check roads.table. If that SRID is wrong, correct it with UpdateGeometrySRID in the database, or "
            "ST_SetSRID in roads.sql; roads.crs is used only where the shapes have no SRID."),
        ),
        (
            _table(_UTM, 900617), {"path": _DATABASE, "sql": "SELECT * FROM roads"},
            "EPSG:32617, as its query says (SRID 900617)",
            ("Check roads.sql. If that SRID is wrong, correct it with ST_SetSRID in roads.sql; roads.crs is used only "
            "where the shapes have no SRID."),
        ),
    ],
)  # fmt: skip
def test_a_crs_is_told_with_where_it_comes_from_and_what_corrects_it_there(table, section, source, cure):
    given = Layer(**section)
    assert crs_source(table, given, _UTM, "roads") == source
    assert crs_cure(table, given, _UTM, "roads") == cure
