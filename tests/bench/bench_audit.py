"""Time and memory of the main job on a network of any size: ``python tests/bench/bench_audit.py 100000``.

Makes a grid of streets with surfaces and districts and a register of that many cores along it, in a temporary folder,
runs the real command and prints what each stage cost.
"""

import json
import subprocess
import sys
import tempfile
import time
from itertools import pairwise
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

_PROGRAMME = """
[programme]
name = "Bench"
as_of = 2026-09-30
[cores]
path = "cores.csv"
x = "lon"
y = "lat"
crs = "EPSG:4326"
columns = { core_id = "id", diameter = "dia", depth = "depth", opened_on = "cut", reinstated_at = "done", street = "road" }
units = { diameter = "mm", depth = "mm" }
[roads]
path = "roads.gpkg"
columns = { segment_id = "seg_id", street = "name", surface = "surface" }
[surfaces]
path = "surfaces.gpkg"
columns = { surface = "surface" }
[districts]
path = "districts.gpkg"
columns = { district = "name" }
"""
_BLOCK_M = 100.0


def make(folder: Path, cores: int, reinstated: float = 0.6) -> int:
    """Write a programme with a share of its cores reinstated; return the number of segments, about one per four cores."""
    rng = np.random.default_rng(1)
    side = max(int(np.sqrt(cores / 8)), 3)
    west, south = 400_000.0, 4_950_000.0
    at = np.arange(side) * _BLOCK_M
    col, row = (axis.ravel() for axis in np.meshgrid(at, at))
    east = shapely.linestrings(
        [[(x, y), (x + _BLOCK_M / 2, y + 2), (x + _BLOCK_M, y)] for x, y in zip(col + west, row + south)]
    )
    north = shapely.linestrings(
        [[(x, y), (x + 2, y + _BLOCK_M / 2), (x, y + _BLOCK_M)] for x, y in zip(col + west, row + south)]
    )
    lines = np.concatenate([east, north])
    surface = rng.choice(["asphalt", "concrete", "composite", "sett", None], len(lines), p=[0.6, 0.2, 0.1, 0.05, 0.05])
    roads = gpd.GeoDataFrame(
        {"seg_id": [f"S{number}" for number in range(len(lines))], "name": [f"Street {number // side}" for number in range(len(lines))], "surface": surface},
        geometry=lines, crs=32617,
    )  # fmt: skip
    roads.to_file(folder / "roads.gpkg")
    some = rng.permutation(len(lines))[: len(lines) // 3]
    gpd.GeoDataFrame({"surface": surface[some]}, geometry=shapely.buffer(lines[some], 5), crs=32617).to_file(
        folder / "surfaces.gpkg"
    )
    span = side * _BLOCK_M
    cuts = np.linspace(0, span, 11)
    boxes = [shapely.segmentize(shapely.box(west + a, south + b, west + c, south + d), 20)
             for a, c in pairwise(cuts) for b, d in pairwise(cuts)]  # fmt: skip
    gpd.GeoDataFrame(
        {"name": [f"District {number}" for number in range(len(boxes))]}, geometry=boxes, crs=32617
    ).to_file(folder / "districts.gpkg")

    on = rng.integers(0, len(lines), cores)
    spot = shapely.line_interpolate_point(lines[on], rng.uniform(0, 1, cores), normalized=True)
    lon, lat = _degrees(shapely.get_x(spot) + rng.normal(0, 2, cores), shapely.get_y(spot) + rng.normal(0, 2, cores))
    opened = pd.Timestamp("2026-09-30") - pd.to_timedelta(rng.integers(0, 60, cores), unit="D")
    done = rng.uniform(size=cores) < reinstated
    pd.DataFrame(
        {
            "id": [f"C{number:07d}" for number in range(cores)],
            "lon": lon.round(7), "lat": lat.round(7),
            "dia": rng.choice(["18 in", "457", "450 mm", '18"'], cores), "depth": rng.choice(["6 in", "150", "300 mm", "8.5 in"], cores),
            "road": roads["name"].to_numpy()[on],
            "cut": opened.strftime("%Y-%m-%d"), "done": np.where(done, (opened + pd.Timedelta(days=1)).strftime("%Y-%m-%d"), ""),
        }
    ).to_csv(folder / "cores.csv", index=False)  # fmt: skip
    (folder / "programme.toml").write_text(_PROGRAMME, encoding="utf-8")
    return len(lines)


def _degrees(x, y):
    points = gpd.GeoSeries(gpd.points_from_xy(x, y), crs=32617).to_crs(4326)
    return points.x.to_numpy(), points.y.to_numpy()


def main() -> None:
    # --open: no core is reinstated, so that all need material
    rest = [word for word in sys.argv[1:] if word != "--open"]
    cores = int(rest[0]) if rest else 100_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        segments = make(folder, cores, 0.0 if "--open" in sys.argv else 0.6)
        start = time.perf_counter()
        command = [
            sys.executable,
            *(rest[1:] or ["-m", "pipeline"]),
            "audit",
            str(folder / "programme.toml"),
            "--out",
            str(folder / "out"),
            "--quiet",
        ]
        subprocess.run(command, check=True)
        seconds = time.perf_counter() - start
        run = next((folder / "out").rglob("run.json"))
        print(f"{cores:,} cores, {segments:,} segments: {seconds:.1f} s in all, with start and imports")
        for stage in json.loads(run.read_text("utf-8"))["stages"]:
            print(f"  {stage['stage']:<10} {stage['seconds']:8.2f} s   peak {stage['peak_mb']:,} MB")
        for file in sorted(run.parent.iterdir()):
            print(f"  {file.name:<15} {file.stat().st_size / 1e6:8.2f} MB")


if __name__ == "__main__":
    main()
