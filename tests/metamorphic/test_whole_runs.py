"""The same cores, findings, orders and plan, however the files of a town are written."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from tests.metamorphic.towns import FLIP, QUARTER, Move
from tests.metamorphic.whole_runs import Guise, run, same_town, tables_of
from tests.shared_runs import made_once

_MOVES = st.tuples(*[st.integers(-50_000, 50_000)] * 2).map(lambda by: Move(np.eye(2), np.array(by, dtype=float)))
_GUISES = st.builds(
    Guise, registers=st.integers(1, 4), unit=st.sampled_from(["mm", "cm", "m"]), is_shuffled=st.booleans(),
    is_cut=st.booleans(), has_far_district=st.booleans(), names_in_capitals=st.booleans(), move=_MOVES,
)  # fmt: skip
_FLIPPED = {"left": "right", "right": "left"}


@pytest.fixture(scope="module")
def itself(shared):
    return made_once(shared, "town-itself", lambda folder: tables_of(run(folder, Guise())))


def test_the_town_has_something_of_everything(itself):
    cores, findings, orders, plan = itself
    assert len(cores) == 90
    assert cores["segment_id"].nunique() == 5
    assert {"position-missing", "off-network", "diameter-missing"} <= set(findings["rule"])
    assert cores["district"].nunique() == orders["district"].nunique() == 2
    assert len(plan) > 10


@pytest.mark.parametrize(
    "guise",
    [
        Guise(is_shuffled=True, names_in_capitals=True, has_far_district=True, is_cut=True),
        Guise(registers=3, unit="cm"),
    ],
    ids=["shuffled, in capitals, cut and with a district far away", "three registers in centimetres"],
)
def test_another_guise_is_the_same_town(guise, itself, tmp_path):
    same_town(tables_of(run(tmp_path, guise)), itself)


@settings(max_examples=3, deadline=None, phases=[Phase.explicit, Phase.reuse, Phase.generate])
@given(guise=_GUISES)
def test_whatever_guises_are_put_together_it_is_the_same_town(itself, tmp_path_factory, guise):
    same_town(tables_of(run(tmp_path_factory.mktemp("town"), guise)), itself, but=("lon", "lat"))


def test_layers_and_cores_in_other_systems_of_coordinates_are_in_the_same_place(itself, tmp_path):
    """Layers in degrees, cores in Web Mercator: rounded to a millimetre, their distances are so too."""
    found = tables_of(run(tmp_path, Guise(layers_crs=4326, cores_crs=3857)))
    lengths = ["chainage_m", "offset_m", "lon", "lat"]
    pd.testing.assert_frame_equal(found[0][lengths], itself[0][lengths], check_exact=False, rtol=0, atol=2e-3)
    chances = [name for name in itself[0] if name.endswith("confidence")]
    pd.testing.assert_frame_equal(found[0][chances], itself[0][chances], check_exact=False, rtol=0, atol=2e-3)
    for name in ("segment_id", "side", "surface", "district", "status", "findings", "bags"):
        pd.testing.assert_series_equal(found[0][name], itself[0][name])


def test_reversed_segments_turn_sides_and_chainages_and_nothing_else(itself, tmp_path):
    found = tables_of(run(tmp_path, Guise(is_reversed=True)))
    same_town(found, itself, but=("side", "chainage_m", "message"))
    assert found[0]["side"].map(_FLIPPED).fillna("").tolist() == itself[0]["side"].fillna("").tolist()


def test_a_town_that_is_moved_is_the_same_town_elsewhere(itself, tmp_path):
    found = tables_of(run(tmp_path, Guise(move=Move(np.eye(2), np.array([-40_000.0, 25_000.0])))))
    same_town(found, itself, but=("lon", "lat"))


@pytest.mark.parametrize("turned", [QUARTER, FLIP], ids=["turned", "mirrored"])
def test_a_town_that_is_turned_or_mirrored_is_the_same_town_with_another_way_round_it(turned, itself, tmp_path):
    move = Move(turned, np.array([5_000.0, 0.0]))
    found = tables_of(run(tmp_path, Guise(move=move)))
    same_town(found[:2], itself[:2], but=("lon", "lat", "side"))
    sides = itself[0]["side"].map(_FLIPPED) if move.is_mirrored else itself[0]["side"]
    assert found[0]["side"].fillna("").tolist() == sides.fillna("").tolist()
    # the search for routes takes its points in another order: a round as good, and as much to buy
    (ordered, plan), (ordered_itself, plan_itself) = found[2:], itself[2:]
    assert sorted(plan["core_id"]) == sorted(plan_itself["core_id"])
    assert (plan.groupby("day").size() == plan_itself.groupby("day").size()).all()
    assert plan["travel_m"].sum() == pytest.approx(plan_itself["travel_m"].sum(), rel=0.02)
    needed, needed_itself = (table.groupby("item")["needed"].sum() for table in (ordered, ordered_itself))
    pd.testing.assert_series_equal(needed, needed_itself, rtol=1e-9)
