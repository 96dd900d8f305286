"""Settings that are values, with who set them."""

import pytest

from pipeline.programme.settings import Settings
from pipeline.publish.setting_sources import setting_sources


@pytest.fixture(scope="module")
def found():
    settings = Settings(
        programme={"name": "Quay 2026", "as_of": "2026-09-30"},
        cores={"path": "cores.csv"},
        roads={"path": "roads.gpkg"},
        matching={"max_distance": "0.02 km", "name_right": "85 %"},
        orders={"lead_time": "1 week"},
    )
    return {one.key: one for one in setting_sources(settings)}


@pytest.mark.parametrize(
    ("key", "value", "source"),
    [
        ("matching.max_distance", "20 m", "set by Quay 2026"),
        ("matching.name_right", "85 %", "set by Quay 2026"),
        ("matching.accuracy", "5 m", "our default"),
        ("matching.district_gap", "10 m", "our default"),
        ("matching.names_near", "5", "our default"),
        ("matching.choose", "likeliest", "our default"),
        ("orders.lead_time", "7 days", "set by Quay 2026"),
        ("orders.waste", "2 %", "our default"),
        ("orders.service_level", "95 %", "our default"),
    ],
)
def test_a_setting_has_its_value_in_its_usual_unit_and_who_set_it(found, key, value, source):
    assert (found[key].value, found[key].source) == (value, source)


def test_tables_switches_and_what_is_not_set_are_left_out(found):
    assert not {"matching.accuracy_by_method", "orders.half_bags", "orders.units"} & set(found)
