"""What the plan and the open cores cost, by hand, and the forecast beside the budget."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.contracts import ORDER_TABLES, names_of
from pipeline.errors import SettingsError
from pipeline.order.costs import Spending, costs_of, refuse_unusable_budget
from pipeline.programme.orders import Item, Ordering
from pipeline.programme.plan import Budget, Costs, Planning

# a Wednesday; four weeks from Thursday 1 to Wednesday 28 October, the weeks 40 to 44
_AS_OF = dt.date(2026, 9, 30)
_FOUR_WEEKS = Planning(horizon="28 day")


def _day(text):
    return pd.Timestamp(text, tz="UTC") if text else pd.NaT


def _cores(*rows):
    """Open cores: district, and the days on which they were plated and the permit expires."""
    frame = pd.DataFrame(rows, columns=["district", "plated_on", "permit_expires_on"])
    for name in ("plated_on", "permit_expires_on"):
        frame[name] = pd.Series([_day(text) for text in frame[name]], dtype="datetime64[us, UTC]")
    return frame.assign(
        is_open=True, is_copy=False, register="North list", shade="dark", district=frame["district"].astype("str")
    )


def _stops(cores, days, crew="Crew A", **columns):
    """A stop at each core with a day."""
    at = [number for number, day in enumerate(days) if day]
    frame = pd.DataFrame({"day": pd.to_datetime([days[number] for number in at])}, index=cores.index[at])
    frame = frame.assign(
        crew=pd.Series([crew] * len(at), at, dtype="str"), stop=range(1, len(at) + 1), task="reinstate",
        bags=1.0,
    )  # fmt: skip
    return frame.assign(**columns)


def _costs(cores, stops, prices=None, budget=None, ordering=None, planning=_FOUR_WEEKS):
    spending = Spending(Costs(**prices or {}), Budget(**budget or {}), planning)
    return costs_of(cores, stops, ordering or Ordering(currency="CAD"), spending, _AS_OF)


def _by_week(table, kind, column="quantity"):
    mine = table[table["kind"].eq(kind)]
    return dict(zip(mine["week"], mine[column], strict=True))


def test_grout_visits_and_crew_days_are_those_of_the_plan():
    # on Thursday two stops of 2 and 0 bags; on Monday one of 1 bag in another district
    cores = _cores(("East", None, None), ("East", None, None), ("West", None, None))
    stops = _stops(cores, ["2026-10-01", "2026-10-01", "2026-10-05"], bags=[2.0, 0.0, 1.0])
    ordering = Ordering(items={"grout dark": Item(price=15)}, currency="CAD")
    table = _costs(cores, stops, {"visit": 40, "crew_day": 900}, ordering=ordering).costs
    assert list(table) == list(names_of(ORDER_TABLES["costs"]))
    assert table.drop(columns=["register", "currency"]).to_numpy().tolist() == [
        ["grout", "East", "Crew A", "2026-W40", 2.0, "bag", 30.0],
        ["grout", "West", "Crew A", "2026-W41", 1.0, "bag", 15.0],
        ["visits", "East", "Crew A", "2026-W40", 2.0, "visit", 80.0],
        ["visits", "West", "Crew A", "2026-W41", 1.0, "visit", 40.0],
        ["crew days", "East", "Crew A", "2026-W40", 1.0, "day", 900.0],
        ["crew days", "West", "Crew A", "2026-W41", 1.0, "day", 900.0],
    ]
    assert set(table["register"]) == {"North list"}
    assert set(table["currency"]) == {"CAD"}


def test_a_crews_day_is_shared_by_its_stops():
    cores = _cores(("East", None, None), ("East", None, None), ("East", None, None), ("West", None, None))
    table = _costs(cores, _stops(cores, ["2026-10-01"] * 4), {"crew_day": 800}).costs
    days = table[table["kind"].eq("crew days")].set_index("district")
    assert days["quantity"].to_dict() == {"East": 0.75, "West": 0.25}
    assert days["amount"].to_dict() == {"East": 600, "West": 200}


def test_a_plate_is_hired_until_the_day_before_the_core_is_reinstated():
    # laid on Monday 28 September, reinstated on Tuesday 6 October: 28 and 29 September came before the audit,
    # 30 September to 4 October are five days of week 40, and 5 October is one of week 41
    cores = _cores(("East", "2026-09-28", None))
    table = _costs(cores, _stops(cores, ["2026-10-06"]), {"plate_per_day": 10}).costs
    assert _by_week(table, "plates") == {"so far": 2, "2026-W40": 5, "2026-W41": 1}
    assert _by_week(table, "plates", "amount") == {"so far": 20, "2026-W40": 50, "2026-W41": 10}


def test_a_permit_is_overrun_from_the_day_after_its_last_until_the_day_of_the_reinstatement():
    # last day Saturday 3 October: Sunday 4 October is in week 40, Monday and Tuesday in week 41
    cores = _cores(("East", None, "2026-10-03"))
    table = _costs(cores, _stops(cores, ["2026-10-06"]), {"permit_overrun_per_day": 100, "penalty": 500}).costs
    assert _by_week(table, "permit overrun") == {"2026-W40": 1, "2026-W41": 2}
    assert _by_week(table, "permit overrun", "amount") == {"2026-W40": 100, "2026-W41": 200}
    assert _by_week(table, "penalties", "amount") == {"2026-W40": 500}


def test_a_core_reinstated_on_the_last_day_of_its_permit_overruns_nothing():
    cores = _cores(("East", None, "2026-10-06"))
    table = _costs(cores, _stops(cores, ["2026-10-06"])).costs
    assert not set(table["kind"]) & {"permit overrun", "penalties"}


def test_a_permit_that_ran_out_before_the_audit_has_its_penalty_so_far():
    cores = _cores(("East", None, "2026-09-27"))
    table = _costs(cores, _stops(cores, ["2026-10-01"])).costs
    # 28 and 29 September; 30 September and 1 October
    assert _by_week(table, "permit overrun") == {"so far": 2, "2026-W40": 2}
    assert _by_week(table, "penalties") == {"so far": 1}


def test_a_core_that_is_not_planned_counts_until_the_end_of_the_horizon():
    cores = _cores(("East", "2026-10-01", "2026-10-01"), (None, None, None))
    table = _costs(cores, _stops(cores, [None, None])).costs
    assert set(table["crew"]) == {"(not planned)"}
    # 1 to 28 October, and 2 to 28 October
    assert sum(_by_week(table, "plates").values()) == 28
    assert sum(_by_week(table, "permit overrun").values()) == 27


def test_a_plan_that_was_to_begin_before_the_audit_costs_from_the_day_after_it():
    cores = _cores(("East", "2026-10-01", None))
    planning = Planning(start=dt.date(2026, 8, 3), horizon="28 day")
    late = _costs(cores, _stops(cores, ["2026-10-28"]), planning=planning).costs
    assert _by_week(late, "visits") == {"2026-W44": 1}


def test_a_survey_does_not_end_the_hire_of_a_plate():
    cores = _cores(("East", "2026-10-01", None))
    table = _costs(cores, _stops(cores, ["2026-10-02"], task="survey", bags=0.0)).costs
    assert sum(_by_week(table, "plates").values()) == 28
    assert _by_week(table, "visits") == {"2026-W40": 1}


def test_reinstated_cores_and_copies_cost_nothing():
    cores = _cores(("East", "2026-09-01", "2026-09-01"), ("East", "2026-09-01", "2026-09-01"))
    cores = cores.assign(is_open=[False, True], is_copy=[False, True])
    assert _costs(cores, _stops(cores, [None, None])).costs.empty


def test_without_prices_the_exposure_in_days_is_given():
    cores = _cores(("East", "2026-09-28", "2026-10-03"))
    found = _costs(cores, _stops(cores, ["2026-10-06"]), ordering=Ordering())
    assert found.costs["amount"].isna().all()
    assert found.costs["quantity"].gt(0).all()
    assert found.budget.empty


def test_grout_of_a_shade_without_a_price_has_no_amount():
    cores = _cores(("East", None, None), ("West", None, None)).assign(shade=["dark", "pale"])
    stops = _stops(cores, ["2026-10-01"] * 2)
    table = _costs(cores, stops, ordering=Ordering(items={"grout dark": Item(price=15)}, currency="CAD")).costs
    grout = table[table["kind"].eq("grout")]
    assert grout["amount"].iloc[0] == 15
    assert np.isnan(grout["amount"].iloc[1])


def test_the_forecast_is_added_up_beside_the_budget_and_what_came_before_is_not():
    # plates at 10 per day: 20 so far, 50 in week 40, 10 in week 41
    cores = _cores(("East", "2026-09-28", None))
    budget = {"total": 70, "by_period": {"2026-W40": 40, "2026-W42": 5}}
    table = _costs(cores, _stops(cores, ["2026-10-06"]), {"plate_per_day": 10}, budget).budget
    assert table.set_index("week").round(6).astype(object).where(table.set_index("week").notna(), None).to_dict("index") == {
        "so far": {"amount": 20, "cumulative": None, "budget": None, "budget_cumulative": None, "beyond": None},
        "2026-W40": {"amount": 50, "cumulative": 50, "budget": 40, "budget_cumulative": 40, "beyond": 10},
        "2026-W41": {"amount": 10, "cumulative": 60, "budget": None, "budget_cumulative": None, "beyond": None},
        "2026-W42": {"amount": 0, "cumulative": 60, "budget": 5, "budget_cumulative": 45, "beyond": -5},
        np.nan: {"amount": 60, "cumulative": None, "budget": 70, "budget_cumulative": None, "beyond": -10},
    }  # fmt: skip


@pytest.mark.parametrize(("period", "names"), [("month", ["2026-09", "2026-10"]), ("all", ["all"])])
def test_periods_are_those_of_the_orders(period, names):
    cores = _cores(("East", "2026-09-30", None))
    table = _costs(cores, _stops(cores, ["2026-10-03"]), ordering=Ordering(period=period)).costs
    assert list(_by_week(table, "plates")) == names
    assert sum(_by_week(table, "plates").values()) == 3


def test_a_budget_for_a_period_that_is_not_in_the_plan_is_refused():
    spending = Spending(Costs(visit=1), Budget(by_period={"2026-W46": 5}), _FOUR_WEEKS)
    with pytest.raises(SettingsError, match=r'found "2026-W46", expected .* from "2026-W40" to "2026-W44"'):
        refuse_unusable_budget(Ordering(), spending, _AS_OF)


def test_a_budget_without_any_price_is_refused_and_one_price_suffices():
    budget = Budget(total=5)
    with pytest.raises(SettingsError, match="found a budget and no price, expected"):
        refuse_unusable_budget(Ordering(), Spending(Costs(), budget, _FOUR_WEEKS), _AS_OF)
    refuse_unusable_budget(Ordering(), Spending(Costs(visit=1), budget, _FOUR_WEEKS), _AS_OF)
    refuse_unusable_budget(
        Ordering(items={"grout dark": Item(price=1)}), Spending(Costs(), budget, _FOUR_WEEKS), _AS_OF
    )


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.integers(-40, 60), st.integers(-40, 60), st.integers(0, 27)), min_size=1, max_size=6))
def test_days_of_all_periods_add_up_to_the_days_of_each_core(rows):
    first = pd.Timestamp(_AS_OF)
    written = [[str((first + pd.Timedelta(days=days)).date()) for days in row[:2]] for row in rows]
    cores = _cores(*(("East", *pair) for pair in written))
    back = [first + pd.Timedelta(days=1 + row[2]) for row in rows]
    table = _costs(cores, _stops(cores, [str(day.date()) for day in back])).costs
    # the plate comes off on the day of the reinstatement; that day is still one of the overrun
    assert sum(_by_week(table, "plates").values()) == sum(max(1 + late - laid, 0) for laid, _, late in rows)
    assert sum(_by_week(table, "permit overrun").values()) == sum(max(1 + late - last, 0) for _, last, late in rows)
    assert sum(_by_week(table, "penalties").values()) == sum(1 + late > last for _, last, late in rows)


@pytest.mark.parametrize(("price", "amount"), [(20, 50), (None, None)])
def test_grout_of_two_shades_in_one_week_is_one_row_whose_amount_is_known_if_both_prices_are(price, amount):
    """2 bags at 15 and 1 bag at 20: 3 bags for 50."""
    cores = _cores(("East", None, None), ("East", None, None)).assign(shade=["dark", "pale"])
    ordering = Ordering(items={"grout dark": Item(price=15), "grout pale": Item(price=price)}, currency="CAD")
    table = _costs(cores, _stops(cores, ["2026-10-01"] * 2, bags=[2.0, 1.0]), {"visit": 1}, ordering=ordering).costs
    grout = table[table["kind"].eq("grout")]
    assert grout["quantity"].tolist() == [3]
    assert [None if pd.isna(one) else one for one in grout["amount"]] == [amount]
