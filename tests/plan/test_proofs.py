import numpy as np

from pipeline.plan.crews import Team
from pipeline.plan.mix_sets import MixRules
from pipeline.plan.proofs import checked
from pipeline.plan.weather import Curing
from pipeline.programme.plan import Crew
from tests.plan.checker.good_plan import good_plan

_DAYS = np.datetime64("2026-10-05") + np.arange(2)


def _checked(*, pours=True, works=True):
    tables, given = good_plan()
    teams = [
        Team(Crew.model_validate({"name": name}), ("North",), "Yard", (0, 0), "Yard", "programme", 5) for name in "AB"
    ]
    none = np.zeros(2)
    curing = Curing(none + 8, np.full(2, pours), none + 30, none + 450, none + 900, ("forecast",) * 2)
    allowed = np.ones((len(given.jobs), 2), dtype=bool)
    return checked(
        tables, given.jobs, allowed, teams, np.full((2, 2), works), _DAYS, MixRules(10.0, 80.0, 1.0), 28.0, curing
    )


def test_a_good_plan_has_no_faults():
    assert _checked().empty


def test_the_days_and_the_hours_for_pours_reach_the_checks():
    assert set(_checked(pours=False)["check"]) == {"temperature of a pour"}


def test_the_working_days_of_the_crews_reach_the_checks():
    assert set(_checked(works=False)["check"]) == {"working days"}
