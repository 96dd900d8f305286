"""Which roads a map of very many keeps."""

import geopandas as gpd
import pandas as pd
import shapely

from pipeline.publish.map.roads import choose_roads


def layer():
    """Six streets side by side; E and F are wide."""
    return gpd.GeoDataFrame(
        {"segment_id": list("ABCDEF"), "half_width_m": [3, 3, 3, 3, 6, 4.5]},
        geometry=[shapely.LineString([(0, y), (1, y)]) for y in range(6)],
        crs=4326,
    )


# a flagged core on B that may lie on C, a core put back on D, one that no road is known of
CORES = pd.DataFrame(
    {
        "status": ["flagged", "reinstated", "pending"],
        "segment_id": ["B", "D", None],
        "runner_up_id": ["C", "A", None],
    }
)


def chosen(most):
    return "".join(layer()["segment_id"].iloc[choose_roads(layer(), CORES, most)])


def test_all_are_kept_up_to_the_limit():
    assert chosen(6) == "ABCDEF"


def test_open_cores_come_first_then_where_they_may_lie_then_wide_roads_then_closed_cores():
    assert [chosen(most) for most in (1, 2, 3, 4)] == ["B", "BC", "BCE", "BCEF"]


def test_a_road_without_a_core_that_is_not_wide_is_never_kept_once_there_are_too_many():
    assert chosen(5) == "BCDEF"


def test_a_layer_without_widths_has_no_main_roads():
    kept = choose_roads(layer().drop(columns="half_width_m"), CORES, 5)
    assert list(kept) == [1, 2, 3]
