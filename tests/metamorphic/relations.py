"""What has to be the same when a town is moved, turned, mirrored, scaled, or drawn in another way: one check each.

=====================  =================================================================  ===========================
what is done           what is equal                                                      what may change
=====================  =================================================================  ===========================
moved, turned          everything                                                         digits below a micrometre
mirrored               everything else                                                    left becomes right
scaled with all        everything else                                                    lengths, by the scale
widths and reaches
segments reversed      segment, offset, confidence, surface, district                     the side turns; chainage
                                                                                          counts from the other end, of
                                                                                          places equally near from the
                                                                                          last instead of the first
segments cut, with     segment, offset, confidence, chainage                              side at the cut, and where
one id                                                                                    both lines are equally near
cores shuffled         everything, to the last bit                                        nothing
something far away     everything, to the last bit                                        nothing
added
names in another case  everything, to the last bit                                        nothing
=====================  =================================================================  ===========================

Of lines, polygons and districts equally near or likely the first of the layer counts, and the layer keeps its order here.
"""

import itertools

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from tests.metamorphic.towns import Move, Town, located, moved

_LENGTHS = (
    "chainage_m", "offset_m", "nearest_m", "district_distance_m", "surface_edge_m", "segment_length_m",
)  # fmt: skip
_EQUAL_M = 1e-6
_AMPLE_M = 50.0
_FLIPPED = {"left": "right", "right": "left"}


def same(found: pd.DataFrame, expected: pd.DataFrame) -> None:
    """Check that texts are equal, and numbers but for rounding."""
    pd.testing.assert_frame_equal(found, expected, check_exact=False, rtol=1e-7, atol=2e-6)


def moved_is_the_same(town: Town, move: Move, choose: str) -> None:
    expected = located(town, choose=choose)
    found = located(moved(town, move), 15 * move.scale, choose=choose)
    for name in _LENGTHS:
        found[name] /= move.scale
    found["segment_area_m2"] /= move.scale**2
    if move.is_mirrored:
        found["side"] = found["side"].map(_FLIPPED).astype("str")
    same(found, expected)


def reversed_is_the_same(town: Town, seed: int, choose: str) -> None:
    is_reversed = np.random.default_rng(seed).random(len(town.segments)) < 0.6
    shapes = np.asarray(town.segments.geometry.array)
    drawn = np.where(is_reversed, shapely.reverse(shapes), shapes)
    expected = located(town, choose=choose)
    found = located(town._replace(segments=town.segments.set_geometry(drawn)), choose=choose)
    turns = expected["segment"].ge(0) & is_reversed[expected["segment"].to_numpy()]
    for core in np.flatnonzero(turns):
        line = shapes[expected["segment"].iloc[core]]
        last = max(places_of(town.cores["x_m"].iloc[core], town.cores["y_m"].iloc[core], line))
        assert abs(found["chainage_m"].iloc[core] - (line.length - last)) < 2 * _EQUAL_M
    found["chainage_m"] = found["chainage_m"].mask(turns, expected["chainage_m"])
    found["side"] = found["side"].mask(turns, found["side"].map(_FLIPPED).astype("str"))
    same(found, expected)


def cut_is_the_same(town: Town, seed: int, choose: str) -> None:
    rng = np.random.default_rng(seed)
    rows, cuts = [], {}
    for row, line in zip(town.segments.to_dict("records"), town.segments.geometry):
        parts = _cut(line, rng)
        along = np.cumsum([0.0, *(part.length for part in parts)])
        cuts[row["segment_id"]] = along[1:-1]
        rows += [{**row, "geometry": part, "start_m": start} for part, start in zip(parts, along)]
    pieces = gpd.GeoDataFrame(pd.DataFrame(rows).astype(town.segments.drop(columns="geometry").dtypes), crs=32617)
    # of a segment in two lines, one may lie beyond the reach: where it counts for nothing all the same
    expected = located(town, _AMPLE_M, choose=choose)
    found = located(town._replace(segments=pieces), _AMPLE_M, choose=choose)
    # rows of the layer are other rows
    found["segment"] = expected["segment"].where(found["segment_id"].eq(expected["segment_id"]), found["segment"])
    unsure = [_is_unsure(core, town, expected, cuts) for core in range(len(town.cores))]
    found["side"] = found["side"].mask(unsure, expected["side"])
    same(found, expected)


def _cut(line: shapely.LineString, rng: np.random.Generator) -> list[shapely.LineString]:
    """Cut a line at a corner, or half way along a leg."""
    corners = shapely.get_coordinates(line)
    leg = rng.integers(len(corners) - 1)
    at = (corners[leg] + corners[leg + 1]) / 2
    if rng.random() < 0.5:
        at = corners[leg + 1]
    parts = [shapely.LineString([*corners[: leg + 1], at]), shapely.LineString([at, *corners[leg + 1 :]])] if (
        leg + 2 < len(corners) or (at != corners[-1]).any()
    ) else [line]  # fmt: skip
    return [part for part in parts if part.length > 0]


def _is_unsure(core: int, town: Town, expected: pd.DataFrame, cuts: dict[str, np.ndarray]) -> bool:
    """Return whether a core is as near to several places of its segment, or nearest to where it is cut."""
    if expected["segment"].iloc[core] < 0:
        return False
    line = town.segments.geometry.iloc[expected["segment"].iloc[core]]
    places = places_of(town.cores["x_m"].iloc[core], town.cores["y_m"].iloc[core], line)
    at_cut = [abs(place - cut) < 1e-3 for place in places for cut in cuts[expected["segment_id"].iloc[core]]]
    return max(places) - min(places) > 1e-3 or any(at_cut)


def places_of(x: float, y: float, line: shapely.LineString) -> list[float]:
    """Return how far along a line its places are that are nearest to a position: each leg by itself."""
    point = shapely.Point(x, y)
    corners = shapely.get_coordinates(line)
    legs = [shapely.LineString(pair) for pair in itertools.pairwise(corners)]
    start = np.cumsum([0.0, *(leg.length for leg in legs)])
    away = [leg.distance(point) for leg in legs]
    near = [at for at, far in enumerate(away) if far <= min(away) + _EQUAL_M]
    return [start[at] + legs[at].project(point) for at in near]


def shuffled_is_the_same(town: Town, seed: int, choose: str) -> None:
    order = np.random.default_rng(seed).permutation(len(town.cores))
    shuffled = located(town._replace(cores=town.cores.iloc[order]), choose=choose)
    pd.testing.assert_frame_equal(shuffled.loc[town.cores.index], located(town, choose=choose), check_exact=True)


def far_away_changes_nothing(town: Town, choose: str) -> None:
    """Everything once more, 100 km off, behind the town's own; of the districts, under other names."""
    far = moved(town, Move(np.eye(2), np.array([1e5, 1e5])))
    far = far._replace(districts=far.districts.assign(district="Far " + far.districts["district"]))
    layers = [
        pd.concat([own, other], ignore_index=True)
        for own, other in zip(town[1:], (far.segments.assign(segment_id="Z" + far.segments["segment_id"]), *far[2:]))
    ]
    cores = pd.concat([town.cores, far.cores], ignore_index=True)
    found = located(Town(cores, *layers), choose=choose).iloc[: len(town.cores)]
    pd.testing.assert_frame_equal(found, located(town, choose=choose), check_exact=True)


def case_changes_nothing(town: Town, choose: str) -> None:
    cores = town.cores.assign(
        street=town.cores["street"].str.swapcase(), surface_recorded=town.cores["surface_recorded"].str.upper()
    )
    pd.testing.assert_frame_equal(
        located(town._replace(cores=cores), choose=choose), located(town, choose=choose), check_exact=True
    )
