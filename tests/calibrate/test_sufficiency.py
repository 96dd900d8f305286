"""When records of use are sufficient, and what is said if they are not."""

import numpy as np
import pandas as pd
import pytest

from pipeline.calibrate import calibrate, needs_before_and_after
from pipeline.calibrate.model import Estimate
from pipeline.calibrate.sufficiency import insufficiencies
from tests.calibrate.made_records import BAG_L, CATALOGUE, records


def test_thirty_records_are_enough_and_twenty_nine_are_not():
    assert calibrate(records(30), CATALOGUE).enough
    few = calibrate(records(29), CATALOGUE)
    assert few.reasons[0].startswith("29 usable records of use; at least 30 are required.")
    assert np.isnan(few.kerf.mm)


def test_no_record_at_all_is_said_and_nothing_breaks():
    none = calibrate(records(40).assign(is_usable=False), CATALOGUE)
    assert none.reasons[0].startswith("0 usable records")
    assert len(none.records) == len(none.by_diameter) == none.outliers == 0
    assert needs_before_and_after(none)["bags_calibrated"].isna().all()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"shallow": 200, "deep": 250}, "Nine in ten depths are within 45 mm"),
        ({"step": 0.5, "count": 200}, "Bags are recorded in steps of 0.5"),
        ({"kerf": 12, "bed": 12.7, "count": 300}, "outside its plausible range of 5 to 10 mm"),
        ({"kerf": 8, "bed": 35, "count": 300}, "outside its plausible range of 6 to 29 mm"),
        ({"kerf": 7, "noise": 0.25, "count": 30}, "no more precise than"),
    ],
)
def test_records_that_cannot_tell_are_not_gone_by(change, said):
    found = calibrate(records(**change), CATALOGUE)
    assert not found.enough
    assert said in " ".join(found.reasons)


def test_a_third_of_records_that_fit_no_model_is_too_many():
    cores = records(120)
    wrong = np.arange(120) % 3 == 0
    cores.loc[wrong, "grout_used_l"] *= 4
    cores.loc[wrong, "bags_used"] *= 4
    found = calibrate(cores, CATALOGUE)
    assert found.outliers == 40
    assert "33% of the records are outliers" in " ".join(found.reasons)


def _insufficiencies(count=60, depths=(100.0, 400.0), needs=(5.0, 12.0), step=0.1, outliers=0, kerf=(), bed=()):
    """The reasons for records spread evenly between the depths and needs given."""
    table = pd.DataFrame(
        {
            "depth_mm": np.linspace(*depths, count),
            "fitted_l": np.linspace(*needs, count),
            "is_outlier": np.arange(count) < outliers,
        }
    )
    kerf = Estimate(*(kerf or (8.8, 8.5, 9.1)), 9.0, 5.0, 10.0)
    bed = Estimate(*(bed or (13.0, 12.0, 14.0)), 12.7, 6.0, 29.0)
    return list(insufficiencies(table, kerf, bed, step, BAG_L))


def test_sound_records_have_no_reason_against_them():
    assert _insufficiencies() == []


@pytest.mark.parametrize(
    ("count", "said"), [(0, "0 usable records"), (1, "1 usable record of"), (29, "29 usable records")]
)
def test_too_few_records_are_the_only_reason_given(count, said):
    (reason,) = _insufficiencies(count, depths=(100, 110))
    assert reason.startswith(said)
    assert "at least 30 are required" in reason
    assert reason.endswith("Record the bags used at every reinstated core.")


@pytest.mark.parametrize(("span", "enough"), [(50.0, False), (60.0, True)])
def test_nine_in_ten_depths_must_span_fifty_millimetres(span, enough):
    # nine in ten of an even spread are 0.9 of its width: 45 mm and 54 mm
    found = _insufficiencies(depths=(200.0, 200.0 + span))
    assert (found == []) == enough
    if not enough:
        assert found[0].startswith("Nine in ten depths are within 45 mm of each other; at least 50 mm are required")


@pytest.mark.parametrize(("bags", "enough"), [(0.8, False), (0.9, True)])
def test_nine_in_ten_needs_must_span_one_and_a_half_steps(bags, enough):
    # steps of half a bag: 0.9 x 0.8 / 0.5 = 1.44 steps, and 0.9 x 0.9 / 0.5 = 1.62
    found = _insufficiencies(needs=(5.0, 5.0 + bags * BAG_L), step=0.5)
    assert (found == []) == enough
    if not enough:
        assert "in steps of 0.5, and nine in ten needs are within 1.4 steps of each other" in found[0]


@pytest.mark.parametrize(("outliers", "enough"), [(15, True), (16, False)])
def test_up_to_a_quarter_of_the_records_may_be_outliers(outliers, enough):
    found = _insufficiencies(60, outliers=outliers)
    assert (found == []) == enough
    if not enough:
        assert found[0].startswith("27% of the records are outliers; at most 25% are acceptable.")


@pytest.mark.parametrize(
    ("lengths", "said"),
    [
        (
            {"kerf": (10.01, 9.9, 10.1)},
            "The fitted kerf is 10.0 mm (9.9 to 10.1), outside its plausible range of 5 to 10 mm",
        ),
        (
            {"kerf": (8.0, 5.0, 10.1)},
            "The fitted kerf is 8.0 mm (5.0 to 10.1), no more precise than its plausible range",
        ),
        ({"bed": (5.9, 5.0, 7.0)}, "The fitted bed is 5.9 mm (5.0 to 7.0), outside its plausible range of 6 to 29 mm"),
        (
            {"bed": (15.0, 6.0, 29.1)},
            "The fitted bed is 15.0 mm (6.0 to 29.1), no more precise than its plausible range",
        ),
    ],
)
def test_an_implausible_or_imprecise_length_is_a_reason(lengths, said):
    (reason,) = _insufficiencies(**lengths)
    assert reason.startswith(said)


def test_a_length_exactly_at_the_end_of_its_range_is_plausible():
    assert _insufficiencies(kerf=(10.0, 9.5, 10.5), bed=(6.0, 5.0, 7.0)) == []


def test_several_reasons_are_all_given_each_with_what_to_do():
    found = _insufficiencies(depths=(200, 210), needs=(5.0, 5.5), step=0.5, outliers=30, kerf=(12.0, 11.0, 13.0))
    assert len(found) == 4
    assert all(reason.count(". ") >= 1 and reason.endswith(".") for reason in found)
