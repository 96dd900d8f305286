"""From which scale cores are drawn: 100 cores on 4 km of street lie 40 m apart, which is 4 mm at 1:10,000."""

import geopandas as gpd
import pandas as pd
import shapely

from pipeline.publish.geopackage.columns import describe_columns
from pipeline.publish.geopackage.qgis_styles import as_qml
from pipeline.publish.geopackage.scales import ALWAYS, Scales, scales_of
from tests.publish.geopackage.sample import UTM

STREETS = gpd.GeoDataFrame(
    {"segment_id": ["A", "B"]},
    geometry=[shapely.LineString([(0, 0), (4000, 0)]), shapely.LineString([(0, 0), (0, 90_000)])],
    crs=UTM,
)


def cores(count, flagged=0, hazards=0):
    return pd.DataFrame(
        {
            "segment_id": "A",
            "status": ["flagged"] * flagged + ["pending"] * (count - flagged),
            "urgency": ["hazard"] * hazards + ["record"] * (count - hazards),
        }
    )


def test_cores_are_drawn_from_the_scale_at_which_they_lie_four_millimetres_apart():
    # 20 flagged ones 200 m apart: 15 mm at 1:13,333; 4 hazards 1,000 m: 15 mm at 1:66,667; the street without cores is left out
    assert scales_of(cores(100, flagged=20, hazards=4), STREETS) == Scales(10_000, 10_000, 50_000)
    # 10 m apart: 4 mm at 1:2,500
    assert scales_of(cores(400), STREETS) == Scales(2000, None, None)


def test_few_cores_are_drawn_at_every_scale_and_ever_so_many_close_by():
    assert scales_of(cores(1), STREETS) == ALWAYS
    assert scales_of(cores(100_000), STREETS).every == 1000


def test_what_the_columns_do_not_tell_limits_nothing():
    assert scales_of(pd.DataFrame({"row": [1]}), STREETS.iloc[:0]) == ALWAYS
    # 94 km of streets, 94 m apart: 4 mm at 1:23,500
    assert scales_of(pd.DataFrame({"row": range(1000)}), STREETS).every == 15_000


def test_the_rules_of_the_style_have_these_scales():
    columns = ["core_id", "status", "state", "urgency"]
    style = as_qml("cores", columns, describe_columns("cores", columns), Scales(2000, 5000, 25_000))
    for key, scale in (
        ("pending", 2000),
        ("flagged", 5000),
        ("state-open", 2000),
        ("hazard", 25_000),
        ("overdue", 5000),
    ):
        (rule,) = [part for part in style.split("<rule ") if f'key="{key}"' in part]
        assert f'scalemaxdenom="{scale}"' in rule
    assert "scalemaxdenom" not in as_qml("cores", ["status"], {}, ALWAYS)
