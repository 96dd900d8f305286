"""Names of the plan and its crews that match nothing are reported."""

import geopandas as gpd
import pytest
from pyproj import CRS

from pipeline.errors import SettingsError
from pipeline.intake.unmatched_crews import refuse_nowhere, unmatched_crews
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.settings import Settings

_CATALOGUE = load_catalogue({}, "test")
_SEGMENTS = gpd.GeoDataFrame(
    {"street": ["Mill Street", "Oat Street"], "class_name": ["main", "local"], "road_authority": ["Vale", None]}
)
_DISTRICTS = gpd.GeoDataFrame({"district": ["Mill Bank", "Old Market"]})


def _notices(**sections):
    written = {
        "programme": {"name": "Vale"}, "cores": {"path": "cores.csv"}, "roads": {"path": "roads.gpkg"},
        "orders": {"yards": {"Mill Bank": "North yard"}}, **sections,
    }  # fmt: skip
    return unmatched_crews(Settings.model_validate(written), _CATALOGUE, _SEGMENTS, _DISTRICTS)


def test_names_that_match_are_not_reported_in_any_capitals():
    crew = {"name": "A", "districts": ["mill bank"], "surfaces": ["Asphalt"], "yard": "NORTH YARD"}
    plan = {
        "yards": {"north yard": [-82.0, 44.0], "Old Market": [-82.0, 44.0]},
        "weights": {"road_class": {"main": 2}},
        "no_work": [{"street": "mill street", "weekdays": ["Saturday"]}],
    }
    assert _notices(crews=[crew], plan=plan) == []


@pytest.mark.parametrize(
    ("crew", "words"),
    [
        ({"districts": ["Mill Bnk"]}, ['crews "A".districts', '"Mill Bnk"', 'Did you mean "Mill Bank"?']),
        ({"surfaces": ["asphlt"]}, ['crews "A".surfaces', 'Did you mean "asphalt"?']),
        ({"yard": "Nort yard"}, ['crews "A".yard', 'Did you mean "North yard"?']),
    ],
)
def test_a_name_of_a_crew_that_matches_nothing_is_reported(crew, words):
    (notice,) = _notices(crews=[{"name": "A", **crew}])
    for word in words:
        assert word in notice


@pytest.mark.parametrize(
    ("plan", "key"),
    [
        ({"yards": {"West yard": [-82.0, 44.0]}}, "plan.yards"),
        ({"weights": {"road_class": {"mian": 2}}}, "plan.weights.road_class"),
        ({"no_work": [{"street": "Mil Street", "weekdays": ["Saturday"]}]}, "plan.no_work no. 1.street"),
        ({"no_work": [{"district": "Mil Bank", "weekdays": ["Saturday"]}]}, "plan.no_work no. 1.district"),
    ],
)
def test_a_name_of_the_plan_that_matches_nothing_is_reported(plan, key):
    (notice,) = _notices(plan=plan)
    assert notice.startswith(f"{key}: no ")


def test_a_yard_that_the_crs_has_no_place_for_is_refused():
    refuse_nowhere({"Depot": (-82.2, 44.8), "Far": (0.0, 51.5)}, CRS.from_epsg(32617), "plan.yards")
    with pytest.raises(
        SettingsError, match=r'plan\.yards\."Null": found \[0, 0\], so far from the roads that EPSG:32617'
    ):
        refuse_nowhere({"Null": (0.0, 0.0)}, CRS.from_epsg(32617), "plan.yards")
