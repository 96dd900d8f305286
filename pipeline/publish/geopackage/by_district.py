"""A GeoPackage cut into one per district, from what it holds itself: of a run, and of a pack."""

from collections.abc import Iterator
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from pipeline.audit.worst import count_worst
from pipeline.contracts import NO_DISTRICT, PACKAGE_INDEX, STATUS_COUNTS, STATUSES, WORST_COUNTS, names_of
from pipeline.publish.districts import DistrictPart, cut_by_district, places_by
from pipeline.publish.geopackage.package import GeoPackage
from pipeline.works import ListedWorks

__all__ = ["index_line", "index_of", "packages_by_district", "with_counts"]

_COUNTS: Final = names_of((*STATUS_COUNTS, *WORST_COUNTS))


def packages_by_district(package: GeoPackage) -> Iterator[tuple[DistrictPart, GeoPackage]]:
    """Give each district that has cores, and what its GeoPackage holds; cores in no district have one of their own.

    Each has the layers and styles of the whole. The counts of segments and of the district are those of the cores in
    it; those of works are of all their cores. A change is where its core is, that of a removed core in the district it
    was in, if that still has cores.

    Parameters
    ----------
    package
        The whole; it has districts. ``cores``: with ``copy_of``, and what ``cut_by_district`` asks for.
    """
    districts = package.districts
    if districts is None:
        raise ValueError("a GeoPackage per district needs districts")
    named = districts[districts["district"].notna()]
    parts = cut_by_district(package.cores, package.segments, named)
    of_core = np.empty(len(package.cores), dtype=np.intp)
    for number, part in enumerate(parts):
        of_core[part.cores] = number
    by_row = pd.Series(of_core, package.cores["row"].to_numpy())
    findings = _cut(package.findings, "row", by_row, parts)
    changes = _cut(package.changes, "row_after", by_row, parts)
    for number, part in enumerate(parts):
        cores, orders = package.cores.iloc[part.cores], package.orders
        outline = named.iloc[part.shapes]
        yield (
            part,
            package._replace(
                cores=cores,
                positions=package.positions.iloc[part.cores],
                segments=_recounted(package.segments.iloc[part.segments], cores[cores["copy_of"].isna()]),
                districts=None if part.name is None else outline,
                findings=findings[number],
                orders=None if orders is None else orders[orders["district"].eq(part.name or NO_DISTRICT)],
                changes=changes[number],
                title=f"{package.title}, {part.name or NO_DISTRICT}",
                works=None if package.works is None else _works_of(package.works, cores, outline),
            ),
        )


def _cut(
    table: pd.DataFrame | None, key: str, by_row: pd.Series, parts: list[DistrictPart]
) -> list[pd.DataFrame] | list[None]:
    """Return for each part the lines of its cores; a line without a core goes by its own district."""
    if table is None:
        return [None] * len(parts)
    of_line = table[key].map(by_row)
    if "district" in table:
        by_name = {part.name: number for number, part in enumerate(parts)}
        is_named = table["district"].notna()
        elsewhere = table["district"].map(by_name).where(is_named, by_name.get(None, -1))
        of_line = of_line.where(table[key].notna(), elsewhere)
    places = places_by(of_line.fillna(-1).to_numpy(dtype=np.intp), len(parts))
    return [table.iloc[here] for here in places]


def _recounted(segments: gpd.GeoDataFrame, cores: pd.DataFrame) -> gpd.GeoDataFrame:
    return with_counts(segments.drop(columns=[*_COUNTS], errors="ignore"), "segment_id", cores)


def _works_of(works: ListedWorks, cores: pd.DataFrame, outline: gpd.GeoDataFrame) -> ListedWorks | None:
    """Return the works that touch a district or that one of its cores is in; None where there are none."""
    listed = works.cores[works.cores["row"].isin(cores["row"])]
    is_here = works.works["works_id"].isin(listed["works_id"]).to_numpy(copy=True)
    tree = shapely.STRtree(works.works.geometry.to_numpy())
    is_here[tree.query(outline.geometry.to_numpy(), predicate="intersects")[1]] = True
    return ListedWorks(works.works[is_here], listed) if is_here.any() else None


def index_of(lines: list[dict[str, object]]) -> pd.DataFrame:
    """Return the table of the GeoPackages, from the line of each; without cores there are none."""
    table = pd.DataFrame(lines, columns=[*names_of(PACKAGE_INDEX)])
    return table.astype({"file": "str", "district": "str"})


def index_line(file: str, part: DistrictPart, content: GeoPackage) -> dict[str, object]:
    """Return what the table of the GeoPackages says of a file: its cores and their limits in degrees."""
    cores = content.cores[content.cores["copy_of"].isna()]
    status = cores["status"].value_counts()
    limits = {"west": cores["lon"].min(), "south": cores["lat"].min(), "east": cores["lon"].max()}
    return {
        "file": file,
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
