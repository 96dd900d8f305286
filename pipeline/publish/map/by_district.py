"""One map per district: what each shows of a map that would be too large to open well."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.contracts import NO_DISTRICT
from pipeline.publish.districts import DistrictPart, cut_by_district, districts_with_cores, file_stems, places_by
from pipeline.publish.map.page import MapInput
from pipeline.publish.words import Words, title_text, words_of

__all__ = ["IN_FOLDER", "IN_PACK", "MAPS", "MapPlaces", "maps_of", "title_of", "views_by_district"]

MAPS: Final = "maps"


@dataclass(frozen=True)
class MapPlaces:
    """Where the maps of districts are: ``file`` with the stem in braces, and the ways back to the index and report."""

    file: str
    to_index: str
    to_report: str

    def of(self, stem: str) -> str:
        """Return the address of a district's map, from the folder of the index."""
        return self.file.format(stem)


# a pack is one folder, so that every program can check and unpack it
IN_FOLDER: Final = MapPlaces(f"{MAPS}/{{}}.html", "../map.html", "../report.html")
IN_PACK: Final = MapPlaces("map-{}.html", "map.html", "")


def maps_of(cores: pd.DataFrame, places: MapPlaces) -> dict[str | None, str]:
    """Return the address of the map of each district of N cores, each once; None: of those in no district."""
    stems = file_stems(districts_with_cores(cores["district"]))
    return {name: places.of(stem) for name, stem in stems.items()}


def title_of(programme: str, district: str | None, words: Words) -> str:
    """Return the title of a district's map."""
    shown = words.plainly("format.no_district") if district is None else title_text(district)
    return words.plainly("district_maps.title", name=title_text(programme), district=shown)


def views_by_district(view: MapInput, places: MapPlaces) -> Iterator[tuple[DistrictPart, MapInput]]:
    """Give each district that has cores, and what its map shows; cores in no district have a map of their own.

    Each core, finding and change is in one map, that of the core's district; segments and works are in each that they
    touch.

    Parameters
    ----------
    view
        What a map of everything would show; it has districts.
    places
        Where the maps are.
    """
    districts = view.districts
    if districts is None:
        raise ValueError("a map per district needs districts")
    named = districts[districts["district"].notna()]
    shapes = named if view.segments.crs is None else named.to_crs(view.segments.crs)
    parts = cut_by_district(view.cores, view.segments, shapes)
    of_core = np.empty(len(view.cores), dtype=np.intp)
    for number, part in enumerate(parts):
        of_core[part.cores] = number
    by_row = pd.Series(of_core, view.cores["row"].to_numpy())
    findings, changes, listed = (
        _by_part(table, by_row, len(parts)) for table in (view.findings, view.changes, view.in_works)
    )
    words = words_of(view.language)
    for number, part in enumerate(parts):
        cores = view.cores.iloc[part.cores]
        in_works = None if view.in_works is None else view.in_works.iloc[listed[number]]
        outline = named.iloc[part.shapes]
        yield (
            part,
            replace(
                view,
                title=title_of(view.title, part.name, words),
                cores=cores,
                findings=view.findings.iloc[findings[number]],
                changes=None if view.changes is None else view.changes.iloc[changes[number]],
                segments=view.segments.iloc[part.segments],
                districts=None if part.name is None else outline,
                orders=None
                if view.orders is None
                else view.orders[view.orders["district"].eq(part.name or NO_DISTRICT)],
                unplaced=int((cores["lon"].isna() | cores["lat"].isna()).sum()),
                works=None if view.works is None else _works_of(view.works, in_works, outline),
                in_works=in_works,
                to_index=places.to_index,
                report=places.to_report,
            ),
        )


def _by_part(table: pd.DataFrame | None, by_row: pd.Series, count: int) -> list[npt.NDArray[np.intp]]:
    """Return for each part the places of its rows in a table about cores."""
    if table is None:
        return []
    return places_by(table["row"].map(by_row).fillna(-1).to_numpy(dtype=np.intp), count)


def _works_of(works: gpd.GeoDataFrame, in_works: pd.DataFrame | None, outline: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return the works that touch a district, or that one of its cores is in."""
    is_listed = works["works_id"].isin([] if in_works is None else in_works["works_id"])
    touched = shapely.STRtree(works.geometry.to_numpy()).query(outline.geometry.to_numpy(), predicate="intersects")[1]
    is_listed.iloc[touched] = True
    return works[is_listed]
