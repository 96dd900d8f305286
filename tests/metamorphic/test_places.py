"""The same segments, surfaces, districts and confidences, however a town lies and is drawn (see ``relations``)."""

from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from tests.metamorphic import relations
from tests.metamorphic.towns import any_moves, exact_moves, towns

_SEEDS = st.integers(0, 2**32 - 1)
_FEW = settings(max_examples=10, deadline=None, phases=[Phase.explicit, Phase.reuse, Phase.generate])
_CHOICES = st.sampled_from(["likeliest", "nearest"])


@_FEW
@given(choose=_CHOICES, town=towns(on_grid=True), move=exact_moves())
def test_on_whole_metres_a_moved_turned_or_mirrored_town_has_the_same_ties(choose, town, move):
    relations.moved_is_the_same(town, move, choose)


@_FEW
@given(choose=_CHOICES, town=towns(on_grid=False), move=any_moves())
def test_off_them_any_angle_and_any_distance_will_do(choose, town, move):
    relations.moved_is_the_same(town, move, choose)


@_FEW
@given(choose=_CHOICES, town=towns(), seed=_SEEDS)
def test_reversed_segments_turn_the_side_and_count_from_the_other_end(choose, town, seed):
    relations.reversed_is_the_same(town, seed, choose)


@_FEW
@given(choose=_CHOICES, town=towns(), seed=_SEEDS)
def test_a_segment_in_two_lines_is_the_same_segment(choose, town, seed):
    relations.cut_is_the_same(town, seed, choose)


@_FEW
@given(choose=_CHOICES, town=towns(), seed=_SEEDS)
def test_the_order_of_cores_changes_nothing(choose, town, seed):
    relations.shuffled_is_the_same(town, seed, choose)


@_FEW
@given(choose=_CHOICES, town=towns())
def test_what_is_far_away_changes_nothing(choose, town):
    relations.far_away_changes_nothing(town, choose)


@_FEW
@given(choose=_CHOICES, town=towns())
def test_the_case_of_names_changes_nothing(choose, town):
    relations.case_changes_nothing(town, choose)
