"""The GeoPackages of districts in a pack, compared with its tables, whatever version wrote them."""

from pathlib import Path

import geopandas as gpd

from pipeline.publish.districts import districts_with_cores, file_stems
from pipeline.publish.handover.by_district import district_packages
from pipeline.publish.handover.changes import CHANGES
from pipeline.publish.handover.compared import compare_layers, compare_points
from pipeline.publish.handover.drawn import PackContent, package_of
from pipeline.publish.handover.redrawn import MISSING
from pipeline.readback.pack_files import district_package, district_packages_in, has_district_packages
from pipeline.readback.pack_package import open_package, read_layers

__all__ = ["compare_districts"]


def compare_districts(folder: Path, content: PackContent) -> list[str]:
    """Return a problem for each that is missing, or does not hold the cells and points of its part of the tables."""
    if not has_district_packages(content.facts):
        return []
    expected = file_stems(districts_with_cores(content.tables["cores.csv"]["district"])).values()
    # before anything is cut: cells altered so that each core had a district of its own would take very long
    absent = {district_package(stem) for stem in expected} - {*district_packages_in(folder)}
    problems = [f"{name}: {MISSING}" for name in sorted(absent)]
    if problems:
        return problems
    for name, package in district_packages(package_of(content)):
        parts = {
            "cores.csv": package.cores,
            "findings.csv": package.findings,
            "rules.csv": package.rules,
            CHANGES: package.changes,
        }
        tables = {table: cells.reset_index(drop=True) for table, cells in parts.items() if cells is not None}
        with open_package(folder / name) as database:
            found = compare_layers(content._replace(tables=tables), database, name)
            if not found:
                points = gpd.GeoDataFrame(geometry=read_layers(database)["cores"].geometry, crs=content.crs)
                found = compare_points(content._replace(tables=tables, layers={"cores": points}), name)
        problems += found
    return problems
