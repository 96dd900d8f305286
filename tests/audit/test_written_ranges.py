"""Written values as ranges: nothing is found that the true value does not have, and nothing it has is passed."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pipeline.audit.figures import minutes_uncertain, water_ratio_range
from pipeline.audit.findings import find
from pipeline.audit.written_ranges import TOLERANCE, WrittenRange, above, below, both, either, outside, size_shares
from pipeline.calibrate import grout_used_l, grout_used_range_l, void_range_l
from pipeline.programme.catalogue import load_catalogue
from pipeline.specify import specify
from tests.audit.frames import frame, reinstated
from tests.audit.rules.cases import is_at_limit, sentence

_CATALOGUE = load_catalogue({}, "test")
_GROUT = _CATALOGUE.materials.grout
_STEPS = st.sampled_from([0.01, 0.05, 0.1, 0.25, 0.5, 1.0, 5 / 9, 12.7, 25.4])


def _range(value, step):
    return WrittenRange.of(pd.Series([float(value)]), pd.Series([step], dtype=float))


def _written(true, step):
    """The value as someone writes it who rounds to the step."""
    return np.round(true / step) * step


@pytest.mark.parametrize(
    ("value", "step", "sure", "possible"),
    [
        # to the millimetre, 5 stands for 4.5 to 5.5
        (5.0, 1.0, False, True),
        (6.0, 1.0, True, True),
        (4.0, 1.0, False, False),
        # 5.5 less half a millimetre is the limit itself, which passes
        (5.5, 1.0, False, True),
        (4.5, 1.0, False, False),
        (5.1, 0.1, True, True),
        (5.0, 0.1, False, True),
        # an unknown step is none
        (5.0, None, False, False),
        (5.1, None, True, True),
    ],
)
def test_a_limit_is_breached_if_every_value_written_so_breaches_it(value, step, sure, possible):
    verdict = above(_range(value, step), 5.0)
    assert (verdict.sure[0], verdict.possible[0]) == (sure, possible)
    low = below(_range(-value, step), -5.0)
    assert (low.sure[0], low.possible[0]) == (sure, possible)


def test_the_range_of_a_size_does_not_go_below_nought():
    size = WrittenRange.of(pd.Series([0.0, -5.0, 5.0, 0.3]), pd.Series([1.0, 1.0, 1.0, 1.0])).size
    assert size.low.tolist() == [0.0, 4.5, 4.5, 0.0]
    assert size.high.tolist() == pytest.approx([0.5, 5.5, 5.5, 0.8])


def test_two_doubts_make_no_certainty():
    sure, doubtful = above(_range(9.0, 1.0), 5.0), above(_range(5.0, 1.0), 5.0)
    never = above(_range(1.0, 1.0), 5.0)
    cases = {both: [(sure, doubtful), (doubtful, doubtful)], either: [(never, doubtful), (doubtful, doubtful)]}
    for joined, pairs in cases.items():
        for one, other in pairs:
            assert (joined(one, other).sure[0], joined(one, other).possible[0]) == (False, True)
    assert not both(never, doubtful).possible[0]
    assert either(sure, doubtful).sure[0]


def test_a_verdict_gives_findings_the_cores_for_which_it_cannot_tell():
    cores = pd.DataFrame({"flush_mm": [6.0, 5.0, 1.0]}, index=[7, 8, 9])
    verdict = above(WrittenRange.of(cores["flush_mm"], pd.Series(1.0, cores.index)), 5.0)
    findings = verdict.on(find(cores[verdict.sure], "Step.", "Reset it."))
    assert (findings.templates.index.tolist(), findings.at_limit.tolist()) == ([7], [8])


@settings(max_examples=200, deadline=None)
@given(st.floats(-100, 100), _STEPS, st.floats(-90, 90), st.floats(0, 50))
def test_rounding_makes_no_breach_and_hides_none(true, step, limit, width):
    assume(all(abs(true - end) > 10 * TOLERANCE for end in (limit, limit + width)))
    written = _range(_written(true, step), step)
    for verdict, breaches in (
        (above(written, limit), true > limit),
        (below(written, limit), true < limit),
        (outside(written, limit, limit + width), not limit <= true <= limit + width),
        (above(written.size, abs(limit)), abs(true) > abs(limit) + TOLERANCE),
    ):
        assert not verdict.sure[0] or breaches
        assert not breaches or verdict.possible[0]


@settings(max_examples=60, deadline=None)
@given(
    st.floats(0.2, 8), st.floats(0.05, 0.2), st.sampled_from([0.05, 0.1, 0.25, 0.5, 1.0]),
    st.sampled_from([0.01, 0.1, 0.2, 0.5, 0.0378541178]),
)  # fmt: skip
def test_the_true_ratio_and_the_true_grout_lie_in_the_ranges_of_what_was_written(bags, ratio, bag_step, water_step):
    """Ratio by 20 kg per bag; the water counts by the figures as they are written."""
    water = bags * 20 * ratio
    cores = pd.DataFrame(
        {
            "bags_used": [_written(bags, bag_step)],
            "water_l": [_written(water, water_step)],
            "bags_used_step": [bag_step],
            "water_step_l": [water_step],
        }
    )
    assume(cores["bags_used"][0] > 0)
    low, high = water_ratio_range(cores, _GROUT).iloc[0]
    assert low - TOLERANCE <= ratio <= high + TOLERANCE
    used = grout_used_range_l(cores, _GROUT).iloc[0]
    true, written = (
        grout_used_l(pd.Series([one]), pd.Series([other]), _GROUT)[0]
        for one, other in ((bags, water), (cores["bags_used"][0], cores["water_l"][0]))
    )
    assert used["grout_used_low_l"] <= written + TOLERANCE
    assert written <= used["grout_used_high_l"] + TOLERANCE
    counted = [0.5 * 2 * one < other < 2 * 2 * one for one, other in ((bags, water), cores.iloc[0, :2])]
    if all(counted):
        assert used["grout_used_low_l"] - 1e-6 <= true <= used["grout_used_high_l"] + 1e-6


def test_half_a_bag_either_way_by_hand():
    """One bag and 2 L, to half a bag and 0.1 L: 1.95 / (1.25 x 20) = 0.078, 2.05 / (0.75 x 20) = 0.1367."""
    cores = pd.DataFrame({"bags_used": [1.0, 0.25], "water_l": [2.0, 0.5], "bags_used_step": 0.5, "water_step_l": 0.1})
    found = water_ratio_range(cores, _GROUT)
    assert found.iloc[0].tolist() == pytest.approx([0.078, 2.05 / 15])
    # a quarter of a bag to the nearest half may have been next to none
    assert found["high"][1] == np.inf


def test_no_bags_give_no_range_of_ratios():
    cores = pd.DataFrame({"bags_used": [0.0], "water_l": [1.0], "bags_used_step": [1.0], "water_step_l": [0.1]})
    assert water_ratio_range(cores, _GROUT).isna().all(axis=None)


@settings(max_examples=30, deadline=None)
@given(st.floats(150, 950), st.floats(30, 900), st.sampled_from([1.0, 12.7, 25.4]), st.sampled_from([1.0, 12.7, 50.0]))
def test_the_void_of_the_true_sizes_lies_within_the_shares_of_the_written_ones(hole, depth, wide_step, deep_step):
    written = pd.DataFrame(
        {
            "hole_mm": [_written(hole, wide_step)],
            "depth_believed_mm": [_written(depth, deep_step)],
            "diameter_step_mm": [wide_step],
            "depth_step_mm": [deep_step],
        }
    )
    assume(written["depth_believed_mm"][0] > 0)
    specified = specify(pd.DataFrame({"surface": pd.Series(["asphalt"], dtype="str")}), _CATALOGUE)
    true = void_range_l(specified, pd.Series([hole]), pd.Series([depth]), _CATALOGUE).iloc[0]
    found = void_range_l(specified, written["hole_mm"], written["depth_believed_mm"], _CATALOGUE).iloc[0]
    shares = size_shares(written)
    for end in ("grout_least_l", "grout_most_l"):
        assert found[end] * shares.low[0] <= true[end] * (1 + 1e-9) + 1e-9
        assert true[end] <= found[end] * shares.high[0] * (1 + 1e-9) + 1e-9


def test_the_shares_of_the_void_by_hand():
    """200 mm to the nearest 20 and 100 mm to the nearest 10 are 5 % either way: 0.95 cubed and 1.05 cubed."""
    cores = pd.DataFrame(
        {"hole_mm": [200.0], "depth_believed_mm": 100.0, "diameter_step_mm": 20.0, "depth_step_mm": 10.0}
    )
    assert [end.item() for end in size_shares(cores)] == pytest.approx([0.857375, 1.157625])


def test_sizes_of_unknown_step_leave_the_void_as_it_is():
    cores = pd.DataFrame(
        {"hole_mm": [450.0, np.nan], "depth_believed_mm": 200.0, "diameter_step_mm": np.nan, "depth_step_mm": np.nan}
    )
    assert [list(end) for end in size_shares(cores)] == [[1.0, 1.0], [1.0, 1.0]]


def test_times_are_off_by_a_minute_together_unless_their_register_writes_seconds():
    cores = frame(
        reinstated(reinstated_at="2026-09-12 10:00:00", reopened_at="2026-09-12 10:30:00"),
        reinstated(reinstated_at="2026-09-12 10:00:00", reopened_at="2026-09-12 10:30:00", register="south"),
        reinstated(reinstated_at="2026-09-12 10:00:07", reopened_at="2026-09-12 10:30:00", register="south"),
    )
    assert minutes_uncertain(cores).tolist() == pytest.approx([1.0, 0.5 + 0.5 / 60, 0.5 + 0.5 / 60])


def test_a_time_in_the_hour_that_the_clocks_repeat_may_be_an_hour_off():
    """In Toronto the hour from 1:00 comes twice on 1 November 2026."""
    cores = frame(*[reinstated(reinstated_at="2026-09-12", reopened_at="2026-09-12")] * 3)
    cores["reinstated_at"], cores["reopened_at"] = (
        pd.to_datetime(pd.Series(texts)).dt.tz_localize("America/Toronto", ambiguous=True)
        for texts in (
            ["2026-11-01 01:50", "2026-11-01 01:50", "2026-11-01 00:59"],
            ["2026-11-01 02:20", "2026-11-01 01:20", "2026-11-01 02:00"],
        )
    )
    assert minutes_uncertain(cores).tolist() == [61.0, 121.0, 1.0]


def test_a_width_at_the_edge_of_two_limits_cannot_be_told():
    """Up to 500 mm wide 12 mm are allowed, above 17 mm: 500 mm to the nearest 10 may be either."""
    cells = {"hole_mm": 500.0, "diameter_step_mm": 10.0, "depression_step_mm": 0.1}
    assert is_at_limit("surface-depression", frame(reinstated(depression_mm=13.0, **cells)))
    assert sentence("surface-depression", reinstated(depression_mm=17.1, **cells)) is not None
    assert sentence("surface-depression", reinstated(depression_mm=11.9, **cells)) is None
    assert not is_at_limit("surface-depression", frame(reinstated(depression_mm=11.9, **cells)))


def test_a_temperature_to_the_degree_decides_whether_a_time_is_short():
    """30 minutes at 21.11 degC are 63.3 at 10 degC, and between 60.3 and 66.7 at 10 degC to the nearest degree."""
    for minutes, is_found, is_open in (
        (59.0, True, False),
        (62.0, False, True),
        (65.0, False, True),
        (67.0, False, False),
    ):
        cells = reinstated(reopened_after_min=minutes, air_temperature_c=10.0, air_temperature_step_c=1.0)
        assert (sentence("reopened-too-soon", cells) is not None, is_at_limit("reopened-too-soon", frame(cells))) == (
            is_found,
            is_open,
        )


def test_a_size_written_more_coarsely_than_itself_may_be_none_at_all_and_no_less():
    """100 mm to the nearest 300 is 0 to 250 mm; worked out by shares, no less than none of it and no more than twice."""
    cores = pd.DataFrame(
        {"hole_mm": [100.0], "depth_believed_mm": 100.0, "diameter_step_mm": 300.0, "depth_step_mm": np.nan}
    )
    assert [end.item() for end in size_shares(cores)] == [0, 4]
