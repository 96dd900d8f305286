"""Lines of roads that are made for one map and taken for another."""

import geopandas as gpd
import numpy as np
import pytest
import shapely

from pipeline.publish.map import road_lines
from pipeline.publish.map.road_lines import lines_of


def some_roads(seed, count=12):
    """Short lines on a small grid, so that some share a middle; some of two parts."""
    chance = np.random.default_rng(seed)
    ends = chance.integers(0, 4, (count, 2, 2, 2)) / 1000
    shapes = [
        shapely.MultiLineString(list(two)) if chance.random() < 0.2 else shapely.LineString(two[0]) for two in ends
    ]
    names = {
        "segment_id": [f"S-{n}" for n in chance.permutation(count)],
        "street": chance.choice(["A", "B", None], count),
    }
    return gpd.GeoDataFrame(names, geometry=shapes, crs=4326).astype({"street": "str"})


def assert_same(one, other):
    for name, values in one._asdict().items():
        if name == "columns":
            assert values == other.columns
        elif name == "along":
            for mine, theirs in zip(values, other.along, strict=True):
                np.testing.assert_array_equal(mine, theirs)
        elif name not in ("segment_id", "geometry"):
            np.testing.assert_array_equal(values, getattr(other, name), err_msg=name)


@pytest.mark.parametrize("seed", range(100))
def test_lines_taken_from_a_layer_in_another_order_are_those_made_of_the_layer(seed):
    layer = some_roads(seed)
    known = lines_of(layer)
    for other in (layer, layer.sort_values("segment_id"), layer.assign(street="A").iloc[::-1]):
        assert_same(lines_of(other, known), lines_of(other))


def test_the_same_roads_are_not_simplified_again_and_others_are(monkeypatch):
    layer = gpd.GeoDataFrame(
        {"segment_id": ["A", "B"], "street": ["Quay", "Quay"]},
        geometry=[shapely.LineString([(0, 0), (1, 0)]), shapely.LineString([(5, 5), (6, 5)])],
        crs=4326,
    )
    known = lines_of(layer)
    monkeypatch.delattr(road_lines, "place_along_streets")
    again = lines_of(layer.iloc[::-1], known)
    assert again.vertices is known.vertices
    assert (known.owner.tolist(), again.owner.tolist()) == ([1, 0], [0, 1])
    for other in (
        layer.iloc[:1],
        layer.assign(segment_id=["A", "C"]),
        layer.set_geometry(layer.geometry.copy().translate(0)),
    ):
        with pytest.raises(NameError):
            lines_of(other, known)
