"""Names that people write in two places: case and white space do not count, and the nearest is a hint."""

import pytest

from pipeline.programme.names import LONGEST_NAME, as_known, did_you_mean, folded, named_after, refuse_repeated


@pytest.mark.parametrize("written", ["North yard", " north  YARD ", "North\u00a0yard", "NORTH\tYARD"])
def test_case_and_white_space_make_no_other_name(written):
    assert folded(written) == "north yard"
    assert as_known(written, ["South yard", "North Yard"]) == "North Yard"


def test_another_word_is_another_name():
    assert as_known("Northyard", ["North yard"]) is None
    assert as_known("North yard", []) is None


def test_of_two_known_spellings_the_first_is_used():
    assert as_known("north yard", ["North Yard", "NORTH YARD"]) == "North Yard"


@pytest.mark.parametrize(
    ("written", "hint"),
    [("grout-dark", ' Did you mean "grout dark"?'), ("GROUT-DARK", ' Did you mean "grout dark"?'), ("cement", "")],
)
def test_the_nearest_name_is_a_question_and_a_far_one_is_not_asked_for(written, hint):
    assert did_you_mean(written, ["grout pale", "grout dark", "pea gravel"]) == hint


def test_two_spellings_of_one_key_are_refused():
    with pytest.raises(ValueError, match=r"^found both 'Mill Bank' and 'mill bank ', which are the same name"):
        refuse_repeated({"Mill Bank": 1, "Old Market": 2, "mill bank ": 3})
    assert refuse_repeated({"Mill Bank": 1, "Millbank": 3}) == {"Mill Bank": 1, "Millbank": 3}


@pytest.mark.parametrize(
    ("folder", "name"),
    [
        ('Old "Town"', 'Old "Town"'),
        ("a\x7f\x85\x9f\u2028\u2029\tb", "ab"),
        ("caf\udce9", "caf"),
        ("\x01", "programme"),
        ("é" * 201, "é" * LONGEST_NAME),
    ],
)
def test_a_programme_gets_a_name_that_a_file_can_hold_on_one_line(folder, name):
    assert named_after(folder) == name
