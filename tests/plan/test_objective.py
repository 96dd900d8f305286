import numpy as np
import pandas as pd

from pipeline.plan.objective import BAG_MIN, DAY_MIN, LEFT_OUT_MIN, objective_of


def test_the_parts_of_the_objective_add_up_to_it() -> None:
    # two jobs, three days: the first is due before the plan and done on day 1, the second is not planned at all
    late = np.array([[20.0, 40.0, 60.0], [0.0, 10.0, 20.0]])
    allowed = np.ones((2, 3), dtype=bool)
    crew_days = pd.DataFrame({"travel_min": [12.0, 8.0], "bags": [3.0, 1.5]})
    table = objective_of(late, allowed, np.array([1.0, np.nan]), crew_days).set_index("part")
    # on the first day 20 and 0; then 40 for the first on day 1, and 20 for the second on the last day
    assert table.loc["lateness on the first day possible", "minutes"] == 20.0
    assert table.loc["further lateness", "minutes"] == 40.0 + 20.0 - 20.0
    assert table.loc["travel", "minutes"] == 20.0
    assert table.loc["crew days", "minutes"] == 2 * DAY_MIN
    assert table.loc["bags to mix", "minutes"] == 4.5 * BAG_MIN
    assert table.loc["cores left out", "minutes"] == LEFT_OUT_MIN
    assert table.loc["objective", "minutes"] == 60.0 + 20.0 + 2 * DAY_MIN + 4.5 * BAG_MIN + LEFT_OUT_MIN
    assert table["minutes"].iloc[:-1].sum() == table["minutes"].iloc[-1]


def test_a_crew_day_counts_as_an_hour_a_bag_as_half_and_a_core_left_out_as_five() -> None:
    table = objective_of(
        np.empty((0, 3)), np.empty((0, 3), dtype=bool), np.empty(0), pd.DataFrame({"travel_min": [], "bags": []})
    )
    assert table.index.tolist() == list(range(len(table)))
    weights = table.set_index("part")["weight"]
    assert weights[["travel", "crew days", "bags to mix", "cores left out"]].tolist() == [1.0, 60.0, 30.0, 300.0]


def test_lateness_on_the_first_day_possible_counts_the_days_that_are_closed() -> None:
    late = np.array([[20.0, 40.0, 60.0]])
    crew_days = pd.DataFrame({"travel_min": [0.0], "bags": [0.0]})
    table = objective_of(late, np.array([[False, True, True]]), np.array([2.0]), crew_days).set_index("part")
    assert table.loc["lateness on the first day possible", "minutes"] == 40.0
    assert table.loc["further lateness", "minutes"] == 20.0


def test_a_plan_of_nothing_costs_nothing() -> None:
    crew_days = pd.DataFrame({"travel_min": [], "bags": []}, dtype=float)
    table = objective_of(np.empty((0, 3)), np.empty((0, 3), dtype=bool), np.empty(0), crew_days)
    assert (table["minutes"] == 0.0).all()
