"""The least that answers the same questions, as the floor under the whole run: ``python -m tests.bench.whole_floor IN OUT``.

It reads the same files, makes the same joins with shapely on two threads, computes on whole columns, and writes one Parquet
file and the packed columns of a map. It has no confidence, no rules, no plan, no orders and no report.
"""

import gzip
import sys
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.parquet as pq
import shapely

Floats = npt.NDArray[np.float64]
_REACH_M = 15.0
_THREADS = 2


def main(folder: Path, out: Path) -> None:
    """Do the least of the job and write its two files."""
    out.mkdir(parents=True, exist_ok=True)
    cores, points = _read(folder / "cores.parquet")
    roads, lines = _read(folder / "roads.parquet")
    surfaces, polygons = _read(folder / "surfaces.parquet")
    districts, outlines = _read(folder / "districts.parquet")
    x, y = shapely.get_x(points), shapely.get_y(points)
    placed = np.flatnonzero(np.isfinite(x))
    order = placed[np.lexsort((x[placed] // 500, y[placed] // 500))]
    xy = np.column_stack([x[order], y[order]])
    segment, offset, chainage = _nearest(xy, lines)
    found: dict[str, object] = {name: cores[name] for name in ("id", "cut", "done")}
    for name, value in (("segment", segment), ("offset_m", offset), ("chainage_m", chainage),
                        ("surface", _inside(xy, polygons)), ("district", _inside(xy, outlines))):  # fmt: skip
        column = np.full(len(points), -1.0)
        column[order] = value
        found[name] = column
    hole, depth = (_lengths(cores[name]) for name in ("dia", "depth"))
    ring = np.pi / 4 * (hole**2 - (hole - 18) ** 2) * depth
    found["grout_l"] = (ring + np.pi / 4 * hole**2 * 25 * 0.4 + np.pi / 4 * 32**2 * depth) / 1e6
    found["is_open"] = pa.compute.is_null(cores["done"])
    for name, layer, column in (
        ("segment", roads, "seg_id"),
        ("surface", surfaces, "surface"),
        ("district", districts, "name"),
    ):
        at = np.asarray(found[name], dtype=np.int64)
        found[f"{name}_name"] = layer[column].take(pa.array(at, mask=at < 0))
    pq.write_table(pa.table(found), out / "cores.parquet")
    planes = np.column_stack([x, y]).astype("<f4").view(np.uint8).reshape(len(x), 8).T
    (out / "map.gz").write_bytes(gzip.compress(np.ascontiguousarray(planes).tobytes(), 6, mtime=0))


def _read(path: Path) -> tuple[pa.Table, npt.NDArray[np.object_]]:
    table = pq.read_table(path)
    return table.drop_columns("geometry"), shapely.from_wkb(table["geometry"].to_numpy())


def _halves(count: int) -> list[slice]:
    cuts = np.linspace(0, count, _THREADS * 8 + 1).astype(int)
    return [slice(a, b) for a, b in pairwise(cuts)]


def _nearest(xy: Floats, lines: npt.NDArray[np.object_]) -> tuple[npt.NDArray[np.int64], Floats, Floats]:
    """Return the nearest line within reach of each point, -1 for none, with distance and chainage."""
    tree = shapely.STRtree(lines)
    tree.query(shapely.box(0, 0, 1, 1))
    segment, offset, chainage = np.full(len(xy), -1), np.full(len(xy), np.nan), np.full(len(xy), np.nan)

    def work(part: slice) -> None:
        own = xy[part]
        points = shapely.points(own)
        boxes = shapely.box(*(own - _REACH_M).T, *(own + _REACH_M).T)
        point, line = tree.query(boxes)
        apart = shapely.distance(points[point], lines[line])
        near = apart <= _REACH_M
        point, line, apart = point[near], line[near], apart[near]
        first = np.lexsort((apart, point))
        point, line, apart = point[first], line[first], apart[first]
        is_first = np.r_[True, point[1:] != point[:-1]] if len(point) else np.zeros(0, dtype=bool)
        at = point[is_first] + part.start
        segment[at], offset[at] = line[is_first], apart[is_first]
        chainage[at] = shapely.line_locate_point(lines[line[is_first]], points[point[is_first]])

    with ThreadPoolExecutor(_THREADS) as pool:
        list(pool.map(work, _halves(len(xy))))
    return segment, offset, chainage


def _inside(xy: Floats, polygons: npt.NDArray[np.object_]) -> npt.NDArray[np.int64]:
    """Return the first polygon that holds each point, -1 for none."""
    tree = shapely.STRtree(shapely.points(xy))
    tree.query(shapely.box(0, 0, 1, 1))
    found = np.full(len(xy), len(polygons))
    with ThreadPoolExecutor(_THREADS) as pool:
        parts = _halves(len(polygons))
        for part, (polygon, point) in zip(
            parts, pool.map(lambda one: tree.query(polygons[one], "intersects"), parts), strict=True
        ):
            np.minimum.at(found, point, polygon + part.start)
    return np.where(found == len(polygons), -1, found)


def _lengths(cells: pa.ChunkedArray) -> Floats:
    """Return lengths in millimetres; what is no number with or without a unit is not a number."""
    coded = cells.combine_chunks().dictionary_encode()
    values = []
    for text in coded.dictionary.to_pylist():
        number, _, unit = str(text).partition(" ")
        try:
            values.append(float(number) * {"": 1.0, "mm": 1.0, "in": 25.4}[unit])
        except (ValueError, KeyError):
            values.append(np.nan)
    return np.asarray(values)[coded.indices.to_numpy(zero_copy_only=False)]


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
