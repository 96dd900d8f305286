"""The same answers on every engine, into however many pieces the cores are cut."""

import filecmp
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from click.testing import CliRunner

from pipeline.cli.group import commands
from pipeline.engines import HERE
from pipeline.errors import SettingsError
from pipeline.run import run_programme
from tests.engines.frames import frames_of, same
from tests.engines.sent import Sent

_DATA = Path(__file__).parents[2] / "sample_data"
_DEMO, _THREE, _TWO = (_DATA / name / "programme.toml" for name in ("", "three_contractors", "two_crews"))


@pytest.fixture(scope="module")
def here():
    """What each programme gives in this process, as it is asked for."""
    known = {}

    def run(path):
        if path not in known:
            known[path] = frames_of(run_programme(path, None, engine=HERE))
        return known[path]

    return run


@pytest.mark.parametrize(
    ("path", "pieces"),
    [(_DEMO, 1), (_DEMO, 2), (_DEMO, 7), (_DEMO, 50), (_THREE, 7), (_TWO, 50)],
    ids=lambda of: of.parent.name if isinstance(of, Path) else str(of),
)
def test_a_programme_gives_the_same_however_it_is_cut(path, pieces, here):
    expected = here(path)
    engine = Sent(-(-len(expected["table"]) // pieces))
    found = frames_of(run_programme(path, None, engine=engine))
    same(found, expected)
    # nothing is sent where all is done here
    assert len(engine.bytes) >= pieces


def test_each_core_may_be_a_piece_of_its_own(tmp_path):
    """Cores stacked on a crossing, seams through it, one core far away, some without a position, overlapping plots."""
    path = _crossing(tmp_path)
    expected = frames_of(run_programme(path, None))
    assert {"cores-overlap", "off-network", "position-missing"} <= set(expected["findings"]["rule"])
    assert expected["table"]["segment_id"].nunique() == 4
    assert expected["table"]["surface_confidence"].lt(0.999).sum() > 10
    for most in (1, 17):
        same(frames_of(run_programme(path, None, engine=Sent(most))), expected)


def test_no_more_is_sent_than_lies_around_the_cores(tmp_path):
    """Twice the town, cut into twice the pieces: the largest piece stays as it is."""
    largest = []
    for name, blocks in (("small", 6), ("large", 24)):
        folder = tmp_path / name
        folder.mkdir()
        engine = Sent(60)
        run_programme(_grid(folder, blocks), None, engine=engine)
        largest.append((max(engine.bytes), len(engine.bytes)))
    (small, few), (large, many) = largest
    assert many > 2 * few
    assert large < 1.5 * small


def test_a_cluster_writes_the_same_files(demo, tmp_path):
    done = CliRunner().invoke(
        commands, ["audit", str(_DEMO), "--out", str(tmp_path), "--quiet", "--engine", "dask", "--workers", "2",
               "--cores-each", "100"],
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    theirs, ours = demo.folder, tmp_path / demo.folder.parent.name / demo.folder.name
    names = sorted(path.relative_to(theirs) for path in theirs.rglob("*") if path.is_file())
    assert names == sorted(path.relative_to(ours) for path in ours.rglob("*") if path.is_file())
    # the run's record has its seconds, and no more of the engine
    differ = [str(name) for name in names if not filecmp.cmp(theirs / name, ours / name, shallow=False)]
    assert differ == ["run.json"]
    mine, other = ((folder / "run.json").read_text("utf-8").split('"seconds"')[0] for folder in (theirs, ours))
    assert mine == other


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("--scheduler tcp://127.0.0.1:9", "--scheduler is an option of --engine dask: add that, or leave it out."),
        ("--workers 2", "--workers is an option of --engine dask: add that, or leave it out."),
        ("--scratch .", "--scratch is an option of --engine dask: add that, or leave it out."),
        ("--cores-each 100", "--cores-each is an option of --engine dask: add that, or leave it out."),
        (
            "--engine dask --scheduler tcp://127.0.0.1:9 --workers 2",
            "--workers says how many processes start on this machine; a cluster with --scheduler has its own. Leave one out.",
        ),
    ],
)
def test_options_of_a_cluster_are_refused_without_one(words, expected):
    done = CliRunner().invoke(commands, ["audit", str(_DEMO), *words.split()])
    assert isinstance(done.exception, SettingsError)
    assert str(done.exception) == expected


_HEAD = """
[programme]
name = "Crossing"
as_of = 2026-09-30
timezone = "Europe/Helsinki"
[cores]
path = "cores.csv"
x = "x"
y = "y"
crs = "EPSG:32635"
columns = { core_id = "id", diameter = "dia", depth = "depth", street = "road", opened_on = "cut", crew = "crew" }
units = { diameter = "mm", depth = "mm" }
[roads]
path = "roads.gpkg"
columns = { segment_id = "seg", street = "name" }
[surfaces]
path = "plots.gpkg"
columns = { surface = "surface" }
[districts]
path = "districts.gpkg"
columns = { district = "name" }
[matching]
choose = "likeliest"
"""


def _write(folder, xy, roads, plots, districts):
    count = len(xy)
    pd.DataFrame(
        {
            "id": [f"C{number:04}" for number in range(count)], "x": xy[:, 0].round(2), "y": xy[:, 1].round(2),
            "dia": 450, "depth": 200, "road": np.where(np.arange(count) % 3, "North Street", "East Street"),
            "cut": "2026-08-01", "crew": np.where(np.arange(count) % 2, "A", "B"),
        }
    ).to_csv(folder / "cores.csv", index=False)  # fmt: skip
    names = [f"S{number}" for number in range(len(roads))]
    gpd.GeoDataFrame(
        {"seg": names, "name": [["North Street", "East Street"][at % 2] for at in range(len(roads))]},
        geometry=roads,
        crs=32635,
    ).to_file(folder / "roads.gpkg")
    surfaces = [["asphalt", "concrete"][at % 2] for at in range(len(plots))]
    gpd.GeoDataFrame({"surface": surfaces}, geometry=plots, crs=32635).to_file(folder / "plots.gpkg")
    names = [f"District {at}" for at in range(len(districts))]
    gpd.GeoDataFrame({"name": names}, geometry=districts, crs=32635).to_file(folder / "districts.gpkg")
    path = folder / "programme.toml"
    path.write_text(_HEAD)
    return path


def _box(at, west, south, east, north):
    return shapely.box(at[0] + west, at[1] + south, at[0] + east, at[1] + north)


def _crossing(folder):
    """Two streets of two segments each, that meet at 0, 0; 45 cores around it, 9 of them on one spot."""
    at = np.array([385_000.0, 6_670_000.0])
    rng = np.random.default_rng(12)
    along = rng.uniform(-80, 80, 34)
    beside = rng.normal(0, 3, 34)
    arms = np.concatenate([np.column_stack([along[:17], beside[:17]]), np.column_stack([beside[17:], along[17:]])])
    xy = at + np.concatenate([arms, np.full((9, 2), [1.5, -0.5]), [[40_000, 0]]])
    xy = np.concatenate([xy, np.full((3, 2), np.nan)])
    ends = [(0, 100), (100, 0), (0, -100), (-100, 0)]
    roads = [shapely.LineString([at, at + end]) for end in ends]
    plots = [shapely.box(*(at - size), *(at + size)) for size in ([4, 4], [4, 100], [100, 4], [30, 30], [200, 200])]
    districts = [_box(at, -200, -200, 0, 200), _box(at, 0, -200, 200, 200)]
    return _write(folder, xy, roads, plots, districts)


def _grid(folder, blocks):
    """A town of so many by 6 blocks of 100 m, with 10 cores to a block and a plot on every crossing."""
    at = np.array([385_000.0, 6_670_000.0])
    rng = np.random.default_rng(13)
    wide, high = 100.0 * blocks, 600.0
    count = blocks * 60
    xy = np.column_stack([rng.uniform(0, wide, count), 100 * rng.integers(0, 7, count) + rng.normal(0, 3, count)])
    corners = [(100 * column, 100 * row) for column in range(blocks) for row in range(7)]
    roads = [shapely.LineString([at + corner, at + corner + [100, 0]]) for corner in np.array(corners)]
    plots = [shapely.box(*(at + corner - 6), *(at + corner + 6)) for corner in np.array(corners)]
    districts = [_box(at, x, -50, x + 300, high + 50) for x in np.arange(0, wide, 300)]
    return _write(folder, at + xy, roads, plots, districts)
