"""A made-up town of any size as files: a register, bent road segments, surfaces that overlap at crossings, districts."""

from pathlib import Path
from typing import Final

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

__all__ = ["AS_OF", "CRS", "PROGRAMME", "make_town"]

AS_OF: Final = "2026-09-30"
CRS: Final = 32617
PROGRAMME: Final = """
[programme]
name = "Bench"
as_of = 2026-09-30
timezone = "America/Toronto"
[cores]
path = "cores.parquet"
[cores.columns]
core_id = "id"
diameter = "dia"
depth = "depth"
street = "road"
surface_recorded = "surf"
opened_on = "cut"
backfilled_on = "filled"
reinstated_at = "done"
shade_used = "shade"
bags_used = "bags"
water = "water"
permit_no = "permit"
crew = "crew"
[cores.units]
diameter = "mm"
depth = "mm"
water = "L"
[roads]
path = "roads.parquet"
columns = { segment_id = "seg_id", street = "name", surface = "surface", road_class = "class", width = "width" }
[surfaces]
path = "surfaces.parquet"
columns = { surface = "surface" }
[districts]
path = "districts.parquet"
columns = { district = "name" }
[matching]
choose = "CHOOSE"
"""
_WEST, _SOUTH, _BLOCK_M = 400_000.0, 4_950_000.0, 100.0
_VERTICES: Final = 6
_SURFACES: Final = (["asphalt", "concrete", "composite", "sett"], [0.62, 0.25, 0.08, 0.05])
# of every thousand rows so many have each trouble
_DIRTY: Final = {"dia": 4, "depth": 4, "cut": 3, "position": 2, "far": 3, "copy": 2, "id": 1}


def make_town(
    folder: Path, cores: int, segments: int, polygons: int, choose: str = "likeliest", reinstated: float = 0.6
) -> None:
    """Write ``programme.toml`` and its four GeoParquet files for a town of that size; the same call writes the same town.

    Parameters
    ----------
    folder
        Takes the files.
    cores
        Rows of the register; about two in a hundred have a trouble.
    segments
        Road segments of about 100 m, half of them west to east.
    polygons
        Surface polygons: ribbons of several segments, which overlap where streets cross.
    choose
        Of the programme's ``[matching]``: "likeliest" or "nearest".
    reinstated
        Share of the cores that are reinstated.
    """
    random = np.random.default_rng(17)
    side = max(int(np.sqrt(segments / 2)), 4)
    lines, row, at = _streets(side, random)
    half_width = np.where(row % 10 == 0, 6.0, 3.5)
    ribbon = max(round(len(lines) / polygons), 1)
    stretch = at // ribbon
    is_across = np.arange(len(lines)) < side * side
    name = np.where(is_across, _of("Row", row), _of("Line", row)) + _of("", at // 12)
    # the streets of one ribbon have one surface, which the road layer says too, but not always
    key = row * (side // ribbon + 1) + stretch + np.where(is_across, 0, side * (side // ribbon + 1))
    _, code = np.unique(key, return_inverse=True)
    of_ribbon = random.choice(_SURFACES[0], code.max() + 1, p=_SURFACES[1])
    surface = np.where(random.uniform(size=len(lines)) < 0.1, None, of_ribbon[code])
    roads = {
        "seg_id": "S" + pd.Series(np.arange(len(lines))).astype("str"),
        "name": name,
        "surface": surface,
        "class": np.where(half_width > 5, "secondary", "residential"),
        "width": np.where(random.uniform(size=len(lines)) < 0.5, 2 * half_width, np.nan),
    }
    _write(roads, lines, folder / "roads.parquet")
    _write({"surface": of_ribbon}, _ribbons(lines, code, half_width), folder / "surfaces.parquet")
    _write({"name": [f"District {n:03d}" for n in range(100)]}, _districts(side), folder / "districts.parquet")
    _register(folder, cores, lines, name, surface, half_width, random, reinstated)
    (folder / "programme.toml").write_text(PROGRAMME.replace("CHOOSE", choose), encoding="utf-8")


def _of(word: str, number: npt.NDArray[np.integer]) -> npt.NDArray[np.object_]:
    return (word + " " + pd.Series(number).astype("str")).to_numpy(dtype=object)


def _streets(side: int, random: np.random.Generator) -> tuple[npt.NDArray, npt.NDArray, npt.NDArray]:
    """Return 2 x side x side bent lines, the street of each, and its place in it."""
    row, at = (axis.ravel() for axis in np.meshgrid(np.arange(side), np.arange(side), indexing="ij"))
    along = (at[:, None] + np.linspace(0, 1, _VERTICES)) * _BLOCK_M
    # the ends meet, and a line is up to about 3 m out of the straight between them
    bend = random.normal(0, 1.5, (2, side * side, _VERTICES))
    bend[:, :, [0, -1]] = 0
    across = row[:, None] * _BLOCK_M
    x = np.concatenate([along, across + bend[1]]) + _WEST
    y = np.concatenate([across + bend[0], along]) + _SOUTH
    count = 2 * side * side
    lines = shapely.linestrings(
        np.stack([x.ravel(), y.ravel()], axis=-1), indices=np.repeat(np.arange(count), _VERTICES)
    )
    return lines, np.tile(row, 2), np.tile(at, 2)


def _ribbons(lines: npt.NDArray, code: npt.NDArray, half_width: npt.NDArray) -> npt.NDArray:
    """Return one polygon along the lines of each code."""
    order = np.argsort(code, kind="stable")
    xy, of = shapely.get_coordinates(lines[order], return_index=True)
    whole = shapely.linestrings(xy, indices=code[order][of])
    width = half_width[order][np.unique(code[order], return_index=True)[1]]
    return shapely.buffer(whole, width + 1.0, cap_style="flat", quad_segs=2)


def _districts(side: int) -> npt.NDArray:
    """Return 10 x 10 districts whose edges wave; each has 500 vertices."""
    span = side * _BLOCK_M
    u = np.arange(125) / 125
    ring = np.concatenate([np.c_[u, 0 * u], np.c_[1 + 0 * u, u], np.c_[1 - u, 1 + 0 * u], np.c_[0 * u, 1 - u]])
    made = []
    for i in range(10):
        for j in range(10):
            gx, gy = (ring[:, 0] + i) / 10, (ring[:, 1] + j) / 10
            # a function of the place alone, so that neighbours share their edge
            x = gx + 0.004 * np.sin(41 * gy) + 0.002 * np.sin(17 * gx)
            y = gy + 0.004 * np.sin(37 * gx)
            made.append(np.c_[_WEST - 20 + x * (span + 40), _SOUTH - 20 + y * (span + 40)])
    return shapely.polygons(np.array(made))


def _register(
    folder: Path,
    count: int,
    lines: npt.NDArray,
    name: npt.NDArray,
    surface: npt.NDArray,
    half_width: npt.NDArray,
    random: np.random.Generator,
    reinstated: float,
) -> None:
    on = random.integers(0, len(lines), count)
    share = random.uniform(0.02, 0.98, count)
    spot = shapely.get_coordinates(shapely.line_interpolate_point(lines[on], share, normalized=True))
    reach = half_width[on][:, None]
    spot = spot + random.uniform(-0.8, 0.8, (count, 2)) * reach + random.normal(0, 2, (count, 2))
    street = name[on].copy()
    kind = random.uniform(size=count)
    street[kind < 0.05] = None
    wrong = (kind > 0.05) & (kind < 0.1)
    street[wrong] = name[(on[wrong] + 12) % len(lines)]
    short = kind > 0.8
    street[short] = (pd.Series(street[short], dtype="str") + " St").to_numpy(dtype=object)
    cut = np.datetime64(AS_OF) - random.integers(1, 700, count).astype("timedelta64[D]")
    filled = cut + random.integers(0, 3, count).astype("timedelta64[D]")
    done = random.uniform(size=count) < reinstated
    finished = filled + random.integers(0, 40, count).astype("timedelta64[D]")
    done &= finished <= np.datetime64(AS_OF)
    litres = random.normal(11, 2, count).clip(3)
    columns = {
        "id": ("C-" + pd.Series(np.arange(count)).astype("str").str.zfill(7)).to_numpy(dtype=object),
        "dia": random.choice(["18 in", "457", "450 mm", "600"], count).astype(object),
        "depth": random.choice(["6 in", "150", "300 mm", "215", "240"], count).astype(object),
        "road": street,
        "surf": np.where(random.uniform(size=count) < 0.5, None, surface[on]),
        "cut": cut.astype(str).astype(object),
        "filled": np.where(random.uniform(size=count) < 0.1, None, filled.astype(str).astype(object)),
        "done": np.where(done, finished.astype(str).astype(object), None),
        "shade": np.where(done, np.where(surface[on] == "concrete", "pale", "dark"), None),
        "bags": np.where(done, np.round(litres * 1.9 / 20, 1), np.nan),
        "water": np.where(done, np.round(litres * 0.25, 1), np.nan),
        "permit": "P-" + pd.Series(random.integers(0, 10**6, count)).astype("str"),
        "crew": random.choice([f"Crew {letter}" for letter in "ABCDEFGHIJ"], count),
    }
    spot = _with_troubles(columns, spot, random)
    _write(columns, spot, folder / "cores.parquet")


def _with_troubles(columns: dict[str, npt.NDArray], spot: npt.NDArray, random: np.random.Generator) -> npt.NDArray:
    """Spoil some rows in place; return the positions as points, some missing or far away."""
    count = len(spot)
    sick = random.permutation(count)
    parts = np.split(sick, np.cumsum([per * count // 1000 for per in _DIRTY.values()]))
    at = dict(zip(_DIRTY, parts, strict=False))
    columns["dia"][at["dia"]] = "450 / 500"
    columns["depth"][at["depth"]] = "see sketch"
    columns["cut"][at["cut"]] = "last spring"
    columns["id"][at["copy"]] = columns["id"][(at["copy"] + 1) % count]
    columns["id"][at["id"]] = None
    # into the middle of a block, farther from every street than anybody looks
    spot[at["far"]] += 0.4 * _BLOCK_M
    points = shapely.points(spot)
    points[at["position"]] = None
    return points


def _write(columns: dict[str, object], geometry: npt.NDArray, path: Path) -> None:
    gpd.GeoDataFrame(columns, geometry=geometry, crs=CRS).to_parquet(path)
