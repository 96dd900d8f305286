import numpy as np
import pandas as pd

from pipeline.plan.crews import Team
from pipeline.plan.slots import able_crews, slots_of
from pipeline.programme.plan import Crew


def _team(name, districts, surfaces=()):
    crew = Crew.model_validate({"name": name, "surfaces": list(surfaces)})
    return Team(crew, tuple(districts), "Yard", (0.0, 0.0), "Yard", "programme", 0)


_JOBS = pd.DataFrame({"district": ["North", "South", "North"], "surface": ["asphalt", "asphalt", "concrete"]})
_TEAMS = [_team("A", ["North", "South"], ["asphalt"]), _team("B", ["North"])]


def test_a_crew_is_able_where_it_serves_the_district_and_works_in_the_surface():
    assert able_crews(_JOBS, _TEAMS).tolist() == [[True, True], [True, False], [False, True]]


def test_a_slot_is_a_day_that_is_allowed_and_on_which_an_able_crew_works():
    allowed = np.array([[1, 1], [1, 0], [0, 1]], dtype=bool)
    slots = slots_of(able_crews(_JOBS, _TEAMS), allowed, np.array([[1, 0], [1, 1]], dtype=bool))
    bits = np.unpackbits(slots.bits, axis=1, count=4).tolist()
    # day 0 with A and B, then day 1
    assert bits == [[1, 1, 0, 1], [1, 0, 0, 0], [0, 0, 0, 1]]
    assert slots.first_days(slots.bits).tolist() == [0, 0, 1]
    assert slots.of(np.array([2])).bits.tolist() == slots.bits[[2]].tolist()


def test_without_work_and_without_crews_there_are_no_slots():
    nothing = _JOBS.iloc[:0]
    assert able_crews(nothing, []).shape == (0, 0)
    assert (
        slots_of(able_crews(nothing, []), np.ones((0, 2), dtype=bool), np.ones((0, 2), dtype=bool)).bits.shape[0] == 0
    )
