"""A run cut by district: names of files, and what belongs to which."""

import re
from pathlib import PureWindowsPath

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.publish.districts import cut_by_district, file_stems, places_by
from pipeline.readback.pack_files import is_district_map

AWKWARD = [
    "North", "north", "NORTH ", "Nörth", "../x", "x", "CON", "com1", "", " ", "no district", "No-District", "東京", "大阪",
    "a" * 300, "a" * 301, ".", "..", "con.", "-", "N\x00rth", "\ud800", "index", "St. John's / Quay", "=1+1",
]  # fmt: skip


def _are_safe(stems):
    assert all(re.fullmatch("[a-z0-9]+(-[a-z0-9]+)*", stem) and len(stem) <= 80 for stem in stems.values())
    # as a file system sees them that does not tell capitals apart
    assert len({stem.casefold() for stem in stems.values()}) == len(stems)
    assert all(is_district_map(f"map-{stem}.html") for stem in stems.values())


def test_whatever_districts_are_called_each_has_a_file_name_of_its_own_that_every_system_takes():
    stems = file_stems([*AWKWARD, None])
    _are_safe(stems)
    assert stems[None] == "no-district"
    assert stems["St. John's / Quay"] == "st-john-s-quay"
    assert not any(PureWindowsPath(f"{stem}.gpkg").is_reserved() for stem in stems.values())


@settings(deadline=None)
@given(st.sets(st.text(max_size=12) | st.sampled_from(AWKWARD), max_size=12))
def test_the_same_holds_for_any_names(names):
    _are_safe(file_stems([*names, None]))


def test_the_name_of_a_file_does_not_depend_on_the_other_districts_unless_they_are_alike():
    alone, among = file_stems(["Old Market", "東京"]), file_stems(["A", "Old Market", "東京", "Z", None])
    assert alone["Old Market"] == among["Old Market"] == "old-market"
    assert alone["東京"] == among["東京"]
    alike = file_stems(["A b", "a-B"])
    assert alike["A b"] != alike["a-B"]
    assert all(stem.startswith("a-b-") for stem in alike.values())


def _town():
    """Two districts side by side, a street across both, one in each, one outside, one far away that a core names.

    west   |  east     north of them: "out"
    """
    districts = gpd.GeoDataFrame(
        {"district": ["East", "West", "Empty"]},
        geometry=[shapely.box(10, 0, 20, 10), shapely.box(0, 0, 10, 10), shapely.box(50, 0, 60, 10)],
        crs=32617,
    )
    lines = {
        "across": [(1, 5), (19, 5)], "west": [(1, 1), (2, 1)], "east": [(12, 1), (13, 1)], "out": [(1, 30), (2, 30)],
        "far": [(90, 90), (99, 99)], "maybe": [(80, 80), (81, 81)],
    }  # fmt: skip
    segments = gpd.GeoDataFrame(
        {"segment_id": list(lines)}, geometry=[shapely.LineString(line) for line in lines.values()], crs=32617
    )
    cores = pd.DataFrame(
        {
            "district": pd.Series(["West", None, "East", "West", "East"], dtype="str"),
            "segment_id": ["west", "out", "across", "far", None],
            "runner_up_id": [None, None, "maybe", None, None],
        }
    )
    return cores, segments, districts


def test_each_core_is_in_one_part_and_each_segment_where_it_touches_or_a_core_names_it():
    cores, segments, districts = _town()
    parts = cut_by_district(cores, segments, districts)
    assert [part.name for part in parts] == ["East", "West", None]
    assert [part.stem for part in parts] == ["east", "west", "no-district"]
    assert [part.cores.tolist() for part in parts] == [[2, 4], [0, 3], [1]]
    ids = segments["segment_id"].to_numpy()
    assert [sorted(ids[part.segments]) for part in parts] == [
        ["across", "east", "maybe"],
        ["across", "far", "west"],
        # what no district touches
        ["far", "maybe", "out"],
    ]
    assert [districts["district"].iloc[part.shapes].tolist() for part in parts] == [["East"], ["West"], []]


def test_without_a_second_choice_or_cores_outside_there_are_fewer():
    cores, segments, districts = _town()
    parts = cut_by_district(cores.drop(columns="runner_up_id").dropna(subset="district"), segments, districts)
    assert [part.name for part in parts] == ["East", "West"]
    assert segments["segment_id"].iloc[parts[0].segments].tolist() == ["across", "east"]


def test_a_district_of_two_shapes_or_without_one_is_one_part():
    cores, segments, districts = _town()
    districts = districts.assign(district=["East", "East", "West"])
    districts.loc[2, "geometry"] = None
    east, west, outside = cut_by_district(cores, segments, districts)
    assert sorted(segments["segment_id"].iloc[east.segments]) == ["across", "east", "maybe", "west"]
    assert sorted(segments["segment_id"].iloc[west.segments]) == ["far", "west"]
    assert outside.name is None


@pytest.mark.parametrize("codes", [[], [2, 0, -1, 2, 0], [-1, -1]])
def test_places_by_code_are_those_of_a_loop(codes):
    found = places_by(np.array(codes, dtype=int), 3)
    assert [here.tolist() for here in found] == [
        [at for at, one in enumerate(codes) if one == code] for code in range(3)
    ]
