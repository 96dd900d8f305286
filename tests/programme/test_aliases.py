"""Words of registers and layers, looked up among the names of the catalogue."""

import pandas as pd
import pytest

from pipeline.programme.aliases import alias_conflicts, alias_table, look_up

_ALIASES = {"asphalt": ["Tarmac", "hot-mix", "AC."], "concrete": ["PCC", "cement_concrete"], "unknown": ["paved"]}


def test_every_name_and_alias_is_there_in_plain_form():
    assert alias_table(_ALIASES) == {
        "asphalt": "asphalt", "tarmac": "asphalt", "hot mix": "asphalt", "ac": "asphalt", "concrete": "concrete",
        "pcc": "concrete", "cement concrete": "concrete", "unknown": "unknown", "paved": "unknown",
    }  # fmt: skip


def _look_up(*written, ignored=None):
    return look_up(pd.Series(written, dtype="str"), alias_table(_ALIASES), ignored).fillna("").tolist()


@pytest.mark.parametrize("written", ["tarmac", "TARMAC", " Tarmac ", "Hot  Mix", "hot_mix", "HOT-MIX.", "ac", "ＡＣ"])
def test_case_blanks_hyphens_and_a_full_stop_do_not_count(written):
    assert _look_up(written) == ["asphalt"]


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("tarmac;asphalt", "asphalt"),
        ("tarmac / AC", "asphalt"),
        ("tarmac|marble", ""),
        ("tarmac, pcc", ""),
        ("marble;cork", ""),
        ("paved;pcc", "concrete"),
        ("paved;marble", ""),
        ("paved", "unknown"),
    ],
)
def test_a_text_of_several_parts_has_a_name_where_all_of_them_share_it(written, name):
    assert _look_up(written, ignored="unknown") == [name]


def test_without_an_ignored_name_every_part_counts():
    assert _look_up("paved;pcc") == [""]


def test_each_cell_has_its_own_answer_on_its_own_index():
    found = look_up(pd.Series(["pcc", None, "cork", "pcc"], index=[3, 1, 8, 2], dtype="str"), alias_table(_ALIASES))
    assert found.fillna("").to_dict() == {3: "concrete", 1: "", 8: "", 2: "concrete"}


def test_a_word_under_two_names_is_a_conflict_of_the_later_name():
    assert alias_conflicts(_ALIASES) == []
    assert alias_conflicts({"a": ["x", "X "], "b": ["y", "x."], "c": ["A"]}) == [("b", "x", "a"), ("c", "a", "a")]
