"""Small random towns, on whole metres or off them, and the same town moved, turned, mirrored, scaled or drawn otherwise.

On whole metres many cores lie on vertices, on shared edges, or as near to one road as to another. Moved by whole metres,
turned by right angles, mirrored or doubled, such a town stays exact, and so do its ties. Off them there are no ties, and any
angle and any distance will do.
"""

from typing import NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from hypothesis import strategies as st

from pipeline.locate import locate
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.settings import Matching

SIZE = 60
CATALOGUE = load_catalogue({}, "test")
_STREETS = ("Mill Lane", "Quay Road", "North Street", None)
_WRITTEN = ("Mill Lane", "Quay Rd", "north street", "Elsewhere", None)
_SURFACES = ("asphalt", "concrete", "block paving")


class Town(NamedTuple):
    """Cores, road segments (a row per line), surface polygons (smallest first) and districts, as intake leaves them."""

    cores: pd.DataFrame
    segments: gpd.GeoDataFrame
    surfaces: gpd.GeoDataFrame
    districts: gpd.GeoDataFrame


class Move(NamedTuple):
    """Where a town is moved to: ``turned`` (2 by 2) times each position, then ``by`` is added."""

    turned: np.ndarray
    by: np.ndarray

    @property
    def scale(self) -> float:
        """How much longer everything gets."""
        return float(np.sqrt(abs(np.linalg.det(self.turned))))

    @property
    def is_mirrored(self) -> bool:
        """Whether left becomes right."""
        return bool(np.linalg.det(self.turned) < 0)

    def of(self, shapes: np.ndarray) -> np.ndarray:
        """Return shapes where they are moved to."""
        return shapely.transform(np.asarray(shapes, dtype=object), lambda xy: xy @ self.turned.T + self.by)


def _texts(rng: np.random.Generator, words: tuple, count: int) -> pd.Series:
    return pd.Series([words[at] for at in rng.integers(len(words), size=count)], dtype="str")


def town_of(seed: int, lines: int, areas: int, cores: int, *, on_grid: bool) -> Town:
    """Return the town of that seed."""
    rng = np.random.default_rng(seed)

    def places(*shape: int) -> np.ndarray:
        if on_grid:
            # few different coordinates, so that much coincides
            return 2.0 * rng.integers(0, SIZE // 2 + 1, (*shape, 2))
        return rng.uniform(0, SIZE, (*shape, 2))

    roads = [shapely.LineString(_apart(places(rng.integers(2, 6)))) for _ in range(lines)]
    segments = gpd.GeoDataFrame(
        {
            "segment_id": pd.Series([f"S{at}" for at in range(lines)], dtype="str"),
            "street": _texts(rng, _STREETS, lines),
            "surface": _texts(rng, (*_SURFACES, None), lines),
            "half_width_m": rng.choice([2.5, 3.5, 6.0], lines),
            "is_underground": rng.random(lines) < 0.1,
            "start_m": 0.0,
            "class_name": "other",
            "road_authority": pd.Series([None] * lines, dtype="str"),
            "slope_percent": np.nan,
        },
        geometry=roads,
        crs=32617,
    )
    surfaces = gpd.GeoDataFrame(
        {"surface": _texts(rng, _SURFACES, areas)}, geometry=_boxes(places(areas, 2)), crs=32617
    )
    # no two have the same area: which of these comes first is for the layer's reader to decide
    surfaces = surfaces.loc[~surfaces.area.duplicated()]
    surfaces = surfaces.loc[surfaces.area.sort_values().index].reset_index(drop=True)
    districts = gpd.GeoDataFrame(
        {"district": pd.Series([f"D{at}" for at in range(areas)], dtype="str")},
        geometry=_boxes(places(areas, 2)),
        crs=32617,
    )
    return Town(_cores_of(places(cores), rng), segments, surfaces, districts)


def _apart(places: np.ndarray) -> np.ndarray:
    """Return the corners of a line, which has some length."""
    places[0] += [0, 2 * float((places == places[0]).all())]
    return places


def _boxes(corners: np.ndarray) -> list[shapely.Polygon]:
    low, high = corners.min(axis=1), corners.max(axis=1)
    high = np.where(high > low, high, low + 2)
    return list(shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1]))


def _cores_of(xy: np.ndarray, rng: np.random.Generator) -> pd.DataFrame:
    count = len(xy)
    return pd.DataFrame(
        {
            "x_m": xy[:, 0],
            "y_m": xy[:, 1],
            "position_accuracy_m": rng.choice([0.5, 2.0, 5.0, 8.0], count),
            "position_method": pd.Series([None] * count, dtype="str"),
            "register": "cores.csv",
            "accuracy_by_register_m": np.nan,
            "rounding_sigma_m": np.nan,
            "opened_on": pd.Series(pd.NaT, range(count), dtype="datetime64[us, UTC]"),
            "street": _texts(rng, _WRITTEN, count),
            "surface_recorded": _texts(rng, ("asphalt", "conc", None), count),
        }
    )


def moved(town: Town, move: Move) -> Town:
    """Return the town where it is moved to; widths, accuracies and heights go with its size."""
    xy = move.of(shapely.points(town.cores["x_m"], town.cores["y_m"]))
    cores = town.cores.assign(
        x_m=shapely.get_x(xy),
        y_m=shapely.get_y(xy),
        position_accuracy_m=town.cores["position_accuracy_m"] * move.scale,
    )
    layers = [layer.set_geometry(move.of(layer.geometry.array), crs=layer.crs) for layer in town[1:]]
    roads = layers[0].assign(
        half_width_m=layers[0]["half_width_m"] * move.scale, start_m=layers[0]["start_m"] * move.scale
    )
    return Town(cores, roads, *layers[1:])


def located(town: Town, reach_m: float = 15.0, **matching: object) -> pd.DataFrame:
    """Return where the cores of a town are found.

    ``reach_m``: of all cores, whatever their errors: what a wide road adds is in metres, and does not grow with a town.
    """
    reaches = {"max_distance_m": reach_m, "max_reach_m": reach_m, "district_gap_m": reach_m / 3}
    settings = Matching(learn=False, **matching).model_copy(update=reaches)
    return locate(town.cores, town.segments, town.surfaces, town.districts, settings, CATALOGUE).frame


def towns(*, on_grid: bool | None = None) -> st.SearchStrategy[Town]:
    """Draw a town: the seed is drawn as it comes, and the town gets smaller where a test fails."""
    return st.builds(
        lambda seed, lines, areas, cores, grid: town_of(seed, lines, areas, cores, on_grid=grid),
        st.integers(0, 2**32 - 1),
        st.integers(1, 6),
        st.integers(1, 5),
        st.integers(1, 25),
        st.booleans() if on_grid is None else st.just(on_grid),
    )


QUARTER = np.array([[0.0, -1.0], [1.0, 0.0]])
FLIP = np.array([[-1.0, 0.0], [0.0, 1.0]])


def exact_moves() -> st.SearchStrategy[Move]:
    """Draw moves that leave whole metres whole: by whole metres, by right angles, over an axis, to twice the size."""
    return st.builds(
        lambda turns, flips, doubled, east, north: Move(
            2.0**doubled * np.linalg.matrix_power(QUARTER, turns) @ np.linalg.matrix_power(FLIP, flips),
            np.array([east, north], dtype=float),
        ),
        st.integers(0, 3),
        st.integers(0, 1),
        st.integers(0, 2),
        st.integers(-400_000, 400_000),
        st.integers(-6_000_000, 6_000_000),
    )


def any_moves() -> st.SearchStrategy[Move]:
    """Draw moves by any distance and any angle, over an axis, to half or four times the size."""

    def move(angle: float, flips: int, scale: float, by: tuple[float, float]) -> Move:
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        return Move(scale * turn @ np.linalg.matrix_power(FLIP, flips), np.array(by))

    far = st.floats(-500_000, 500_000, allow_subnormal=False)
    return st.builds(move, st.floats(0, 6.3), st.integers(0, 1), st.floats(0.5, 4), st.tuples(far, far))
