"""The SRID of the shapes of a real PostgreSQL: which CRS it stands for, and what is told where it is wrong."""

import pytest
from pyproj import CRS

from pipeline.errors import InputError
from pipeline.intake.files.layers import read_raw
from pipeline.intake.placed_layer import place_layer, refuse_elsewhere
from pipeline.programme.settings import Layer


def test_shapes_of_several_srids_are_refused_with_how_many_have_each(database):
    database.run(
        "CREATE TABLE mixed AS SELECT n AS id, ST_SetSRID(ST_MakePoint(n, 1), CASE WHEN n < 4 THEN 0 ELSE 3879 END) AS geom "
        "FROM generate_series(1, 10) AS n"
    )
    with pytest.raises(InputError) as told:
        read_raw(Layer(path=database.address, table="mixed", key="id"), None, "roads", None)
    assert "its shapes have 2 SRIDs: 0 (3 rows), 3879 (7 rows); expected one." in str(told.value)


def test_an_srid_that_cannot_be_right_or_is_missing_is_refused_unless_the_crs_is_set(database):
    """Metres declared as degrees, and no SRID at all."""
    for table, srid, said in (
        ("wrong", 4326, r"the CRS is EPSG:4326, in degrees, but its coordinates extend from 478,010.*Set roads\.crs"),
        ("missing", 0, r"declares no CRS and none is set. Set roads\.crs"),
    ):
        database.run(
            f"CREATE TABLE {table} AS SELECT 1 AS id, ST_SetSRID('LINESTRING(478010 4963000, 478090 4963000)'::geometry, {srid}) "
            "AS geom"
        )
        given = {"path": database.address, "table": table, "key": "id"}
        for crs in (None, "EPSG:32617"):
            section = Layer(**given, crs=crs)
            raw = read_raw(section, None, "roads", None)
            if crs is None:
                with pytest.raises(InputError, match=said):
                    place_layer(raw, section, "roads", ("LineString",))
            else:
                assert place_layer(raw, section, "roads", ("LineString",)).crs == CRS.from_epsg(32617)


def test_an_srid_that_nobody_knows_is_told_by_its_number(database):
    database.run(
        "CREATE TABLE odd AS SELECT 1 AS id, ST_SetSRID('LINESTRING(478010 4963000, 478090 4963000)'::geometry, 910001) AS geom"
    )
    section = Layer(path=database.address, table="odd", key="id")
    raw = read_raw(section, None, "roads", None)
    with pytest.raises(InputError) as told:
        place_layer(raw, section, "roads", ("LineString",))
    assert str(told.value) == (
        f"{database.address}, table odd: its SRID, 910001, is not one that the database or this program knows, and "
        'roads.crs is not set. Set roads.crs to the CRS of its coordinates, such as "EPSG:32617".'
    )


def test_a_wrong_srid_is_told_by_its_number_with_what_corrects_it(database):
    """Degrees that say metres; the cure that is named works."""
    shape = "'POLYGON((-82.2 44.7, -82.1 44.7, -82.1 44.8, -82.2 44.7))'::geometry"
    database.run(
        f"CREATE TABLE wrong AS SELECT 1 AS id, ST_SetSRID({shape}, 32617) AS geom",
        "CREATE TABLE roads AS SELECT 1 AS id, ST_SetSRID('LINESTRING(-82.2 44.7, -82.1 44.8)'::geometry, 4326) AS geom",
    )

    def placed(name, kind, **given):
        section = Layer(path=database.address, key="id", **given)
        return place_layer(read_raw(section, None, name, None), section, name, (kind,))

    roads = placed("roads", "LineString", table="roads")
    with pytest.raises(InputError) as told:
        refuse_elsewhere(placed("surfaces", "Polygon", table="wrong"), roads)
    assert (
        "Its CRS is EPSG:32617, as its table says (SRID 32617); that of the roads is EPSG:4326, as its table says (SRID "
        "4326). Check surfaces.table."
    ) in str(told.value)
    assert "ST_SetSRID in surfaces.sql" in str(told.value)
    refuse_elsewhere(placed("surfaces", "Polygon", sql="SELECT id, ST_SetSRID(geom, 4326) AS geom FROM wrong"), roads)
