"""A town of files in a folder, written in one way or another, and its whole run."""

import dataclasses
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from pipeline.results import RunResult
from pipeline.run import run_programme
from tests.metamorphic.towns import Move

_AT = np.array([385_000.0, 6_670_000.0])
_LINES = {
    "10": [(0, 0), (100, 0), (200, 5)], "11": [(200, 5), (300, 5)], "12": [(0, 18), (140, 20), (300, 20)],
    "13": [(150, -80), (150, 80)], "14": [(40, -60), (60, -60), (60, -40), (40, -40), (40, -70)],
}  # fmt: skip
_STREETS = {"10": "Mill Lane", "11": "Mill Lane", "12": "Quay Road", "13": "Straße Nord", "14": "The Loop"}
_HEAD = """
[programme]
name = "Town"
as_of = 2026-09-30
timezone = "Europe/Helsinki"
crs = "{run_crs}"
{cores}
[roads]
path = "roads.gpkg"
columns = {{ segment_id = "seg", street = "name", width = "width" }}
[surfaces]
path = "surfaces.gpkg"
columns = {{ surface = "surface" }}
[districts]
path = "districts.gpkg"
columns = {{ district = "name" }}
"""
_REGISTER = """
[[cores]]
path = "{path}"
name = "{name}"
x = "x"
y = "y"
crs = "EPSG:{crs}"
columns = {{ core_id = "id", diameter = "dia", depth = "depth", street = "road", opened_on = "cut", reinstated_at = "done", surface_recorded = "surf", position_accuracy = "acc", bags_used = "bags" }}
units = {{ {units} }}
"""


# which file and row a core is from, and its cells as they were written
_WRITTEN = {
    "row", "register", "register_row", "register_file", "copy_of", "x", "y", "dia", "depth", "road", "surf",
    "id", "acc", "register_x", "register_y", "register_bags", "register_depth",
}  # fmt: skip


STAYS = Move(np.eye(2), np.zeros(2))


@dataclasses.dataclass(frozen=True)
class Guise:
    """How the files of the town are written; the defaults are the town itself.

    ``registers``: how many its rows are split into. ``unit``: of sizes. ``layers_crs``, ``cores_crs``: EPSG codes.
    ``move``: where the town is moved to, turned or mirrored about its corner.
    """

    registers: int = 1
    unit: str = "mm"
    layers_crs: int = 32635
    cores_crs: int = 32635
    is_shuffled: bool = False
    is_reversed: bool = False
    is_cut: bool = False
    has_far_district: bool = False
    names_in_capitals: bool = False
    run_crs: str = "EPSG:32635"
    move: Move = STAYS

    def place(self, shapes: object) -> np.ndarray:
        """Return shapes where the town is; ``shapes``: as metres from its corner."""
        at: np.ndarray = shapely.transform(self.move.of(np.asarray(shapes, dtype=object)), lambda xy: xy + _AT)
        return at


def run(folder: Path, guise: Guise, out: str | None = None) -> RunResult:
    """Write the town in a guise and audit it; with ``out``, also write its outputs into that folder."""
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(3)
    cores = _cores(guise)
    if guise.is_shuffled:
        cores = cores.iloc[rng.permutation(len(cores))]
    parts = []
    for at, rows in enumerate(np.array_split(np.arange(len(cores)), guise.registers)):
        path = f"cores-{at}.csv"
        cores.iloc[rows].to_csv(folder / path, index=False)
        units = f'diameter = "{guise.unit}", depth = "{guise.unit}", position_accuracy = "m"'
        parts.append(_REGISTER.format(path=path, name=f"R{at}", units=units, crs=guise.cores_crs))
    for name, layer in (("roads", _roads(guise)), ("surfaces", _surfaces(guise)), ("districts", _districts(guise))):
        order = rng.permutation(len(layer)) if guise.is_shuffled else np.arange(len(layer))
        layer.iloc[order].to_crs(guise.layers_crs).to_file(folder / f"{name}.gpkg")
    path = folder / "programme.toml"
    path.write_text(_HEAD.format(run_crs=guise.run_crs, cores="".join(parts)), encoding="utf-8")
    return run_programme(path, None if out is None else folder / out)


def _cores(guise: Guise) -> pd.DataFrame:
    """Ninety cores beside the streets; some without a size, a street or a position, one of them far off."""
    rng = np.random.default_rng(2)
    count = 90
    number = np.arange(count)
    line = np.array([shapely.LineString(_LINES[name]) for name in rng.choice([*_LINES], count)])
    on = shapely.line_interpolate_point(line, rng.uniform(0, 1, count), normalized=True)
    xy = np.column_stack([shapely.get_x(on), shapely.get_y(on)]) + rng.normal(0, 2.5, (count, 2))
    xy[7] += 900
    points = gpd.GeoSeries(guise.place(shapely.points(xy.round(3))), crs=32635).to_crs(guise.cores_crs)
    digits = 3 if points.crs.is_projected else 9
    x, y = points.x.round(digits).astype("str"), points.y.round(digits).astype("str")
    streets = rng.choice(["Mill Ln", "quay road", "Straße Nord", "Elsewhere", ""], count)
    surfaces = rng.choice(["asphalt", "conc", ""], count)
    # whole millimetres: the same digits in every unit
    size = {"mm": "{:.0f}", "cm": "{:.1f}", "m": "{:.3f}"}[guise.unit].format
    per = {"mm": 1, "cm": 10, "m": 1000}[guise.unit]
    diameter = [size(mm / per) for mm in rng.choice([300, 450, 455, 602], count)]
    return pd.DataFrame(
        {
            "id": [f"C-{at:03}" for at in number], "x": np.where(number == 5, "", x), "y": y,
            "dia": np.where(number % 11 == 3, "", diameter), "depth": [size(mm / per) for mm in rng.choice([150, 203], count)],
            "road": [text.upper() for text in streets] if guise.names_in_capitals else streets,
            "cut": "2026-08-01", "done": np.where(number % 3 == 0, "2026-08-05", ""),
            "surf": [text.upper() for text in surfaces] if guise.names_in_capitals else surfaces,
            "acc": rng.choice(["0.5", "2", "6"], count), "bags": np.where(number % 3 == 0, "0.7", ""),
        }
    )  # fmt: skip


def _roads(guise: Guise) -> gpd.GeoDataFrame:
    ids, lines = [*_LINES], [np.array(corners, dtype=float) for corners in _LINES.values()]
    if guise.is_reversed:
        lines = [corners[::-1] for corners in lines]
    shapes: list[shapely.Geometry] = [shapely.LineString(corners) for corners in lines]
    if guise.is_cut:
        # a part goes on where the one before it ends, and the reader joins them
        shapes = [shapely.MultiLineString([corners[:2], corners[1:]]) if len(corners) > 2 else shapely.LineString(corners) for corners in lines]  # fmt: skip
    table = {"seg": ids, "name": [_STREETS[at] for at in ids], "width": 7.0}
    return gpd.GeoDataFrame(table, geometry=guise.place(shapes), crs=32635)


def _surfaces(guise: Guise) -> gpd.GeoDataFrame:
    boxes = [(-20, -8, 120, 8), (120, -8, 320, 12), (140, -80, 160, -8), (90, -4, 96, 3)]
    shapes = guise.place([shapely.box(*box) for box in boxes])
    return gpd.GeoDataFrame({"surface": ["asphalt", "concrete", "asphalt", "concrete"]}, geometry=shapes, crs=32635)


def _districts(guise: Guise) -> gpd.GeoDataFrame:
    boxes = {"East": (131, -90, 330, 90), "West": (-30, -90, 131, 90)}
    if guise.has_far_district:
        boxes["Far"] = (20_000, 20_000, 20_100, 20_100)
    shapes = guise.place([shapely.box(*box) for box in boxes.values()])
    return gpd.GeoDataFrame({"name": [*boxes]}, geometry=shapes, crs=32635)


def tables_of(result: RunResult) -> tuple[pd.DataFrame, ...]:
    """Return what does not depend on which file or row a core is from: by core id."""
    cores = result.table.set_index("core_id").sort_index()
    cores = cores.drop(columns=[name for name in cores if name in _WRITTEN])
    findings = result.audit.findings[["core_id", "rule", "severity", "message"]]
    # a message quotes the cell as it was written
    findings = findings.assign(message=findings["message"].str.casefold())
    findings = findings.sort_values([*findings], ignore_index=True)
    return cores, findings, result.orders.lines.reset_index(drop=True), _plan(result)


def _plan(result: RunResult) -> pd.DataFrame:
    stops = result.plan.stops
    return stops.drop(columns=[name for name in stops if name in _WRITTEN]).reset_index(drop=True)


def same_town(found: tuple[pd.DataFrame, ...], expected: tuple[pd.DataFrame, ...], but: tuple[str, ...] = ()) -> None:
    """Check that cores, findings, orders and plan are the same; ``but``: columns that are not compared."""
    for ours, theirs in zip(found, expected, strict=True):
        columns = [name for name in theirs if name not in but]
        pd.testing.assert_frame_equal(ours[columns], theirs[columns], check_exact=False, rtol=1e-6, atol=1e-6)
