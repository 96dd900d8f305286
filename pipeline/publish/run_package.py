"""What a run's own GeoPackage holds, and the same cut into one GeoPackage per district."""

from pathlib import Path
from typing import Final

from pipeline.clock import Counted
from pipeline.publish.geopackage.by_district import index_line, index_of, packages_by_district, with_counts
from pipeline.publish.geopackage.package import GeoPackage, write_geopackage
from pipeline.publish.item_units import in_units
from pipeline.publish.tables import rounded, write_csv
from pipeline.results import RunResult

__all__ = ["PACKAGES", "package_of_run", "write_packages_by_district"]

# folder of the GeoPackages of districts, and the table in it of what is where
PACKAGES: Final = "geopackage"
INDEX: Final = "index.csv"


def package_of_run(result: RunResult) -> GeoPackage:
    """Return what the run's own GeoPackage holds."""
    districts = result.inputs.districts
    return GeoPackage(
        cores=result.table,
        positions=result.cores,
        segments=with_counts(result.inputs.segments, "segment_id", result.counted_cores),
        districts=None if districts is None else with_counts(districts, "district", result.counted_cores),
        crs=result.inputs.crs,
        findings=result.audit.findings,
        orders=rounded(in_units(result.orders.lines, result.settings.orders.units)),
        title=result.settings.programme.name,
        as_of=result.as_of,
        works=result.works,
    )


def write_packages_by_district(package: GeoPackage, folder: Path, tell: Counted) -> None:
    """Write ``geopackage/``: a GeoPackage for each district that has cores, and a table of them.

    ``tell``: is told the files written.
    """
    (folder / PACKAGES).mkdir()
    lines = []
    parts = list(packages_by_district(package))
    for done, (part, content) in enumerate(parts):
        tell(done, len(parts), "files")
        write_geopackage(content, folder / PACKAGES / f"{part.stem}.gpkg")
        lines.append(index_line(f"{part.stem}.gpkg", part, content))
    write_csv(index_of(lines), folder / PACKAGES / INDEX)
