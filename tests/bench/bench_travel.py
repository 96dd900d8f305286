"""Time the distances along the roads: python tests/bench/bench_travel.py [cores] [segments].

A made-up town of blocks of 100 m, its cores anywhere along its streets, its districts squares of about 1,000 cores.
"""

import argparse
import resource
import time

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from pipeline.plan.travel import travel_of

BLOCK_M = 100.0
CORES_OF_A_DISTRICT = 1000
# cores that one call of the schedule asks about
ASKED = 60
CALLS = 200


def town(segments: int, rng: np.random.Generator) -> gpd.GeoDataFrame:
    """Return about so many street segments of a bent grid, four vertices each."""
    side = round(np.sqrt(segments / 2))
    east, north = np.meshgrid(np.arange(side), np.arange(side))
    corner = np.column_stack([east.ravel(), north.ravel()]) * BLOCK_M + rng.normal(0, BLOCK_M / 6, (side * side, 2))
    number = np.arange(side * side).reshape(side, side)
    tail = np.concatenate([number[:, :-1].ravel(), number[:-1].ravel()])
    head = np.concatenate([number[:, 1:].ravel(), number[1:].ravel()])
    share = np.linspace(0, 1, 4)[None, :, None]
    points = corner[tail][:, None] * (1 - share) + corner[head][:, None] * share
    points[:, 1:-1] += rng.normal(0, 3, points[:, 1:-1].shape)
    facts = {"is_underground": np.zeros(len(tail), dtype=bool), "start_m": np.zeros(len(tail))}
    return gpd.GeoDataFrame(facts, geometry=shapely.linestrings(points), crs="EPSG:32617")


def place_cores(segments: gpd.GeoDataFrame, count: int, rng: np.random.Generator) -> pd.DataFrame:
    """Return cores 3 m from the streets."""
    line = rng.integers(0, len(segments), count)
    along = rng.uniform(0, 1, count) * segments.length.to_numpy()[line]
    on_line = shapely.get_coordinates(shapely.line_interpolate_point(np.asarray(segments.geometry)[line], along))
    facts = {"x_m": on_line[:, 0], "y_m": on_line[:, 1] + 3, "segment": line, "chainage_m": along, "offset_m": 3.0}
    return pd.DataFrame(facts)


def main() -> None:
    """Print the seconds of each step, and the peak of memory."""
    parser = argparse.ArgumentParser(description="Seconds and memory of the distances along the roads.")
    parser.add_argument("cores", type=int, nargs="?", default=100_000)
    parser.add_argument("segments", type=int, nargs="?", default=200_000)
    options = parser.parse_args()
    rng = np.random.default_rng(14)
    segments = town(options.segments, rng)
    cores = place_cores(segments, options.cores, rng)
    before_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024

    def timed(name: str, begin: float, times: float = 1.0) -> float:
        seconds = time.perf_counter() - begin
        print(f"  {name:<60} {seconds * times:9.3f} s")
        return seconds

    print(f"{len(cores):,} cores on {len(segments):,} segments")
    begin = time.perf_counter()
    travel = travel_of(segments, cores, np.empty((0, 2)), 1.0, 1.4)
    timed("the network, and where the cores join it", begin)
    width = float(cores["x_m"].max()) * np.sqrt(min(1.0, CORES_OF_A_DISTRICT / len(cores)))
    district = np.flatnonzero(((cores[["x_m", "y_m"]] // width) == 0).all(axis=1))
    begin = time.perf_counter()
    near = travel.among(district)
    near.metres(district, district)
    seconds = timed(f"all distances in a district of {len(district):,} cores", begin)
    print(f"  {'the same for every district':<60} {seconds * len(cores) / len(district):9.3f} s")
    asked = rng.choice(district, (CALLS, min(ASKED, len(district))))
    begin = time.perf_counter()
    for places in asked:
        near.metres(places, places)
    timed(f"a call for {ASKED} by {ASKED} of these, mean of {CALLS}", begin, 1 / CALLS)
    begin = time.perf_counter()
    travel.among(district).between(asked[0], asked[1])
    timed(f"the first {ASKED} pairs of these, each one from the other", begin)
    begin = time.perf_counter()
    for places in asked[:20]:
        travel.metres(places, places)
    timed(f"the same without the district's table, mean of {20}", begin, 1 / 20)
    begin = time.perf_counter()
    for places in asked[:20]:
        travel.ways(places[:15])
    timed(f"the lines of a day of 15 stops, mean of {20}", begin, 1 / 20)
    after_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"  {'peak of memory beyond the layer and the cores':<60} {after_mb - before_mb:9.0f} MB")


if __name__ == "__main__":
    main()
