"""Layers with the number of their cores, against a count by hand and by pandas."""

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from pipeline.contracts import STATUS_COUNTS, STATUSES, names_of
from pipeline.publish.geopackage.by_district import with_counts


def layer(*names):
    ends = [shapely.LineString([(at, 0), (at, 1)]) for at in range(len(names))]
    return gpd.GeoDataFrame({"segment_id": pd.Series(names, dtype="str")}, geometry=ends, crs=32617)


def cores(segment_id, status, state="back", urgency=None):
    named = pd.DataFrame({"segment_id": pd.Series(segment_id, dtype="str"), "status": status})
    return named.assign(state=state, urgency=pd.Series(urgency, named.index, dtype="str"))


def test_each_segment_has_the_number_of_its_cores_by_status_and_one_without_cores_zeros():
    found = with_counts(
        layer("A", "B", "C"),
        "segment_id",
        cores(["B", "B", "A", None], ["flagged", "flagged", "reinstated", "flagged"]),
    )
    assert found["cores_flagged"].tolist() == [0, 2, 0]
    assert found["cores_reinstated"].tolist() == [1, 0, 0]
    assert found["cores_pending"].tolist() == [0, 0, 0]
    assert set(found.drop(columns=["segment_id", "geometry"]).dtypes.map(str)) == {"int64"}


def test_the_counts_are_those_of_a_table_of_both_columns():
    chance = np.random.default_rng(3)
    for _ in range(100):
        count = int(chance.integers(1, 30))
        some = cores(chance.choice(["A", "B", "C", None], count), chance.choice(list(STATUSES), count))
        table = pd.crosstab(some["segment_id"], some["status"])
        table = table.reindex(index=["A", "B", "C", "D"], columns=list(STATUSES), fill_value=0)
        found = with_counts(layer("A", "B", "C", "D"), "segment_id", some)
        assert found[list(names_of(STATUS_COUNTS))].to_numpy().tolist() == table.to_numpy().tolist()
