"""Names under ``[plan]`` and ``[[crews]]`` that match nothing in the data or the programme; yards that lie nowhere."""

from collections.abc import Iterable, Iterator, Mapping

import geopandas as gpd
import numpy as np
import pandas as pd
from pyproj import CRS

from pipeline.errors import SettingsError
from pipeline.intake.crs import name_of, to_crs
from pipeline.intake.unmatched import district_names, yard_names
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.names import as_known, did_you_mean, listed
from pipeline.programme.settings import Settings

__all__ = ["refuse_nowhere", "unmatched_crews"]


def refuse_nowhere(places: Mapping[str, tuple[float, float]], crs: CRS, key: str) -> None:
    """Stop where one of some places, in degrees, has no position in the run's CRS; ``key``: that which names them.

    Raises
    ------
    SettingsError
        One has none.
    """
    for name, (lon, lat) in places.items():
        if np.isnan(to_crs(np.array([lon]), np.array([lat]), CRS.from_epsg(4326), crs)).any():
            raise SettingsError(
                f'{key}."{name}": found [{lon:g}, {lat:g}], so far from the roads that {name_of(crs)} has no place for '
                "it. Correct it: longitude first, then latitude, in degrees."
            )


def unmatched_crews(
    settings: Settings, catalogue: Catalogue, segments: gpd.GeoDataFrame, districts: gpd.GeoDataFrame | None
) -> list[str]:
    """Return a notice for each name of the plan and its crews that matches nothing.

    Parameters
    ----------
    settings
        The programme.
    catalogue
        The surfaces and classes of road.
    segments, districts
        The layers as read; None where the programme has no such layer.
    """
    return [
        f'{key}: no {noun} is called "{name}", so {consequence}.{did_you_mean(name, known)} Known: {listed(known)}.'
        for key, names, known, noun, consequence in _names(settings, catalogue, segments, district_names(districts))
        for name in names
        if as_known(name, known) is None
    ]


def _names(
    settings: Settings, catalogue: Catalogue, segments: gpd.GeoDataFrame, districts: list[str]
) -> Iterator[tuple[str, Iterable[str], list[str], str, str]]:
    """Yield the key, its names, the names that are known, the noun for them, and what follows without a match."""
    plan = settings.plan
    supplying = dict.fromkeys([*yard_names(settings.orders, None), *map(settings.orders.yard_of, districts)])
    yards = [*dict.fromkeys([*supplying, *plan.yards])]
    for crew in settings.crews:
        key = f'crews "{crew.name}"'
        yield f"{key}.districts", crew.districts, districts, "district", "the crew does not work there"
        yield f"{key}.surfaces", crew.surfaces, [*catalogue.surfaces], "surface", "it adds no core to its work"
        yard = [] if crew.yard is None else [crew.yard]
        yield f"{key}.yard", yard, yards, "yard", "its days start in the middle of its cores"
    used = [*supplying, *(crew.yard for crew in settings.crews if crew.yard)]
    yield "plan.yards", plan.yards, used, "yard of a district or a crew", "no day starts from there"
    classes = [*catalogue.roads]
    yield "plan.weights.road_class", plan.weights.road_class, classes, "class of road", "it has no effect"
    in_layers = {
        "street": _distinct(segments["street"]),
        "road_class": _distinct(segments["class_name"]),
        "road_authority": _distinct(segments["road_authority"]),
        "district": districts,
    }
    for number, closed in enumerate(plan.no_work, start=1):
        for name, value in closed.scope.items():
            noun = name.replace("_", " ")
            yield f"plan.no_work no. {number}.{name}", [value], in_layers[name], noun, "it has no effect"


def _distinct(names: pd.Series) -> list[str]:
    """Return the names of a column, the most frequent first."""
    return [str(name) for name in names.str.strip().value_counts().index]
