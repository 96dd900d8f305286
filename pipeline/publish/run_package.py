"""What a run's own GeoPackage holds, and the same cut into one GeoPackage per district."""

from collections.abc import Iterator
from pathlib import Path
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from pipeline.clock import Counted
from pipeline.contracts import NO_DISTRICT, STATUS_COUNTS, STATUSES, names_of
from pipeline.publish.districts import DistrictPart, cut_by_district
from pipeline.publish.geopackage.package import GeoPackage, write_geopackage
from pipeline.publish.item_units import in_units
from pipeline.publish.tables import rounded, write_csv
from pipeline.results import RunResult
from pipeline.works import ListedWorks, count_worst

__all__ = ["PACKAGES", "package_of_run", "with_counts", "write_packages_by_district"]

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


def write_packages_by_district(result: RunResult, package: GeoPackage, folder: Path, tell: Counted) -> None:
    """Write ``geopackage/``: a GeoPackage for each district that has cores, and a table of them.

    Each has the layers and styles of the run's own. The counts of segments and of the district are those of the cores
    in the file; those of works are of all their cores. ``tell``: is told the files written.
    """
    (folder / PACKAGES).mkdir()
    lines = []
    parts = list(_parts(result, package))
    for done, (part, content) in enumerate(parts):
        tell(done, len(parts), "files")
        write_geopackage(content, folder / PACKAGES / f"{part.stem}.gpkg")
        lines.append(_index_line(part, content))
    write_csv(pd.DataFrame(lines).astype({"district": "str"}), folder / PACKAGES / INDEX)


def _parts(result: RunResult, package: GeoPackage) -> Iterator[tuple[DistrictPart, GeoPackage]]:
    """Give each district and what its GeoPackage holds."""
    districts = package.districts
    if districts is None:
        raise ValueError("a GeoPackage per district needs districts")
    named = districts[districts["district"].notna()]
    for part in cut_by_district(package.cores, package.segments, named):
        cores = package.cores.iloc[part.cores]
        counted = result.cores.iloc[part.cores]
        counted = counted[~counted["is_copy"]]
        outline = named.iloc[part.shapes]
        findings, orders = package.findings, package.orders
        yield (
            part,
            package._replace(
                cores=cores,
                positions=package.positions.iloc[part.cores],
                segments=with_counts(result.inputs.segments.iloc[part.segments], "segment_id", counted),
                districts=None if part.name is None else outline,
                findings=None if findings is None else findings[findings["row"].isin(cores["row"])],
                orders=None if orders is None else orders[orders["district"].eq(part.name or NO_DISTRICT)],
                title=f"{package.title}, {part.name or NO_DISTRICT}",
                works=None if package.works is None else _works_of(package.works, cores, outline),
            ),
        )


def _works_of(works: ListedWorks, cores: pd.DataFrame, outline: gpd.GeoDataFrame) -> ListedWorks | None:
    """Return the works that touch a district or that one of its cores is in; None where there are none."""
    listed = works.cores[works.cores["row"].isin(cores["row"])]
    is_here = works.works["works_id"].isin(listed["works_id"]).to_numpy(copy=True)
    tree = shapely.STRtree(works.works.geometry.to_numpy())
    is_here[tree.query(outline.geometry.to_numpy(), predicate="intersects")[1]] = True
    return ListedWorks(works.works[is_here], listed) if is_here.any() else None


def _index_line(part: DistrictPart, content: GeoPackage) -> dict[str, object]:
    """Return what the table says of a file: its cores and their limits in degrees."""
    cores = content.cores[content.cores["copy_of"].isna()]
    status = cores["status"].value_counts()
    limits = {"west": cores["lon"].min(), "south": cores["lat"].min(), "east": cores["lon"].max()}
    return {
        "file": f"{part.stem}.gpkg",
        "district": part.name,
        "cores": len(cores),
        **{name: int(status.get(name, 0)) for name in STATUSES},
        "segments": len(content.segments),
        **limits,
        "north": cores["lat"].max(),
    }


def with_counts(layer: gpd.GeoDataFrame, key: str, cores: pd.DataFrame) -> gpd.GeoDataFrame:
    """Return a layer with the number of its cores by status, open, hazards, overdue; ``cores`` has each core once."""
    codes, known = pd.factorize(cores[key])
    status = pd.Index(STATUSES).get_indexer(pd.Index(cores["status"]))
    is_counted = (codes >= 0) & (status >= 0)
    cells = np.bincount(codes[is_counted] * len(STATUSES) + status[is_counted], minlength=len(known) * len(STATUSES))
    counts = pd.DataFrame(cells.reshape(-1, len(STATUSES)), known, list(names_of(STATUS_COUNTS)))
    counts = counts.join(count_worst(cores, cores[key]))
    joined = layer.drop(columns="start_m", errors="ignore").join(counts, on=key)
    return joined.fillna(dict.fromkeys(counts.columns, 0)).astype(dict.fromkeys(counts.columns, "int64"))
