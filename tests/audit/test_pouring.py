"""The limits of pouring: the strictest of all roads."""

import pandas as pd
import pytest

from pipeline.audit import bind_rules
from pipeline.audit.pouring import pouring_limits
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.settings import Thresholds

_CORES = pd.DataFrame({"road_class": ["main", "local"], "road_authority": None, "surface": "asphalt"})


def test_the_shipped_limits_are_those_of_the_rule_book():
    """70 degF are 21.1 degC, 40 degF are 4.4 degC and 90 degF are 32.2 degC."""
    rules = bind_rules(load_catalogue({}, "test"), "test")
    assert pouring_limits(rules, _CORES) == pytest.approx((30, 21.111, 0, 4.444, 32.222), abs=0.001)


def test_of_limits_that_differ_by_road_the_strictest_is_used():
    rules = {
        "reopened-too-soon": {"supplier_time": "2 h"},
        "air-temperature-outside": {"min_temperature": "50 degF", "max_temperature": "86 degF"},
    }
    where = Thresholds.model_validate({"where": [{"road_class": "main", "rules": rules}]})
    bound = bind_rules(load_catalogue({}, "test", where, "Vale"), "test")
    assert pouring_limits(bound, _CORES) == pytest.approx((120, 21.111, 0, 10, 30), abs=0.001)


def test_of_temperatures_for_opening_that_differ_by_road_the_warmest_is_used():
    """77 degF are 25 degC: what hardens in 30 minutes at 25 degC takes longer at 21."""
    rules = {"reopened-too-soon": {"supplier_temperature": "77 degF", "datum_temperature": "2 degC"}}
    where = Thresholds.model_validate({"where": [{"road_class": "local", "rules": rules}]})
    bound = bind_rules(load_catalogue({}, "test", where, "Vale"), "test")
    assert pouring_limits(bound, _CORES)[1:3] == pytest.approx((25, 2), abs=0.001)
