"""A sound programme in a folder, for a test to spoil; and how a refusal must read."""

import subprocess
import sys
import zipfile
from itertools import pairwise
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from pipeline import cli

ROOT = Path(__file__).parents[2]
EAST, NORTH = 478_000, 4_963_000
# a street in 60 segments of 20 m, 300 cores on it, two districts: files large enough to be cut in many places
COUNT = 300
HEADER = "core_id,x,y,diameter,depth,cut\n"
ROW = "A1,478100,4963002,450 mm,200 mm,2026-09-01\n"
PROGRAMME = """
[programme]
name = "Town"
as_of = 2026-09-30
[cores]
path = "cores.gpkg"
[roads]
path = "roads.gpkg"
columns = { segment_id = "segment_id" }
[districts]
path = "districts.gpkg"
columns = { district = "district" }
"""


def _layers():
    """Return the cores, roads and districts of the sound programme."""
    x = EAST + np.linspace(1, 1199, COUNT)
    cores = {"core_id": [f"C{number}" for number in range(COUNT)], "diameter": "450 mm", "depth": "8 in"}
    corners = [(EAST + 20 * number, NORTH) for number in range(61)]
    streets = [shapely.LineString(ends) for ends in pairwise(corners)]
    halves = [
        shapely.box(EAST - 50, NORTH - 500, EAST + 600, NORTH + 500),
        shapely.box(EAST + 600, NORTH - 500, EAST + 1250, NORTH + 500),
    ]
    segments = {"segment_id": [str(number) for number in range(60)], "surface": "asphalt"}
    return {
        "cores": gpd.GeoDataFrame(cores, geometry=gpd.points_from_xy(x, np.full(COUNT, NORTH + 2.0)), crs=32617),
        "roads": gpd.GeoDataFrame(segments, geometry=streets, crs=32617),
        "districts": gpd.GeoDataFrame({"district": ["West", "East"]}, geometry=halves, crs=32617),
    }


TOWN = _layers()


def write(layer, path):
    """Write a layer in the format that the file's ending names."""
    if path.suffix == ".parquet":
        layer.to_parquet(path)
    elif path.suffix in {".csv", ".xlsx"}:
        table = pd.DataFrame(layer.drop(columns="geometry")).assign(x=layer.geometry.x, y=layer.geometry.y)
        if path.suffix == ".csv":
            table.to_csv(path, index=False)
        else:
            table.to_excel(path, index=False, engine="xlsxwriter")
    elif path.suffix == ".zip":
        shapefile = path.parent / f"{path.stem}_unpacked"
        shapefile.mkdir()
        layer.to_file(shapefile / "layer.shp")
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            for file in sorted(shapefile.iterdir()):
                archive.write(file, f"folder/{file.name}")
    else:
        (layer.to_crs(4326) if path.suffix == ".geojson" else layer).to_file(path)


class Town:
    """A sound programme in a folder, for a test to spoil."""

    def __init__(self, folder, capsys, monkeypatch):
        self.folder, self._capsys, self._monkeypatch = folder, capsys, monkeypatch
        self.programme = PROGRAMME

    def change(self, old, new):
        """Replace one text of the programme file."""
        assert old in self.programme
        self.programme = self.programme.replace(old, new, 1)

    def use(self, name, file, keys=""):
        """Point a section to another file, with more keys after its path; return the path of that file."""
        self.change(f'"{name}.gpkg"', f'"{file}"\n{keys}')
        return self.folder / file

    def check(self):
        """Run `kerfbook check`; return its exit code and what it printed to stderr."""
        return self.audit(command="check")

    def audit(self, *options, command="audit"):
        """Run the command; return its exit code and what it printed to stderr."""
        path = self.folder / "programme.toml"
        path.write_text(self.programme, encoding="utf-8")
        wanted = ["--out", str(self.folder / "out"), "--quiet", *options] if command == "audit" else ["--no-page"]
        arguments = ["kerfbook", command, str(path), *wanted]
        self._monkeypatch.setattr(sys, "argv", arguments)
        try:
            cli.main()
        except SystemExit as done:
            return done.code, self._capsys.readouterr().err
        return 0, self._capsys.readouterr().err

    def refuses(self, code, *words):
        """Audit, and hold the refusal to its exit code, its form and these words; return it."""
        found, printed = self.audit()
        assert found in ({code} if isinstance(code, int) else code), printed
        check_refusal(printed)
        for word in words:
            assert word in printed
        assert not (self.folder / "out").exists()
        return printed


def check_refusal(printed):
    """Hold what was printed to one error without any trace of the code."""
    assert printed.startswith("Error: ")
    assert printed.count("Error: ") == 1
    assert printed.endswith((".\n", "?\n", '"\n'))
    assert len(printed) < 1200
    for trace in ("Traceback", "site-packages", 'File "', "Warning:"):
        assert trace not in printed


def command(*arguments):
    """Run the real command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "pipeline", *arguments], cwd=ROOT, capture_output=True, text=True, check=False
    )


def use_register(town, text, keys='crs = "EPSG:32617"'):
    """Give the programme this text as its register."""
    town.use("cores", "register.csv", keys).write_text(text, encoding="utf-8")
