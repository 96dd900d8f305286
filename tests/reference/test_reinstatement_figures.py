"""Thresholds and times of the rule book against published figures.

Sources, read unless said otherwise:

- Specification for the Reinstatement of Openings in Highways, 4th edition, May 2020 (code of practice under section 71
  of the New Roads and Street Works Act 1991), Table S2.1 and note NG2.2: intervention limits for surface depression.
- Maturity by Nurse and Saul after ASTM C1074, from memory: by its formula, added up second by second, and a worked
  example of a day (368 degree-hours above 0 degC).
- C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404: the interval 3/32 is computed from the beta distribution.
"""

import math
import tomllib

import numpy as np
import pandas as pd
import pytest

from pipeline.audit.limits import limit_fields, read_limit, widths_limit
from pipeline.audit.rules.placement import DepressionLimits
from pipeline.intervals import true_rate
from pipeline.maturity import return_to_service_min
from pipeline.plan.weather import Supplier, cure_minutes
from pipeline.programme.resources import shipped
from pipeline.units import quantity

# Table S2.1 in mm: width up to, limit, limit of combined defects
_S21 = ((400, 10, 10), (500, 12, 10), (600, 14, 12), (700, 17, 14), (800, 19, 16), (900, 22, 18), (None, 25, 20))


def _bands(rule):
    rules = tomllib.loads((shipped("config") / "codes" / "england.toml").read_text("utf-8"))["rules"]
    return read_limit(rules[rule]["max_depression"], limit_fields(DepressionLimits)["max_depression"], "test")


@pytest.mark.parametrize(("rule", "column"), [("surface-depression", 1), ("depression-with-step", 2)])
def test_the_bands_are_those_of_table_s21(rule, column):
    bands = _bands(rule)
    assert bands.ends == tuple(end for end, *_ in _S21 if end is not None)
    assert bands.values == tuple(row[column] for row in _S21)


def test_the_middle_bands_follow_from_the_note_to_the_table():
    """NG2.2: about 2.5 % of the width, at most 25 mm; for combined defects 80 % of that, at least 10 mm."""
    single, combined = _bands("surface-depression"), _bands("depression-with-step")
    for low, high, one, both in zip(single.ends, single.ends[1:], single.values[1:], combined.values[1:]):
        limit = math.ceil(round(0.025 * (low + high) / 2, 9))
        assert one == limit
        assert both == max(10, math.ceil(round(0.8 * limit, 9)))


@pytest.mark.parametrize(
    ("width", "limit", "combined"),
    [
        (400, 10, 10),
        (400.1, 12, 10),
        (450, 12, 10),
        (457.2, 12, 10),
        (600, 14, 12),
        (610, 17, 14),
        (900, 22, 18),
        (901, 25, 20),
    ],
)
def test_the_table_is_looked_up_widths_limit(width, limit, combined):
    widths = pd.Series([float(width)])
    assert widths_limit(_bands("surface-depression"), widths).tolist() == [limit]
    assert widths_limit(_bands("depression-with-step"), widths).tolist() == [combined]


@pytest.mark.parametrize(
    ("air", "datum_0", "datum_minus_10"),
    [(5, 120, 60), (10, 60, 45), (15, 40, 36), (20, 30, 30), (30, 20, 22.5), (35, 17.1, 20)],
)
def test_thirty_minutes_at_20_degrees_scale_by_nurse_and_saul(air, datum_0, datum_minus_10):
    """30 min x (20 - datum) / (T - datum), and never less than the 30 minutes that the supplier asks for."""
    for datum, minutes in ((0.0, datum_0), (-10.0, datum_minus_10)):
        # without the supplier's minimum
        free = return_to_service_min(pd.Series([float(air)]), 0.001, 20.0, datum) / 0.001 * 30
        if air <= 20:
            assert free.iloc[0] == pytest.approx(minutes, abs=0.05)
        held = return_to_service_min(pd.Series([float(air)]), 30.0, 20.0, datum)
        assert held.iloc[0] == pytest.approx(max(minutes, 30), abs=0.05)


@pytest.mark.parametrize("datum", [0.0, -10.0])
@pytest.mark.parametrize("air", [1.0, 4.0, 9.5, 16.0, 20.0])
def test_the_time_before_traffic_is_that_of_maturity_added_up_second_by_second(air, datum):
    """A second method: add (T - datum) for each second in air of T until the sum is that of 30 minutes at 20 degC."""
    needed = sum(20.0 - datum for _ in range(30 * 60))
    seconds = np.searchsorted(np.cumsum(np.full(30 * 60 * 50, air - datum)), needed * (1 - 1e-12)) + 1
    found = return_to_service_min(pd.Series([air]), 30.0, 20.0, datum).iloc[0]
    assert found == pytest.approx(seconds / 60, abs=1 / 60)


@pytest.mark.parametrize(("datum", "maturity"), [(0.0, 368.0), (-10.0, 608.0)])
def test_a_day_of_changing_temperatures_has_the_maturity_of_the_worked_example(datum, maturity):
    """1 h at 18 degC, 1 h at 22, 2 h at 26, 4 h at 21 and 16 h at 12: 368 degree-hours above 0, 608 above -10."""
    hours = np.repeat([18.0, 22.0, 26.0, 21.0, 12.0], [1, 1, 2, 4, 16])
    # grout that needs just that maturity, stated as ten hours at the temperature that gives it, hardens in 24 hours
    supplier = Supplier(600.0, maturity / 10 + datum, datum, 5.0)
    assert cure_minutes(hours, supplier)[0] == pytest.approx(24 * 60)


def test_at_the_datum_and_below_nothing_hardens():
    assert return_to_service_min(pd.Series([0.0, -3.0]), 30.0, 21.0, 0.0).tolist() == [math.inf, math.inf]


def test_the_interval_on_three_in_thirty_two():
    assert true_rate(3, 32) == pytest.approx((0.0198, 0.2502), abs=5e-5)


def test_temperatures_in_fahrenheit_are_the_exact_celsius_ones():
    assert [round(quantity(f"{f} degF", "degC"), 3) for f in (40, 50, 55, 90, 95)] == [4.444, 10, 12.778, 32.222, 35]
