"""How crews round: told where something shows it, and left open where nothing does."""

import numpy as np
import pandas as pd
import pytest

from pipeline.calibrate import LEAD, calibrate, grout_used_l
from pipeline.errors import SettingsError
from tests.calibrate.made_records import BAG_L, CATALOGUE, void_l

_ROUND = {"up": np.ceil, "nearest": np.round, "down": np.floor}


def _crew(name, step, habit, *, count=60, holes=(457.2,), seed=5):
    """Records of a crew: depths at random, scatter of 4 %."""
    rng = np.random.default_rng(seed)
    hole, depth = rng.choice(holes, count), rng.uniform(100, 430, count)
    bags = 1.2 * void_l(hole, depth) / BAG_L * (1 + 0.04 * rng.standard_normal(count))
    bags = np.maximum(_ROUND[habit](bags / step), 1) * step
    return pd.DataFrame({"hole_mm": hole, "depth_mm": depth, "bags_used": bags, "crew": name})


def _found(*crews, **how):
    cores = pd.concat(crews, ignore_index=True).assign(bedding="pea gravel", is_usable=True)
    used = grout_used_l(cores["bags_used"], pd.Series(np.nan, cores.index), CATALOGUE.materials.grout)
    return calibrate(cores.assign(grout_used_l=used), CATALOGUE, **how)


def test_quarters_of_one_crew_in_holes_of_one_size_cannot_tell():
    """Half a step of rounding and 6.5 mm of bed are the same litres: an eighth of a bag over the hole."""
    found = _found(_crew("Ann", 0.25, "nearest"))
    assert found.crews.loc["Ann", ["habit", "known_from"]].tolist() == ["", ""]
    assert found.crews.loc["Ann", "lead"] < 1
    assert not found.enough
    assert "the records cannot tell whether they were rounded up, to the nearest or down" in found.reasons[0]
    assert "--rounded" in found.reasons[0]
    # the interval covers each way, 6.5 mm apart
    assert found.bed.low_mm < 12.7 - 6.5 / 1.1
    assert found.bed.high_mm > 12.7 + 6.5
    beds = found.by_habit["bed_mm"]
    assert beds.diff().dropna().tolist() == pytest.approx([0.125 * BAG_L / 1.2 / (np.pi / 4 * 0.4572**2)] * 2, abs=0.4)


@pytest.mark.parametrize("habit", ["up", "nearest", "down"])
def test_a_crew_that_reads_a_scale_shows_how_the_other_rounds(habit):
    found = _found(_crew("Ann", 0.25, habit), _crew("Tom", 0.1, "nearest", seed=8))
    assert found.crews["habit"].to_dict() == {"Ann": habit, "Tom": "nearest"}
    assert found.crews["known_from"].to_dict() == {"Ann": "found", "Tom": "scale"}
    assert found.crews.loc["Ann", "lead"] >= LEAD
    assert found.enough, found.reasons
    assert found.bed.low_mm <= 12.7 <= found.bed.high_mm


def test_holes_of_two_sizes_show_how_a_crew_rounds():
    """A bed grows with the area of the hole, by 1.8 from 18 to 24 in; a step does not."""
    found = _found(_crew("Ann", 0.25, "nearest", count=250, holes=(457.2, 609.6)))
    assert found.crews.loc["Ann", "habit"] == "nearest"
    assert found.enough, found.reasons


def test_a_crew_whose_rounding_cannot_be_told_is_left_out_where_the_others_are_enough():
    # half of its records are rounded up, half to the nearest
    mixed = _crew("Ann", 0.25, "up", count=15), _crew("Ann", 0.25, "nearest", count=15, seed=25)
    found = _found(*mixed, _crew("Tom", 0.1, "nearest", count=40, seed=8))
    assert found.crews.loc["Ann", "habit"] == ""
    assert found.crews["is_used"].to_dict() == {"Ann": False, "Tom": True}
    assert found.crews["beside_fit"].isna().to_dict() == {"Ann": True, "Tom": False}
    assert len(found.records) == 40
    assert found.enough, found.reasons
    # too few besides her: then all are used, and that is a reason against the result
    alone = _found(*mixed, _crew("Tom", 0.1, "nearest", count=25, seed=8))
    assert alone.crews["is_used"].all()
    assert "The bags of 1 crew are in steps of 0.25" in alone.reasons[0]


def test_what_was_stated_is_followed_and_a_contradiction_is_a_reason():
    crews = _crew("Ann", 0.25, "nearest"), _crew("Tom", 0.1, "nearest", seed=8)
    found = _found(*crews, rounded="up")
    assert found.crews.loc["Ann", ["habit", "known_from", "against"]].tolist() == ["up", "stated", True]
    assert "contradict the rounding stated with --rounded" in found.reasons[0]
    agreed = _found(*crews, rounded="nearest")
    assert agreed.enough, agreed.reasons


def test_each_crew_may_be_stated_to_round_in_its_own_way():
    crews = _crew("Ann", 0.25, "nearest"), _crew("Bob", 0.25, "up", seed=9), _crew("Tom", 0.1, "nearest", seed=8)
    found = _found(*crews, rounded={" ann": "nearest", "": "up"})
    assert found.crews["habit"].to_dict() == {"Ann": "nearest", "Bob": "up", "Tom": "nearest"}
    assert found.crews["known_from"].to_dict() == {"Ann": "stated", "Bob": "stated", "Tom": "scale"}
    assert found.is_stated
    assert found.enough, found.reasons
    # who is not named is judged
    judged = _found(*crews, rounded={"Ann": "up"})
    assert judged.crews["known_from"].to_dict() == {"Ann": "stated", "Bob": "found", "Tom": "scale"}
    assert judged.crews["against"].to_dict() == {"Ann": True, "Bob": False, "Tom": False}
    assert not _found(*crews).is_stated


def test_a_crew_without_records_cannot_be_stated():
    with pytest.raises(
        SettingsError, match=r'the crew "Eve", of which there are no records; expected one of: Ann\. Correct'
    ):
        _found(_crew("Ann", 0.25, "nearest"), rounded={"Eve": "up"})


def test_a_crew_that_throws_a_tenth_away_uses_more_than_the_fit_and_the_other_less():
    ann, tom = _crew("Ann", 0.05, "nearest"), _crew("Tom", 0.05, "nearest", seed=8)
    found = _found(ann.assign(bags_used=(1.1 * ann["bags_used"] / 0.05).round() * 0.05), tom)
    more, less = found.crews.loc[["Ann", "Tom"], "beside_fit"]
    assert more - less == pytest.approx(0.1, abs=0.02)
    assert less < 0 < more


def test_the_order_of_the_rows_does_not_matter():
    crews = pd.concat([_crew("Ann", 0.25, "up"), _crew("Tom", 0.1, "nearest", seed=8)])
    one, other = _found(crews), _found(crews.iloc[::-1])
    pd.testing.assert_frame_equal(one.crews, other.crews)
    assert one.kerf == other.kerf


def test_a_crew_of_few_records_is_stated_with_the_others_of_few():
    crews = _crew("Ann", 0.25, "nearest"), _crew("Bob", 0.25, "nearest", count=15)
    with pytest.raises(SettingsError, match=r'the crew "Bob", which is among the "crews with fewer than 20 records"'):
        _found(*crews, rounded={"Bob": "up"})
    found = _found(*crews, rounded={"Crews with fewer than 20 records": "up"})
    assert found.crews["known_from"].to_dict()["crews with fewer than 20 records"] == "stated"
