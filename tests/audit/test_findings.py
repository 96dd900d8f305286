"""Findings: templates and typed values for whole columns, and the remedy for a core's state."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.audit.findings import (
    LABELS,
    STATES,
    ItemKind,
    Remedies,
    _different,
    choose,
    choose_by,
    fields_of,
    find,
    found_items,
    state_of,
)
from pipeline.audit.for_authority import for_authority
from pipeline.contracts import REGISTER_COLUMNS
from pipeline.errors import ContractError

_CORES = pd.DataFrame(
    {"depth_mm": [90.0, 80.0], "day": pd.to_datetime(["2026-01-05", None]), "text": ["a", None]}, [7, 3]
)


def test_a_finding_keeps_the_template_and_the_values_as_they_are():
    found = find(_CORES, "{depth_mm:.0f} mm, {text}, since {day}.", "Look.")
    assert found.templates["fault"].tolist() == ["{depth_mm:.0f} mm, {text}, since {day}."] * 2
    assert found.templates.index.tolist() == found.values.index.tolist() == [7, 3]
    assert found.values["depth_mm"].dtype == float
    assert found.values["day"].dtype.kind == "M"
    assert found.values["text"].tolist()[0] == "a"


def test_values_are_those_that_a_template_names_and_no_others():
    found = find(_CORES, "{depth_mm}.", "Look at {text}.")
    assert found.values.columns.tolist() == ["depth_mm", "text"]


def test_a_value_that_is_only_compared_with_is_kept():
    found = find(_CORES, "{depth_mm:.0f vs least}.", "Look.", least=100.0)
    assert found.values.columns.tolist() == ["depth_mm", "least"]
    assert found.values["least"].tolist() == [100.0, 100.0]


def test_a_further_value_is_one_for_all_or_a_column_which_may_have_more_cores():
    limit = pd.Series({1: 1.0, 3: 3.0, 7: 7.0})
    found = find(_CORES, "{limit} {n}.", "Look.", limit=limit, n=5)
    assert found.values["limit"].to_dict() == {7: 7.0, 3: 3.0}
    assert found.values["n"].tolist() == [5, 5]


def test_a_further_value_comes_before_a_column_of_the_same_name():
    assert find(_CORES, "{depth_mm}.", "Look.", depth_mm=1.0).values["depth_mm"].tolist() == [1.0, 1.0]


@pytest.mark.parametrize("template", ["{wage}.", "{depth_mm:.0f vs wage}."])
def test_a_template_that_names_what_is_not_there_is_refused(template):
    with pytest.raises(ContractError, match="names 'wage'"):
        find(_CORES, template, "Look.")


def test_a_remedy_that_names_what_is_not_there_is_refused():
    with pytest.raises(ContractError, match="names 'wage'"):
        find(_CORES, "Bad.", Remedies("Look.", "Look.", "Ask {wage}."))


def test_nothing_found_is_no_finding():
    found = find(_CORES.iloc[:0], "{depth_mm}.", "Look.")
    assert found.templates.empty
    assert found.worded(pd.Series(dtype="str"), pd.Series(dtype="int64")).templates.empty


def test_each_core_gets_the_remedy_for_its_state():
    cores = pd.DataFrame(index=[7, 3, 5])
    found = find(cores, "Bad.", Remedies("Open.", "In.", "Ask."))
    states = pd.Series(["unknown", "open", "reinstated", "open"], [3, 7, 5, 9])
    worded = found.worded(states, pd.Series([11, 12, 13, 14], [3, 5, 7, 9]))
    assert worded.templates["remedy"].to_dict() == {13: "Open.", 11: "Ask.", 12: "In."}
    assert worded.templates["fault"].tolist() == ["Bad."] * 3


def test_a_remedy_may_be_a_column_of_templates():
    sent = pd.Series([True, False], _CORES.index)
    found = find(_CORES, "Bad.", choose(sent, "Settle it.", "Send it."))
    worded = found.worded(pd.Series("open", _CORES.index), pd.Series([1, 2], _CORES.index))
    assert worded.templates["remedy"].to_dict() == {1: "Settle it.", 2: "Send it."}


def test_values_and_lists_are_by_row_once_they_are_worded():
    kind = ItemKind(pd.Series([False, True], [7, 3]), "{text}", {"text": pd.Series(["a", "b"], [7, 3])}, {"text": "x"})
    found = find(_CORES, "{depth_mm}: {cells}.", "Look.", {"cells": found_items([kind])})
    worded = found.worded(pd.Series("open", _CORES.index), pd.Series([21, 22], _CORES.index))
    assert worded.values["depth_mm"].to_dict() == {21: 90.0, 22: 80.0}
    (item,) = worded.lists["cells"]
    assert item.values["text"].to_dict() == {22: "b"}
    assert item.columns == {"text": "x"}


def test_the_authority_reads_what_the_utility_must_do_and_its_own_words_for_what_is_listed():
    listed = for_authority("{text} (set it)", "{text} (as it is)")
    kind = ItemKind(pd.Series([True, False], [7, 3]), listed, {"text": pd.Series(["a", "b"], [7, 3])}, {})
    remedy = pd.Series(["Settle it.", for_authority("Send it to them.", "You can wait for it.")], _CORES.index)
    found = find(_CORES, "{depth_mm}: {cells}.", remedy, {"cells": found_items([kind])})
    worded = found.worded(pd.Series("open", _CORES.index), pd.Series([1, 2], _CORES.index)).for_authority()
    assert worded.templates["remedy"].to_dict() == {1: "The utility must settle it.", 2: "You can wait for it."}
    assert worded.templates["fault"].tolist() == ["{depth_mm}: {cells}."] * 2
    (item,) = worded.lists["cells"]
    assert item.template == "{text} (as it is)"


def test_a_kind_of_item_that_no_core_has_is_left_out():
    none = ItemKind(pd.Series([False, False], [7, 3]), "{n}", {"n": 1}, {})
    some = ItemKind(pd.Series([True, False], [7, 3]), "{n} more", {"n": 1}, {})
    assert [item.template for item in found_items([none, some])] == ["{n} more"]


def test_choose_by_takes_the_template_whose_key_says_which_conditions_are_true():
    wet, alone = pd.Series([True, True, False, False]), pd.Series([True, False, True, False])
    templates = {(True, True): "a", (True, False): "b", (False, True): "c", (False, False): "d"}
    assert choose_by(templates, wet, alone).tolist() == ["a", "b", "c", "d"]
    with pytest.raises(ValueError, match="zip"):
        choose_by({(True,): "a"}, wet, alone)


def test_choose_takes_a_template_or_leaves_those_chosen_before():
    first = choose(pd.Series([True, False, False]), "one", "none")
    assert choose(pd.Series([False, True, False]), "two", first).tolist() == ["one", "two", "none"]


@pytest.mark.parametrize(
    ("template", "fields"),
    [
        ("No values.", []),
        ("{a} and {b:.1f}.", [("a", ""), ("b", ".1f")]),
        ("{a:.0% vs b} of {b:.0%}", [("a", ".0% vs b"), ("b", ".0%")]),
        ('"{label:term}"', [("label", "term")]),
    ],
)
def test_fields_come_with_their_formats_in_order(template, fields):
    assert fields_of(template) == fields


def test_a_core_is_open_or_reinstated_or_in_a_state_that_is_not_known():
    cores = pd.DataFrame(
        {"is_open": [True, False, False], "reinstated_at": pd.to_datetime([None, "2026-01-05", None])}, [9, 8, 7]
    )
    assert state_of(cores).to_dict() == {9: "open", 8: "reinstated", 7: "unknown"}


@given(st.lists(st.sampled_from(STATES), min_size=1, max_size=8), st.randoms())
@settings(max_examples=30, deadline=None)
def test_the_order_of_cores_changes_no_remedy(states, random):
    cores = pd.DataFrame(index=range(len(states)))
    rows = pd.Series(range(1, len(states) + 1))
    found = find(cores, "Bad.", Remedies("open", "reinstated", "unknown"))
    shuffled = random.sample(range(len(states)), len(states))
    one = found.worded(pd.Series(states), rows).templates["remedy"]
    other = find(cores.loc[shuffled], "Bad.", Remedies("open", "reinstated", "unknown"))
    assert other.worded(pd.Series(states), rows).templates["remedy"].sort_index().tolist() == one.tolist() == states


def test_every_column_that_intake_reads_has_a_label_without_a_unit_or_an_underscore():
    assert set(LABELS) == {column.name for column in REGISTER_COLUMNS}
    assert all(label and label[0].isupper() and "_" not in label for label in LABELS.values())


@pytest.mark.parametrize("seed", range(60))
def test_different_templates_come_in_the_order_in_which_rows_are_read(seed):
    random = np.random.default_rng(seed)
    rows = int(random.integers(0, 6))
    columns = [
        pd.Series(random.choice(["a", "b", "c"], rows), range(rows), dtype="str") if random.random() < 0.5 else "b"
        for _ in range(3)
    ]
    read = [one if isinstance(one, str) else one[row] for row in range(rows) for one in columns]
    assert _different(columns, pd.RangeIndex(rows)) == list(dict.fromkeys(read))


def test_a_core_that_no_key_speaks_of_gets_no_template():
    wet = pd.Series([True, False], index=[4, 2])
    assert choose_by({(True,): "a"}, wet).tolist() == ["a", ""]
