"""Make the register of two invented crews whose positions differ in accuracy: the same bytes on every run.

Usage: python make_cores.py [FOLDER]   (without a folder, the files are written beside this script)
"""

import datetime as dt
import math
import sys
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import shapely

_HERE = Path(__file__).parent
# cores per crew, and the radius in metres that contains 95 % of the errors of its positions
_CREWS = {"Crew North": (200, 0.3), "Crew South": (200, 12.0)}
# radius over standard deviation along one axis, of a round normal
_RADIUS = math.sqrt(-2 * math.log(0.05))
# of the street names written, and of all cores
_RIGHT_NAMES, _BLANK_NAMES = 0.92, 0.4
# so many cores lie at a junction: up to so many metres from the end of a segment
_AT_JUNCTIONS, _JUNCTION_M = 0.5, 15.0
# metres: between two cores, and half the width of a carriageway without a width
_APART, _HALF_WIDTH = 4.0, 4.0
# the main that all were cut for runs in the middle of the road: up to this share of the half width
_MIDDLE = 0.35
_FIRST_DAY, _LAST_DAY = dt.date(2024, 4, 2), dt.date(2025, 10, 31)
# a pilot hole of 38 mm, a kerf of 9 mm, a bed of 12.7 mm, 10.2 L per bag, 20 % over
_PILOT_MM, _KERF_MM, _BED_MM, _BAG_L, _OVER = 38, 9, 12.7, 10.2, 1.2
_DIAMETER_MM = 457
_DARK = ("asphalt", "asph", "ac", "hma", "tarmac", "bitmac", "composite")
_PALE = ("concrete", "pcc", "conc.")
# these lie in no district or in two, and concern other samples
_UNCLEAR_STREETS = ("Plum Avenue", "Clover Avenue")
_COLUMNS = ["id", "lon", "lat", "dia", "depth", "road", "crew", "cut", "done", "shade", "bags"]


def read_streets(path: Path) -> gpd.GeoDataFrame:
    """Return the road segments where cores are bonded back, with ``half_m`` and ``shade``."""
    roads = gpd.read_file(path)
    surface = roads["surface"].str.lower()
    roads["shade"] = np.where(surface.isin(_PALE), "pale", "dark")
    roads["half_m"] = (roads["width"] / 2).fillna(_HALF_WIDTH)
    is_fit = roads["level"].ge(0) & roads["class"].ne("footway") & ~roads["name"].isin(_UNCLEAR_STREETS)
    is_fit &= surface.isin((*_DARK, *_PALE, "asphalt over concrete", "ac over pcc"))
    return roads[is_fit].reset_index(drop=True)


def draw_places(streets: gpd.GeoDataFrame, rng: np.random.Generator, count: int) -> pd.DataFrame:
    """Return ``count`` places anywhere on the carriageways, each well apart from the others: ``row``, ``x``, ``y``."""
    length = streets.length.to_numpy()
    lines = np.asarray(streets.geometry.array)
    kept: list[tuple[int, float, float]] = []
    while len(kept) < count:
        row = int(rng.choice(len(streets), p=length / length.sum()))
        chainage = rng.uniform(0, length[row] - 0.01)
        if rng.random() < _AT_JUNCTIONS:
            from_end = rng.uniform(0, _JUNCTION_M)
            chainage = from_end if rng.random() < 1 / 2 else length[row] - 0.01 - from_end
        at, ahead = shapely.get_coordinates(shapely.line_interpolate_point(lines[row], [chainage, chainage + 0.01]))
        along = (ahead - at) / np.linalg.norm(ahead - at)
        aside = rng.uniform(-1, 1) * _MIDDLE * streets["half_m"][row]
        x, y = at + aside * np.array([-along[1], along[0]])
        # a place where two carriageways meet belongs to either
        is_clear = int((shapely.distance(lines, shapely.Point(x, y)) < streets["half_m"]).sum()) == 1
        if is_clear and all(math.hypot(x - other[1], y - other[2]) >= _APART for other in kept):
            kept.append((row, float(x), float(y)))
    return pd.DataFrame(kept, columns=["row", "x", "y"])


def write_names(streets: gpd.GeoDataFrame, places: pd.DataFrame, rng: np.random.Generator) -> pd.Series:
    """Return the streets as the crews wrote them: mostly right, sometimes the next street, sometimes nothing."""
    points = shapely.points(places["x"], places["y"])
    distance = shapely.distance(points[:, None], np.asarray(streets.geometry.array)[None, :])
    names = streets["name"].to_numpy()
    own = names[places["row"]]
    distance[names[None, :] == own[:, None]] = np.inf
    written = pd.Series(np.where(rng.random(len(places)) < _RIGHT_NAMES, own, names[distance.argmin(axis=1)]))
    return written.mask(rng.random(len(places)) < _BLANK_NAMES, "")


def working_days(rng: np.random.Generator, count: int) -> list[dt.date]:
    """Return ``count`` days in order, Mondays to Thursdays: each core is reinstated on the next day."""
    days = [_FIRST_DAY + dt.timedelta(days=after) for after in range((_LAST_DAY - _FIRST_DAY).days + 1)]
    weekdays = [day for day in days if day.weekday() < 4]
    return [weekdays[at] for at in sorted(rng.integers(len(weekdays), size=count))]


def bags_of(depth_mm: pd.Series) -> pd.Series:
    """Return the bags of grout that one core takes, to a tenth."""
    kerf = math.pi * (_DIAMETER_MM - _KERF_MM) * _KERF_MM * depth_mm
    pilot_and_bed = math.pi / 4 * (_PILOT_MM**2 * depth_mm + _BED_MM * _DIAMETER_MM**2)
    return (_OVER * (kerf + pilot_and_bed) / 1e6 / _BAG_L).round(1)


def main() -> None:
    """Make the register and its truth from one seed."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else _HERE
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(20251031)
    streets = read_streets(_HERE.parent / "roads.gpkg")
    crew = np.repeat(list(_CREWS), [count for count, _ in _CREWS.values()])
    places = draw_places(streets, rng, len(crew))
    error_m = np.array([_CREWS[name][1] for name in crew]) / _RADIUS
    x, y = (places[axis] + rng.normal(0, error_m) for axis in ("x", "y"))
    to_degrees = pyproj.Transformer.from_crs(streets.crs, "EPSG:4326", always_xy=True)
    lon, lat = to_degrees.transform(x, y)
    true_lon, true_lat = to_degrees.transform(places["x"], places["y"])
    depth = pd.Series(rng.choice([150, 200, 215, 250], size=len(crew)))
    cut = working_days(rng, len(crew))
    # two crews, one day book: who went where is mixed
    order = rng.permutation(len(crew))
    register = pd.DataFrame(
        {
            "lon": [f"{value:.7f}" for value in lon],
            "lat": [f"{value:.7f}" for value in lat],
            "dia": _DIAMETER_MM,
            "depth": depth,
            "road": write_names(streets, places, rng),
            "crew": crew,
            "shade": streets["shade"].to_numpy()[places["row"]],
            "bags": bags_of(depth),
            "segment": streets["seg_id"].to_numpy()[places["row"]],
            "true_lon": [f"{value:.7f}" for value in true_lon],
            "true_lat": [f"{value:.7f}" for value in true_lat],
        }
    ).iloc[order]
    register["id"] = [f"TC-{number:04d}" for number in range(1, len(crew) + 1)]
    register["cut"] = cut
    register["done"] = [day + dt.timedelta(days=1) for day in cut]
    register[_COLUMNS].to_csv(folder / "cores.csv", index=False, lineterminator="\n")
    truth = register[["id", "segment", "true_lon", "true_lat"]].set_axis(["id", "segment", "lon", "lat"], axis=1)
    truth.to_csv(folder / "truth.csv", index=False, lineterminator="\n")
    print(f"{len(register)} cores -> {folder}")


if __name__ == "__main__":
    main()
