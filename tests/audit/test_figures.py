"""Figures that rules compare, each worked by hand."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from pipeline.audit.figures import core_state, days_of, minutes_between, water_ratio, with_figures, yes_or_no
from pipeline.programme.catalogue import load_catalogue
from tests.audit.frames import SOUND, frame

ZONE = "America/Toronto"


def _instants(*cells):
    return pd.Series(pd.to_datetime(list(cells)).tz_localize(ZONE))


def _texts(*cells):
    return pd.Series(cells, dtype="str")


def test_a_day_is_the_local_one():
    """23:30 in Toronto is the next day in Greenwich."""
    days = days_of(_instants("2026-09-30 23:30", None))
    assert days.dt.tz is None
    assert days.tolist()[0] == pd.Timestamp("2026-09-30")
    assert pd.isna(days[1])


def test_water_is_per_kilogram_of_dry_grout():
    """Two bags of 20 kg with 8 L: 8 / 40 = 0.2 L per kg."""
    grout = SimpleNamespace(bag=SimpleNamespace(value=20.0))
    ratio = water_ratio(pd.Series([8.0, 8.0, np.nan, 8.0]), pd.Series([2.0, 0.0, 2.0, np.nan]), grout)
    assert ratio[0] == pytest.approx(0.2)
    # no bags, no ratio: never infinite
    assert ratio[1:].isna().all()


@pytest.mark.parametrize(
    ("start", "end", "minutes"),
    [
        ("2026-09-30 14:05", "2026-09-30 14:50", 45.0),
        ("2026-09-30 14:05", "2026-09-30 13:05", -60.0),
        # clocks went back at 2:00 on that night: one hour more
        ("2026-11-01 00:30", "2026-11-01 03:30", 240.0),
        ("2026-09-30", "2026-09-30 14:50", None),
        ("2026-09-30 14:05", "2026-09-30", None),
    ],
)
def test_minutes_are_counted_only_between_times_of_day(start, end, minutes):
    found = minutes_between(_instants(start), _instants(end), _texts(start), _texts(end))[0]
    assert pd.isna(found) if minutes is None else found == minutes


def test_a_date_answers_yes_an_empty_cell_no_and_an_unreadable_one_nothing():
    answers = yes_or_no(_instants("2026-09-30", None, None), _texts(None, None, "unreadable"))
    assert answers[:2].tolist() == ["yes", "no"]
    assert pd.isna(answers[2])


def test_an_empty_cell_says_no_only_in_a_register_that_keeps_the_column():
    """North keeps the date of plating and south does not; both keep the notice, and neither the inspection."""
    cores = frame(SOUND, {**SOUND, "plated_on": "2026-09-10"}, {**SOUND, "register": "south"})
    kept = {"plated_on": frozenset({"north"}), "notice_sent_on": frozenset({"north", "south"})}
    figures = with_figures(cores, load_catalogue({}, "test"), kept)
    assert figures["plate_known"].fillna("?").tolist() == ["no", "yes", "?"]
    assert figures["notice_known"].tolist() == ["no", "no", "no"]
    assert figures["inspection_known"].isna().all()


def test_spacing_is_judged_by_positions_that_are_written_to_2_m_or_finer():
    """Five decimals of a degree are 1.1 m and four are 11 m; a layer's points have no digits."""
    cores = frame(*({**SOUND, "x_m": 7.0, "position_step_m": step} for step in (None, 1.11, 2.0, 11.1)))
    spacing = with_figures(cores, load_catalogue({}, "test"), {})["spacing_x_m"]
    assert spacing.fillna(-1.0).tolist() == [7.0, 7.0, 7.0, -1.0]


def test_the_demo_counts_each_core_of_a_segment_once_and_keeps_columns_that_a_register_lacks_silent(demo):
    cores = demo.cores
    once = cores[~cores["is_copy"]]
    by_hand = {segment: len(group) for segment, group in once.groupby("segment_id")}
    known = cores["segment_id"].notna()
    assert cores.loc[known, "segment_cores"].tolist() == [by_hand[name] for name in cores.loc[known, "segment_id"]]
    assert cores.loc[~known, "segment_cores"].isna().all()
    # an unreadable reinstatement date may still mean that the core was reinstated
    assert not cores.loc[cores["reinstated_at_problem"].notna(), "is_open"].any()
    assert cores.loc[cores["reinstated_at"].isna() & cores["reinstated_at_problem"].isna(), "is_open"].all()


def test_a_core_is_in_one_state():
    """Back beats all; a date that cannot be read is not known; an interim reinstatement beats the plate under it."""
    back = {**SOUND, "reinstated_at": pd.Timestamp("2026-09-01 10:00"), "interim_on": pd.Timestamp("2026-08-01")}
    unread = {**SOUND, "reinstated_at_problem": "unreadable"}
    plated = {**SOUND, "plated_on": pd.Timestamp("2026-08-01")}
    interim = {**plated, "interim_on": pd.Timestamp("2026-08-02")}
    cores = frame(back, unread, interim, plated, SOUND)
    keeping = cores["register"].unique()
    assert core_state(cores, keeping).tolist() == ["back", "unknown", "interim", "plated", "open"]
    # whether a core of a register without a reinstatement date is back, nobody knows
    assert core_state(cores, []).tolist() == ["back", *["unknown"] * 4]


def test_the_figures_of_three_cores():
    """Two rows of one core and another in the same segment: two cores. The bed of pea gravel is 25 mm thick."""
    own = {
        **SOUND,
        "core_condition": "split",
        "shade_used": "charcoal",
        "water_l": 4.0,
        "bags_used": 1.0,
        "water_step_l": 1.0,
        "bags_used_step": 0.5,
    }
    crumbling = {
        **SOUND,
        "core_condition": "no such word",
        "surface": "concrete",
        "reinstated_at_problem": "unreadable",
    }
    cores = frame(own, {**own, "is_copy": True}, crumbling).assign(segment_id="S1", bedding="pea gravel")
    found = with_figures(cores, load_catalogue({}, "test"), {"reinstated_at": frozenset(cores["register"])})
    assert found["segment_cores"].tolist() == [2, 2, 2]
    assert found["bedding_specified_mm"].tolist() == [25, 25, 25]
    assert found["core_fault"].fillna("?").tolist() == ["cracked", "cracked", "?"]
    assert found["shade_used_name"].fillna("?").tolist() == ["dark", "dark", "?"]
    # 4 L for a bag of 20 kg; 3.5 L for 1.25 bags to 4.5 L for 0.75
    assert found["water_ratio"][0] == pytest.approx(0.2)
    assert (found["water_ratio_low"][0], found["water_ratio_high"][0]) == pytest.approx((3.5 / 25, 4.5 / 15))
    assert found["is_rigid"].tolist() == [False, False, True]
    assert found["is_open"].tolist() == [True, True, False]
    assert found["state"].tolist() == ["open", "open", "unknown"]
    assert found["reopened_within_min"].tolist() == [1, 1, 1]
