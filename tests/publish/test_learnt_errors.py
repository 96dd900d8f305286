"""What a common shift of a register is called, how long it is said to be, and what asks for a check."""

import dataclasses
import math
import re
from pathlib import Path

import numpy as np
import pytest

from pipeline.locate import learning
from pipeline.locate.learning.shift import NO_SHIFT, Shift
from pipeline.locate.learning.unmeasured import UNMEASURED
from pipeline.publish.learnt_errors import (
    compass,
    declined_sentence,
    length_of,
    position_counts,
    position_notices,
    reading_sentence,
    shift_warnings,
)
from pipeline.publish.words import words_of
from tests.browser.town import HOSTILE
from tests.publish.report.outcomes import outcome, reading

_WORDS = words_of("en")


def _shift(degrees, metres=3.0):
    """A shift in a direction counted from east towards north."""
    turn = math.radians(degrees)
    return Shift(metres * math.cos(turn), metres * math.sin(turn), np.eye(2))


@pytest.mark.parametrize(
    ("degrees", "point"),
    [
        (0, "east"), (22, "east"), (23, "north_east"), (45, "north_east"), (90, "north"), (135, "north_west"),
        (180, "west"), (-180, "west"), (-157, "south_west"), (-135, "south_west"), (-90, "south"), (-45, "south_east"),
        (-22, "east"),
    ],
)  # fmt: skip
def test_a_direction_is_the_nearest_of_eight_compass_points(degrees, point):
    """Each point has 22.5 degrees to either side."""
    assert compass(*_shift(degrees)[:2]) == point


def test_the_interval_of_a_length_is_that_along_the_shift():
    """3 m east and 4 m north is 5 m; a variance of 0.04 along and 9 across gives 5 -/+ 1.96 x 0.2 m."""
    along, across = np.array([0.6, 0.8]), np.array([-0.8, 0.6])
    covariance = 0.04 * np.outer(along, along) + 9 * np.outer(across, across)
    assert length_of(Shift(3.0, 4.0, covariance)) == pytest.approx((5, 4.608, 5.392))


def test_an_interval_of_a_length_does_not_go_below_zero():
    assert length_of(_shift(0, 1.0)).low == 0


def test_a_shift_is_said_with_length_direction_and_what_to_check():
    """A standard error of 0.25 m: 2.4 -/+ 0.49."""
    [said] = position_notices([outcome(reading=reading("shift"))], 5.0, _WORDS, is_only=True)
    assert said == (
        "The register lies 2.4 m (1.9 to 2.9) east of the streets: a datum, or the layer's drawing? Check two known points. "
        "Positions are left as recorded; the weighing of streets allows for it."
    )


def test_where_two_readings_are_possible_both_are_given():
    [said] = position_notices([outcome("North", reading=reading("either"))], 5.0, _WORDS, is_only=False)
    assert said.startswith("The register North either lies 2.4 m (1.9 to 2.9) east of the streets (a datum")
    assert "or its cores keep to the north side of the road" in said
    assert "Check two known points." in said


def test_a_preferred_side_of_the_road_is_said_but_asks_for_no_check():
    side = outcome(reading=reading("side", NO_SHIFT.shift))
    assert shift_warnings([side], _WORDS, is_only=True) == []
    said = reading_sentence(side, _WORDS, is_only=True)
    assert said.startswith("The register: the cores keep to the north side of the road.")
    assert "Check" not in said


def test_a_shift_and_a_preferred_side_are_said_together():
    [said] = position_notices([outcome(reading=reading("both"))], 5.0, _WORDS, is_only=True)
    assert said.startswith("The register lies about 2.4 m east of the streets (a datum")
    assert "and its cores keep to the north side of the road. Check two known points." in said


def test_where_nothing_more_can_be_told_no_length_and_no_direction_is_given():
    [said] = position_notices([outcome(reading=reading("unclear"))], 5.0, _WORDS, is_only=True)
    assert said.startswith("The register lies off the streets, or its cores keep to one side of the road, or both:")
    assert "Check two known points." in said
    assert not {"2.4", "east", "north"} & set(said.split())


def test_nothing_is_said_where_there_is_no_shift():
    assert reading_sentence(outcome(reading=NO_SHIFT), _WORDS, is_only=True) is None
    assert position_notices([outcome()], 5.0, _WORDS, is_only=True) == []


def test_a_register_is_named_where_there_are_several_and_its_name_stays_text():
    found = [outcome(HOSTILE, reading=reading("shift"))]
    [markup] = shift_warnings(found, _WORDS, is_only=False)
    assert "<img" not in markup
    assert "<script" not in markup
    [plain] = position_notices(found, 5.0, _WORDS, is_only=False)
    assert HOSTILE[:20] in plain


_WHY = {
    "few": "To learn an error, 80 are needed.",
    "no better": "A learnt error did not explain other streets better.",
    "widths": "Nothing was learnt, because no road near them has a width or a known class:",
    "snapped": "Nothing was learnt, because 97% of the positions lie exactly on a centreline, or all at one distance from one:",
    "equal": "Nothing was learnt, because 97% of the cores have exactly the position of another core:",
    "beside": "Nothing was learnt, because 97% of the positions lie beyond the footways:",
}


@pytest.mark.parametrize(("reason", "why"), _WHY.items())
def test_each_reason_to_keep_the_default_has_its_sentence(reason, why):
    declined = outcome("Day book", cores=500, is_accepted=False, reason=reason, share=0.97)
    said = declined_sentence(declined, 5.0, _WORDS).striptags()
    assert said.startswith(
        f"Day book: the default accuracy of 5 m is used for 500 cores without a stated accuracy. {why}"
    )


def test_the_reasons_with_a_sentence_are_all_that_there_are():
    """Every text that the learning gives as a reason: ``reason="..."``, or the first value of a verdict."""
    code = "".join((Path(learning.__file__).parent / f"{name}.py").read_text() for name in ("learn", "unmeasured"))
    given = set(re.findall(r'(?:reason=|Verdict\()"([^"]+)"', code)) | set(re.findall(r'False, "(\w+)", Gain', code))
    assert given == set(_WHY)
    assert set(_WHY) - {"few", "no better", "widths"} == set(UNMEASURED)


def test_positions_that_were_not_measured_are_a_notice_and_few_cores_are_none():
    found = [outcome(reason=reason, is_accepted=False, share=0.5) for reason in _WHY]
    notices = position_notices(found, 5.0, _WORDS, is_only=True)
    assert [line.split("because ")[1].split(":")[0] for line in notices] == [
        "50% of the positions lie exactly on a centreline, or all at one distance from one",
        "50% of the cores have exactly the position of another core",
        "50% of the positions lie beyond the footways",
    ]


def test_no_position_is_counted_where_the_nearest_segment_is_taken(demo):
    assert set(position_counts(demo)) <= {"stated", "default"}
    assert sum(position_counts(demo).values()) == demo.account["placed"]
    matching = demo.settings.matching.model_copy(update={"choose": "nearest"})
    nearest = dataclasses.replace(demo, settings=demo.settings.model_copy(update={"matching": matching}))
    assert position_counts(nearest) == {}
