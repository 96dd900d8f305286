"""The demo town: made again byte for byte, and as its README describes it."""

import subprocess
import sys
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

_DATA = Path(__file__).parents[2] / "sample_data"
_UTM = "EPSG:32617"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("made")
    done = subprocess.run([sys.executable, _DATA / "make_town.py", folder], check=True, capture_output=True, text=True)
    return folder, done.stdout


def test_the_script_makes_the_town_byte_for_byte(made):
    folder, _ = made
    names = {file.relative_to(folder).as_posix() for file in folder.rglob("*") if file.is_file()}
    assert names == {
        "august/cores.csv", "cores.csv", "districts.geojson", "forecast.csv", "joints.gpkg", "planned_works.geojson", "planted.csv", "protected.geojson",
        "resurfaced.geojson", "roads.gpkg", "seasons.csv", "surfaces.gpkg",
    }  # fmt: skip
    for name in names:
        assert (folder / name).read_bytes() == (_DATA / name).read_bytes(), name


def test_the_script_reports_what_it_made(made):
    assert made[1].startswith("400 cores, 110 road segments, 43 surfaces -> ")


@pytest.fixture(scope="module")
def cores():
    """The cores of the register as points in metres, by data row; those whose position is a planted trouble left out."""
    table = pd.read_csv(_DATA / "cores.csv", dtype=str, keep_default_na=False, usecols=range(9), on_bad_lines="error")
    planted = pd.read_csv(_DATA / "planted.csv")
    table.index = pd.RangeIndex(1, len(table) + 1)
    in_trouble = planted.loc[planted["rule"].str.startswith("position-"), "row"]
    table = table.drop(index=in_trouble.unique())
    points = gpd.points_from_xy(table["lon"].astype(float), table["lat"].astype(float))
    return gpd.GeoDataFrame(table, geometry=points, crs=4326).to_crs(_UTM)


@pytest.fixture(scope="module")
def sound(cores):
    """Those of them without any planted finding."""
    return cores[~cores.index.isin(pd.read_csv(_DATA / "planted.csv")["row"])]


def _layer(name):
    return gpd.read_file(_DATA / name).to_crs(_UTM)


def test_a_sound_core_lies_within_six_metres_of_a_street_at_grade(sound):
    roads = _layer("roads.gpkg")
    lines = shapely.union_all(roads.geometry[roads["level"] >= 0].to_numpy())
    assert len(sound) > 200
    assert shapely.distance(sound.geometry.to_numpy(), lines).max() < 6


def test_all_sound_cores_but_the_three_placed_by_hand_are_far_from_each_other_and_from_segment_ends(cores, sound):
    xy = shapely.get_coordinates(cores.geometry.to_numpy())
    apart = np.hypot(*(xy[:, None, :] - xy[None, :, :]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    roads = _layer("roads.gpkg")
    roads = roads[roads["level"] >= 0]
    ends = shapely.MultiPoint(np.concatenate([shapely.get_coordinates(line)[[0, -1]] for line in roads.geometry]))
    is_near = (apart.min(axis=1) < 3) | (shapely.distance(cores.geometry.to_numpy(), ends) < 20)
    assert is_near[cores.index.isin(sound.index)].sum() == 3


def test_a_sound_core_lies_more_than_a_metre_inside_exactly_one_district(sound):
    districts = _layer("districts.geojson").geometry.to_numpy()
    points = sound.geometry.to_numpy()[:, None]
    assert (shapely.contains(districts, points).sum(axis=1) == 1).all()
    assert shapely.distance(points, shapely.boundary(districts)).min() > 1


def test_every_planted_finding_names_a_row_by_its_id():
    ids = pd.read_csv(_DATA / "cores.csv", dtype=str, keep_default_na=False, usecols=["id"])["id"].str.strip()
    planted = pd.read_csv(_DATA / "planted.csv", dtype={"core_id": str}, keep_default_na=False)
    assert planted["core_id"].tolist() == ids.iloc[planted["row"].astype(int) - 1].tolist()
    assert not planted.duplicated(["row", "rule"]).any()
