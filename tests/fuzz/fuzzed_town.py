"""A small sound town with one of every input, and each input changed at random."""

import json
import shutil
from contextlib import suppress
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from tests.fuzz.cells import made_up_cells
from tests.fuzz.odd_files import chosen, odd_bytes, odd_lines, write_parts

EAST, NORTH = 478_000, 4_963_000
ROWS = 14
_CRS = 32617
_PROGRAMME = """
[programme]
name = "Town"
as_of = 2026-09-30
timezone = "America/Toronto"
holidays = "CA-ON"
[cores]
path = "cores.csv"
x = "x"
y = "y"
crs = "EPSG:32617"
day_first = true
columns = { core_id = "core_id", diameter = "dia", depth = "depth", opened_on = "cut", reinstated_at = "done", bags_used = "bags", crew = "crew", permit_expires_on = "permit", street = "road", position_accuracy = "acc" }
units = { diameter = "mm", depth = "mm", position_accuracy = "m" }
[roads]
path = "roads.gpkg"
columns = { segment_id = "seg", street = "name", surface = "surface" }
[surfaces]
path = "surfaces.gpkg"
columns = { surface = "surface" }
[districts]
path = "districts.gpkg"
columns = { district = "district" }
[planned_works]
path = "works.gpkg"
columns = { name = "name", due_on = "due" }
[matching]
max_distance = "15 m"
[orders]
waste = "5 %"
[orders.yards]
"West" = "Depot"
[orders.stock]
path = "stock.csv"
[[crews]]
name = "A"
districts = ["West", "East"]
[plan]
horizon = "28 day"
iterations = 5
[decisions]
path = ["decisions.csv"]
[returns]
path = ["returns.csv"]
[publish]
outputs = []
"""
_SHEETS = {
    "cores.csv": "core_id,x,y,dia,depth,cut,done,bags,crew,permit,road,acc,note\n"
    + "".join(
        f"C{n},{EAST + 40 * n + 3},{NORTH + 2 * (n % 3) + n / 10},{450 + n},200,{1 + n:02}/08/2026,"
        f"{f'{2 + n:02}/09/2026 14:05' if n % 2 else ''},0.{n},{'AB'[n % 2]},2026-12-{1 + n:02},Quay Road,2,fine\n"
        for n in range(ROWS)
    ),
    "stock.csv": "yard,item,packs\nDepot,grout dark,10\n",
    "returns.csv": "core_id,register,crew,bags_used,water_used_l,reinstated_at,shade_used,remarks\n"
    + "".join(f"C{n},,A,1.{n},5,2026-09-{10 + n:02} 10:20,dark,fine\n" for n in range(0, ROWS, 4)),
    "decisions.csv": "fingerprint,decision,reason,decided_by,decided_on,until\n0123456789abcdef,accepted,known,A,2026-09-01,2026-12-31\n",
}
LAYERS = ("roads", "surfaces", "districts", "works")
_ODD_VALUES = (
    "", "x", -1, 0, 10**19, 1e308, float("inf"), float("nan"), True, [], {}, [1, "a"], {"a": 1}, "1 m", "-1 m", "1e99 m", "5 %", "inf day",
    "2026-02-30", "../../x", "/dev/zero", "a\x00b", "*", "[/x]", "é" * 300, "POINT", "EPSG:3857", "EPSG:0", "UTC", "North", "C1", "x,y",
)  # fmt: skip


def write_town(folder):
    """Write the sound town."""
    lines = [shapely.LineString([(EAST + 80 * n, NORTH), (EAST + 80 * n + 80, NORTH)]) for n in range(8)]
    halves = [
        shapely.box(EAST - 50, NORTH - 200, EAST + 300, NORTH + 200),
        shapely.box(EAST + 300, NORTH - 200, EAST + 700, NORTH + 200),
    ]
    layers = {
        "roads": ({"seg": [str(n) for n in range(8)], "name": "Quay Road", "surface": "asphalt"}, lines),
        "surfaces": ({"surface": ["concrete", "asphalt"]}, halves),
        "districts": ({"district": ["West", "East"]}, halves),
        "works": (
            {"name": ["Main", "Pipe"], "due": ["2026-11-01", "2026-12-01"]},
            [line.buffer(5) for line in lines[:2]],
        ),
    }
    for name, (columns, shapes) in layers.items():
        gpd.GeoDataFrame(columns, geometry=shapes, crs=_CRS).to_file(folder / f"{name}.gpkg")
    for name, text in _SHEETS.items():
        (folder / name).write_text(text, encoding="utf-8")
    (folder / "programme.toml").write_text(_PROGRAMME, encoding="utf-8")
    return folder


class Fuzzed:
    """A copy of the town, changed by a generator of random numbers; ``rows``: of the register, None if not known."""

    def __init__(self, town: Path, folder: Path, seed: int):
        shutil.copytree(town, folder)
        self.folder, self._rng = folder, np.random.default_rng(seed)
        self.rows: int | None = ROWS
        self.done: list[str] = []
        for _ in range(1 + int(self._rng.integers(2))):
            change = self._pick((
                self._cells, self._cells, self._lines, self._layer, self._layer, self._settings, self._bytes, self._kind,
                self._parts,
            ))  # fmt: skip
            change()

    def _pick(self, choices):
        return chosen(self._rng, choices)

    def _read(self, name):
        return (self.folder / name).read_bytes()

    def _cells(self):
        """Change cells of a sheet; its rows stay as many."""
        name = self._pick((*_SHEETS, "cores.csv", "cores.csv"))
        head, *lines = self._read(name).decode("utf-8", "replace").rstrip("\n").split("\n")
        if not lines:
            return
        rows = [line.split(",") for line in lines]
        whole = int(self._rng.integers(len(rows[0]))) if self._rng.random() < 0.3 else None
        for row in rows:
            for at in range(len(row)):
                if at == whole or self._rng.random() < 0.1:
                    cell = made_up_cells(self._rng, 1)[0]
                    row[at] = '"' + cell.replace('"', '""') + '"'
        text = "\n".join([head, *(",".join(row) for row in rows)]) + "\n"
        (self.folder / name).write_text(text, encoding="utf-8", newline="")
        self.done.append(f"cells of {name}")
        if name == "cores.csv" and self.rows is not None and (len(rows) != ROWS or any('"' in line for line in lines)):
            self.rows = None

    def _lines(self):
        """Change lines of a sheet or of the programme."""
        name = self._pick((*_SHEETS, "cores.csv", "programme.toml"))
        (self.folder / name).write_bytes(odd_lines(self._rng, self._read(name)))
        self.done.append(f"lines of {name}")
        self.rows = None if name == "cores.csv" else self.rows

    def _layer(self):
        """Change shapes and attributes of a layer, and perhaps its format."""
        name = self._pick(LAYERS)
        path = self.folder / f"{name}.gpkg"
        if not path.exists() or self._read(path.name)[:6] != b"SQLite":
            return
        try:
            layer = gpd.read_file(path)
        except Exception:  # noqa: BLE001 - an earlier change may have left no layer
            return
        shapes = list(layer.geometry)
        for at in range(len(shapes)):
            if self._rng.random() < 0.4:
                shapes[at] = self._odd_shape(shapes[at])
        layer = layer.set_geometry(
            gpd.GeoSeries(shapes, index=layer.index, crs=self._pick((layer.crs, layer.crs, layer.crs, 4326, None)))
        )
        for column in [one for one in layer.columns if one != "geometry"]:
            if self._rng.random() < 0.2:
                layer[column] = [cell.replace("\x00", "") for cell in made_up_cells(self._rng, len(layer))]
        if self._rng.random() < 0.1:
            layer = layer.iloc[: int(self._rng.integers(len(layer) + 1))]
        end = self._pick(("gpkg", "gpkg", "parquet", "geojson", "fgb", "shp"))
        path.unlink()
        try:
            target = self.folder / f"{name}.{end}"
            layer.to_parquet(target) if end == "parquet" else layer.to_file(target)
        except Exception:  # noqa: BLE001 - what cannot be written is no input
            layer.iloc[:1].drop(columns="geometry").to_csv(self.folder / f"{name}.{end}")
        self._rename(f"{name}.gpkg", f"{name}.{end}")
        self.done.append(f"layer {name}.{end}")

    def _odd_shape(self, shape):
        number = self._pick((np.nan, np.inf, -np.inf, 1e12, 1e308, -1e300, 0.0, 1e-320, EAST))
        points = shapely.get_coordinates(shape)
        if len(points):
            points[int(self._rng.integers(len(points)))][int(self._rng.integers(2))] = number
        moved = shape
        if len(points):
            # the end of a ring may be its beginning no more
            with suppress(shapely.errors.GEOSException):
                moved = shapely.set_coordinates(shape, points)
        first = (EAST, NORTH)
        return self._pick((
            moved, moved, moved, None, shapely.Point(), shapely.Polygon(), shapely.LineString([first, first]), shapely.Polygon([first] * 4),
            shapely.Polygon([first, (EAST + 9, NORTH), first]), shapely.GeometryCollection([shape]), shapely.MultiLineString(), shape,
            shapely.Polygon([first, (EAST + 9, NORTH + 9), (EAST + 9, NORTH), (EAST, NORTH + 9)]), shapely.Point(first), shapely.force_3d(shape),
        ))  # fmt: skip

    def _settings(self):
        """Change values of the programme, or paths, or add keys."""
        lines = self._read("programme.toml").decode("utf-8", "replace").split("\n")
        keyed = [at for at, line in enumerate(lines) if " = " in line]
        for _ in range(1 + int(self._rng.integers(2))):
            if not keyed:
                return
            at = self._pick(keyed)
            key, _, value = lines[at].partition(" = ")
            odd = self._pick(_ODD_VALUES)
            written = odd if isinstance(odd, float) else json.dumps(odd)
            choices = (f"{key} = {written}", f"{key}x = {value}", "", f"{key} = {value[: len(value) // 2]}")
            lines[at] = self._pick((*choices, *choices[:1] * 3))
        (self.folder / "programme.toml").write_text("\n".join(lines), encoding="utf-8")
        self.done.append("settings")
        self.rows = None

    def _bytes(self):
        """Change bytes of any input."""
        name = self._pick([file.name for file in sorted(self.folder.iterdir()) if file.is_file()])
        (self.folder / name).write_bytes(odd_bytes(self._rng, self._read(name)))
        self.done.append(f"bytes of {name}")
        self.rows = None if name.startswith(("cores", "programme")) else self.rows

    def _kind(self):
        """Write the register in another format."""
        end = self._pick(("xlsx", "parquet", "gpkg", "tsv"))
        try:
            table = pd.read_csv(self.folder / "cores.csv", dtype=str, keep_default_na=False)
            if end == "xlsx":
                table.to_excel(self.folder / "cores.xlsx", index=False, engine="xlsxwriter")
            elif end == "parquet":
                table.to_parquet(self.folder / "cores.parquet")
            elif end == "gpkg":
                at = gpd.points_from_xy(
                    pd.to_numeric(table["x"], errors="coerce"), pd.to_numeric(table["y"], errors="coerce")
                )
                gpd.GeoDataFrame(table.drop(columns=["x", "y"]), geometry=at, crs=_CRS).to_file(
                    self.folder / "cores.gpkg"
                )
            else:
                table.to_csv(self.folder / "cores.tsv", index=False, sep="\t")
        except Exception:  # noqa: BLE001 - an earlier change may have left no table
            return
        self._rename("cores.csv", f"cores.{end}")
        self.done.append(f"register as {end}")

    def _parts(self):
        """Write the register as several files."""
        try:
            path = write_parts(self._rng, self.folder, self._pick(("csv", "parquet", "parquet")))
        except Exception:  # noqa: BLE001 - an earlier change may have left no table
            return
        self._rename("cores.csv", path)
        self.done.append(f"register as {path}")
        # a folder may be aside, a column may be lost
        self.rows = None

    def _rename(self, old, new):
        path = self.folder / "programme.toml"
        path.write_bytes(path.read_bytes().replace(f'"{old}"'.encode(), f'"{new}"'.encode()))
