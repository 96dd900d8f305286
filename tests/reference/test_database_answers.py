"""The demo town from a PostGIS database gives what it gives from its files.

Source: the same files, put into a real PostgreSQL by ``tests/server_data.py``, which shares no code with the reader; the
answers of the files are held by the other tests.
"""

import csv
import shutil
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from pipeline.run import run_programme
from tests.server_data import put_frame, put_programme

_DATA = Path(__file__).parents[2] / "sample_data"
# a table of a database has no lines, and its own name
_WHERE = ["register_row", "register_file"]
_ALONE = "\n[publish]\noutputs = []\n"


@pytest.fixture
def files(tmp_path):
    """The demo's files, and the register with a number for each row; a database has no rows of other lengths."""
    folder = tmp_path / "files"
    shutil.copytree(_DATA, folder, ignore=shutil.ignore_patterns("*.py", "three_contractors", "two_crews", "august"))
    with (_DATA / "cores.csv").open(encoding="utf-8", newline="") as source:
        header, *rows = csv.reader(source)
    with (folder / "cores.csv").open("w", encoding="utf-8", newline="") as target:
        written = csv.writer(target)
        written.writerow(["gid", *header])
        # blank cells of a database are no text
        cells = ([cell if cell.strip() else "" for cell in row + [""] * len(header)][: len(header)] for row in rows)
        written.writerows([number, *row] for number, row in enumerate(cells, 1))
    programme = folder / "programme.toml"
    programme.write_text(programme.read_text("utf-8") + _ALONE, encoding="utf-8")
    return folder


def _cores(folder):
    return pd.read_csv(folder / "cores.csv", dtype="str", keep_default_na=False)


def test_the_demo_has_the_same_answers_from_a_database(postgis, files, tmp_path):
    """Register, all layers, stock and forecast come from the database; the seasons, which must be a file, do not."""
    target = tmp_path / "database"
    target.mkdir()
    for name in ("decisions.csv", "seasons.csv"):
        shutil.copy(files / name, target)
    programme = put_programme(postgis, files, target)
    assert programme.read_text("utf-8").count(f'path = "{postgis.address}"') == 10
    ours = run_programme(programme, tmp_path / "out").folder
    theirs = run_programme(files / "programme.toml", tmp_path / "other").folder
    for name in ("findings.csv", "orders.csv", "plan.csv", "works_cores.csv", "purchases.csv", "rates.csv"):
        assert (ours / name).read_bytes() == (theirs / name).read_bytes(), name
    cores, expected = _cores(ours), _cores(theirs)
    pd.testing.assert_frame_equal(cores.drop(columns=_WHERE), expected.drop(columns=_WHERE))
    assert set(cores["register_file"]) == {f"{postgis.address}, table public.cores"}
    assert len(cores) == 400


def test_typed_columns_and_points_have_the_answers_of_the_same_geopackage(postgis, place_text, tmp_path):
    """Numbers, dates, instants and points as a database and a GeoPackage hold them, understood alike."""
    east, north = 478_000, 4_963_000
    cores = gpd.GeoDataFrame(
        {
            "core_id": ["C1", "C2", "C3", "C4"],
            "diameter": [450.0, 457.2, None, 600.0],
            "depth": pd.array([200, 180, 210, None], dtype="Int64"),
            "cut": pd.to_datetime(["2026-08-03", "2026-08-04", None, "2026-07-01"]),
            "done": pd.to_datetime(["2026-08-05 14:30:00", None, "2026-08-09 07:05:30", "2026-07-02 00:00:00"]),
            "bags": [0.8, 1.25, None, 2.0],
            "crew": ["Crew Ä", None, "", "Crew B"],
        },
        geometry=[shapely.Point(east + 50 * n, north + n) if n != 3 else None for n in range(4)],
        crs=32617,
    )
    roads = gpd.GeoDataFrame(
        {"segment_id": ["1"], "surface": ["asphalt"], "width": [7.5]},
        geometry=[shapely.LineString([(east - 10, north), (east + 500, north)])],
        crs=32617,
    )
    cores.to_file(tmp_path / "cores.gpkg")
    roads.to_file(tmp_path / "roads.gpkg")
    kinds = {"diameter": "double precision", "depth": "smallint", "cut": "date", "done": "timestamp", "bags": "real"}
    put_frame(postgis, "cores", cores, kinds)
    put_frame(postgis, "roads", roads)

    def placed(cores_at, roads_at):
        keys = 'columns = { opened_on = "cut", reinstated_at = "done", bags_used = "bags" }'
        return place_text(
            f'[programme]\nname = "x"\nas_of = 2026-09-30\ntimezone = "America/Toronto"\ncrs = "EPSG:32617"\n[cores]\n'
            f'{cores_at}\n{keys}\nunits = {{ diameter = "mm", depth = "mm" }}\n[roads]\n{roads_at}\n'
        )

    theirs = placed('path = "cores.gpkg"', 'path = "roads.gpkg"')
    at = f'path = "{postgis.address}"'
    ours = placed(f'{at}\ntable = "cores"', f'{at}\nsql = "SELECT * FROM roads"\nkey = "gid"')
    pd.testing.assert_frame_equal(ours.cores.drop(columns=_WHERE), theirs.cores.drop(columns=_WHERE))
    assert ours.cores["diameter_mm"].tolist()[:2] == [450, 457.2]
    assert ours.cores["opened_on"].dt.strftime("%Y-%m-%d").tolist()[:2] == ["2026-08-03", "2026-08-04"]
    assert ours.cores["bags_used"].tolist()[1] == 1.25
    assert [file.crs for file in ours.inputs.files] == ["EPSG:32617", "EPSG:32617"]
