"""Where the CRS of an input comes from, and what corrects a wrong one there."""

from pyproj import CRS

from pipeline.intake.crs import name_of
from pipeline.intake.files.tables import RawTable
from pipeline.programme.settings import Layer

__all__ = ["crs_cure", "crs_source"]


def crs_source(table: RawTable, section: Layer, crs: CRS, name: str) -> str:
    """Return a CRS with where it comes from: "EPSG:32617, as its table says (SRID 32617)"."""
    if not _is_own(table, crs):
        return f"{name_of(crs)}, as {name}.crs says"
    if not section.is_database:
        return f"{name_of(crs)}, as its file says"
    return f"{name_of(crs)}, as its {'table' if section.sql is None else 'query'} says (SRID {table.srid})"


def crs_cure(table: RawTable, section: Layer, crs: CRS, name: str) -> str:
    """Return what to do where a CRS may be wrong; a setting is not advised where the layer's own CRS is used."""
    if not _is_own(table, crs):
        return f"Check {name}.crs and {_where_read(section, name)}."
    check = f"Check {_where_read(section, name)}."
    if not section.is_database:
        return (
            f"{check} If that CRS is wrong, export the file again with the right one; {name}.crs is used only where "
            "the file has none."
        )
    in_query = f"ST_SetSRID in {name}.sql"
    cure = in_query if section.sql is not None else f"UpdateGeometrySRID in the database, or {in_query}"
    return (
        f"{check} If that SRID is wrong, correct it with {cure}; {name}.crs is used only where the shapes have no SRID."
    )


def _is_own(table: RawTable, crs: CRS) -> bool:
    """Return whether the CRS in use is the one that the layer itself has."""
    return table.crs is not None and table.crs.equals(crs)


def _where_read(section: Layer, name: str) -> str:
    """Return the setting that says what is read: the path of a file, the table or query of a database."""
    if not section.is_database:
        return f"{name}.path"
    return f"{name}.table" if section.sql is None else f"{name}.sql"
