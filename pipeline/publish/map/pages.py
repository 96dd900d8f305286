"""The pages of a map: one for everything, or one per district and an index."""

from collections.abc import Iterator

from pipeline.clock import Counted, uncounted
from pipeline.publish.map.by_district import MapPlaces, views_by_district
from pipeline.publish.map.index_page import DistrictMap, district_map, draw_index
from pipeline.publish.map.page import MapInput, SharedParts, draw_map

__all__ = ["map_pages"]


def map_pages(
    view: MapInput,
    name: str,
    places: MapPlaces | None,
    shared: SharedParts | None = None,
    tell: Counted = uncounted,
) -> Iterator[tuple[str, str]]:
    """Give each page with the name of its file, as it is drawn.

    Parameters
    ----------
    view
        What a map of everything shows.
    name
        File of that map, or of the index.
    places
        Where the maps of districts are; None for one map of everything.
    shared
        From another map of everything.
    tell
        Is told how much of the map, or how many maps, are drawn.
    """
    if places is None:
        yield name, draw_map(view, shared, tell)
        return
    maps: list[DistrictMap] = []
    count = view.cores["district"].nunique(dropna=False)
    for part, shown in views_by_district(view, places):
        tell(len(maps), count, "maps")
        maps.append(district_map(part.name, part.stem, shown.cores))
        yield places.of(part.stem), draw_map(shown)
    yield name, draw_index(view, maps, places)
