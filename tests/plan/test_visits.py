"""Visits by whole columns against the same made one visit after the other."""

from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
import pytest

from pipeline.plan.minutes import MINUTE_COLUMNS
from pipeline.plan.mix_sets import MixRules
from pipeline.plan.visits import groups_of, joined, visits_of
from tests.plan.few_jobs import few_jobs, travel_of


def _one_by_one(jobs: pd.DataFrame, members: list[int], apart: Any, rules: MixRules) -> dict[str, Any]:
    """Return the same of one visit, core by core."""
    steps = [{name: float(jobs[name].iloc[at]) for name in MINUTE_COLUMNS} for at in members]
    net = np.array([float(jobs["net_bags"].iloc[at]) for at in members])
    if not net[0] > 0:
        worked = steps[0]["survey_min"] if jobs["task"].iloc[members[0]] == "survey" else steps[0]["make_safe_min"]
        alone = {"opened": [0.0], "arrival": [0.0], "pour": [np.nan], "pressed": [np.nan], "walk_m": [0.0]}
        return alone | {"span": 0.0, "worked": worked}
    used = np.ceil(np.round(np.cumsum(net) / rules.smallest, 9)) * rules.smallest
    used[-1] = np.ceil(np.round(net.sum() / rules.smallest, 9)) * rules.smallest
    opened = np.diff(np.concatenate([[0.0], used]))
    walk_m = [0.0, *(apart[step] for step in pairwise(members))]
    walks = np.array(walk_m[1:]) / rules.walking_m_min
    prepare = np.array([one["set_up_min"] + one["dry_fit_min"] for one in steps])
    arrival = np.concatenate([[0.0], np.cumsum(prepare[:-1] + walks)])
    at = arrival[-1] + prepare[-1] + (apart[members[-1], members[0]] / rules.walking_m_min if len(members) > 1 else 0)
    pour, pressed = [], []
    for core, one in enumerate(steps):
        at += np.ceil(opened[core] - 1e-9) * one["mix_min"]
        pour.append(at)
        at += one["pour_min"] + one["press_min"]
        pressed.append(at)
        at += walks[core] if core < len(walks) else 0.0
    hands = np.array([one["pour_min"] + one["press_min"] for one in steps])
    worked = at + np.array([one["clean_min"] for one in steps]).sum()
    made = {"opened": opened, "arrival": arrival, "pour": pour, "pressed": pressed, "walk_m": walk_m}
    return made | {"span": hands.sum() + walks.sum(), "worked": worked}


def _town(seed: int) -> tuple[pd.DataFrame, list[list[int]], MixRules]:
    """Return some jobs along a street and visits to them: of up to ten cores where they need grout."""
    chance = np.random.default_rng(seed)
    net = np.where(chance.random(30) < 0.2, 0.0, chance.integers(1, 9, 30) * 0.3)
    minutes = {name: chance.random(30) * 20 for name in MINUTE_COLUMNS}
    tasks = np.where(net > 0, "reinstate", np.where(chance.random(30) < 0.5, "survey", "make safe"))
    jobs = few_jobs(net, chance.random(30) * 900, task=tasks, gravel_kg=chance.random(30) * 40, **minutes)
    waiting, sets = chance.permutation(np.flatnonzero(net > 0)).tolist(), [[at] for at in np.flatnonzero(net == 0)]
    while waiting:
        size = int(chance.integers(1, 11))
        sets.append(waiting[:size])
        waiting = waiting[size:]
    order = chance.permutation(len(sets))
    return jobs, [sets[at] for at in order], MixRules(10.0, 70.0, float(chance.choice([0.5, 1.0])))


@pytest.mark.parametrize("seed", range(40))
def test_visits_by_whole_columns_are_those_made_one_after_the_other(seed: int) -> None:
    jobs, sets, rules = _town(seed)
    travel, every = travel_of(jobs), np.arange(len(jobs))
    apart = travel.metres(every, every)
    made = groups_of(jobs, sets, travel, rules)
    late, chance = np.random.default_rng(seed).random((len(jobs), 4)), np.random.default_rng(seed).random((30, 4)) < 0.8
    visits = visits_of(jobs, made, chance, chance[:, :2], late, 25.0, 3.5)
    for number, members in enumerate(sets):
        wanted = _one_by_one(jobs, members, apart, rules)
        own = slice(made.first[number], made.first[number + 1])
        assert made.job[own].tolist() == members
        for name in ("opened", "arrival", "pour", "pressed", "walk_m"):
            np.testing.assert_array_equal(getattr(made, name)[own], wanted[name], name)
        assert (made.span[number], made.worked[number]) == (wanted["span"], wanted["worked"])
        gravel = jobs["gravel_kg"].to_numpy()[members].sum()
        assert visits.load_kg[number] == np.sum(wanted["opened"]) * 28.5 + gravel
        assert (visits.entry[number], visits.exit[number], visits.cores[number]) == (
            members[0],
            members[-1],
            len(members),
        )
        np.testing.assert_array_equal(visits.late[number], late[members].sum(axis=0))
        np.testing.assert_array_equal(visits.allowed[number], chance[members].all(axis=0))
        np.testing.assert_array_equal(visits.fits[number], chance[members, :2].all(axis=0))


def test_some_of_the_visits_and_visits_one_after_the_other_keep_their_cores() -> None:
    jobs, sets, rules = _town(1)
    made = groups_of(jobs, sets, travel_of(jobs), rules)
    halves = joined([made.of(np.arange(5)), made.of(np.arange(5, len(sets)))])
    for whole, again in zip(made, halves, strict=True):
        np.testing.assert_array_equal(whole, again)
    assert made.of(np.array([3, 1])).job.tolist() == [*sets[3], *sets[1]]
    assert joined([]).first.tolist() == [0]
