"""Settings that are values, with who set them."""

import datetime as dt

import pytest

from pipeline.programme.orders import Ordering
from pipeline.programme.plan import Costs, Planning
from pipeline.programme.settings import Matching, Programme, Settings
from pipeline.publish.setting_sources import setting_sources


def _settings(**sections):
    settings = Settings(
        **{"programme": {"name": "Quay 2026"}, "cores": {"path": "cores.csv"}, "roads": {"path": "roads.gpkg"}}
        | sections
    )
    return {one.key: one for one in setting_sources(settings)}


@pytest.fixture(scope="module")
def found():
    return _settings(matching={"max_distance": "0.02 km", "name_right": "85 %"}, orders={"lead_time": "1 week"})


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


def test_a_switch_is_shown_in_words_whoever_set_it(found):
    assert (found["matching.learn"].value, found["matching.learn"].source) == ("yes", "our default")
    assert (found["orders.half_bags"].value, found["orders.half_bags"].source) == ("no", "our default")
    off = _settings(matching={"learn": False})["matching.learn"]
    assert (off.value, off.source) == ("no", "set by Quay 2026")


def test_a_table_has_an_entry_for_each_of_its_keys():
    found = _settings(
        matching={"accuracy_by_method": {"gnss": "50 cm"}},
        orders={"items": {"grout": {"pallet": 40, "price": 12.5, "price_breaks": [{"from": 100, "price": 11}]}}},
        plan={
            "yards": {"Quay": [-82.1912345, 44.8]},
            "no_work": [{"street": "High Street", "weekdays": ["Friday", "Monday"]}],
            "weights": {"hazard": "1 h", "road_class": {"primary": 2}},
        },
        budget={"total": 1_000_000},
    )
    assert {key: one.value for key, one in found.items() if key.startswith(("orders.items", "plan.no_work"))} == {
        "orders.items.grout.pallet": "40",
        "orders.items.grout.minimum": "1",
        "orders.items.grout.price": "12.5",
        "orders.items.grout.price_breaks.1.from": "100",
        "orders.items.grout.price_breaks.1.price": "11",
        "plan.no_work.1.street": "High Street",
        "plan.no_work.1.weekdays": "Friday, Monday",
    }
    assert found["orders.items.grout.minimum"].source == "our default"
    assert found["matching.accuracy_by_method.gnss"].value == "0.5 m"
    assert found["plan.yards.Quay"].value == "-82.1912345, 44.8"
    assert (found["plan.weights.hazard"].value, found["plan.weights.road_class.primary"].value) == ("60 min", "2")
    assert found["budget.total"].value == "1000000"


def test_every_setting_with_a_value_is_shown_but_for_titles_looks_and_files():
    """Every key of these sections, as the model names them, is there once the programme sets it or it has a default."""
    found = _settings(
        programme={"name": "Quay 2026", "as_of": dt.date(2026, 9, 30), "holidays": "CA-ON", "substitute_days": True},
        matching={"accuracy_by_method": {"gnss": "1 m"}},
        orders={"yards": {"North": "Quay"}, "items": {"grout": {}}, "currency": "CAD"},
        plan={"start": dt.date(2026, 10, 1), "keep": "outputs", "no_work": [{"street": "A", "to": dt.date(2026, 10, 2)}],
              "yards": {"Quay": [0, 0]}, "minutes": {"mix": "3 min"}, "weights": {"usual": "1 min"}},
        costs=dict.fromkeys(Costs.model_fields, 1),
        budget={"total": 1, "by_period": {"2026-10": 1}},
    )  # fmt: skip
    shown = {".".join(key.split(".")[:2]) for key in found}
    sections = {"programme": Programme, "matching": Matching, "orders": Ordering, "plan": Planning, "costs": Costs}
    keys = {f"{name}.{field.alias or own}" for name, of in sections.items() for own, field in of.model_fields.items()}
    assert keys - shown == {
        "programme.name", "programme.as_of", "programme.language", "orders.units", "orders.currency", "orders.stock",
        "plan.keep",
    }  # fmt: skip
    assert {"budget.total", "budget.by_period"} <= shown


def test_what_nobody_set_is_left_out(found):
    assert not {"programme.holidays", "matching.accuracy_by_method", "plan.start", "budget.total"} & set(found)
