"""Cells without content, and text columns without cells."""

import re
from collections import Counter

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.contracts import (
    MISSING_WORDS,
    column_by_column,
    commonest_spelling,
    is_missing,
    is_word,
    latest_of,
    no_text,
    plain_ids,
    sharing_blanks,
    start_of_day,
)


@pytest.mark.parametrize("cell", ["", "  ", "-", "N/A", " Unknown ", "tbc", "TBD", "?", None])
def test_a_cell_that_is_empty_or_says_so_is_missing(cell):
    assert is_missing(pd.Series([cell], dtype="str")).tolist() == [True]


@pytest.mark.parametrize("cell", ["0", "no", "unknown street", "n/a?", "none of it", "--- "])
def test_a_cell_that_says_something_is_not_missing(cell):
    assert is_missing(pd.Series([cell], dtype="str")).tolist() == [False]


@settings(deadline=None)
@given(st.sampled_from(sorted(MISSING_WORDS)), st.text(" \t", max_size=3), st.booleans())
def test_neither_case_nor_blanks_around_a_word_matter(word, blanks, is_upper):
    cell = blanks + (word.upper() if is_upper else word) + blanks
    assert is_missing(pd.Series([cell], dtype="str")).all()


def test_a_text_column_without_cells_is_text_on_the_index_asked_for():
    empty = no_text(pd.Index([3, 1]))
    assert empty.index.tolist() == [3, 1]
    assert empty.isna().all()
    assert empty.dtype == "str"


@pytest.mark.parametrize(
    ("core_id", "plain"),
    [
        ("A-1", "a-1"),
        ("a 1", "a1"),
        ("Ａ1", "ａ1"),
        ("ÄB", "äb"),
        ("a\u00a01", "a1"),
        ("0012", "0012"),
        ("", None),
        (" \t", None),
        ("Straße", "strasse"),
        (None, None),
    ],
)
def test_plain_ids_ignore_case_and_spaces_and_nothing_else(core_id, plain):
    found = plain_ids(pd.Series([core_id], dtype="str"))[0]
    assert (None if pd.isna(found) else found) == plain


def test_the_latest_instant_of_a_row_is_the_same_moment_whatever_its_zone():
    """18:00 in Toronto is 22:00 in Greenwich, after 21:00 there."""
    local = pd.Series(pd.to_datetime(["2026-09-30 18:00", None, None])).dt.tz_localize("America/Toronto")
    greenwich = pd.Series(pd.to_datetime(["2026-09-30 21:00", "2026-09-01 00:00", None])).dt.tz_localize("UTC")
    latest = latest_of(pd.DataFrame({"a": local, "b": greenwich}), ["a", "b"])
    assert latest[:2].tolist() == [pd.Timestamp("2026-09-30 22:00"), pd.Timestamp("2026-09-01")]
    assert pd.isna(latest[2])


def test_names_that_differ_by_case_and_spaces_get_their_commonest_spelling():
    """Of two spellings that are equally common the first by the alphabet is taken."""
    names = pd.Series(["Tom  Hay", "tom hay", " Tom Hay", "ANN", "Ann", None], dtype="str")
    assert commonest_spelling(names).tolist()[:5] == ["Tom Hay", "Tom Hay", "Tom Hay", "ANN", "ANN"]
    assert commonest_spelling(names).isna().tolist() == [False] * 5 + [True]


@pytest.mark.parametrize(
    ("zone", "day", "starts"),
    [
        ("America/Toronto", "2026-09-06", "2026-09-06 04:00"),
        # in Chile, clocks go from 24:00 on 5 September to 1:00: the day starts four hours after midnight UTC
        ("America/Santiago", "2026-09-06", "2026-09-06 04:00"),
        # in Cuba, clocks go from 1:00 summer time back to 0:00: the first of two midnights is that of summer time
        ("America/Havana", "2026-11-01", "2026-11-01 04:00"),
    ],
)
def test_a_day_starts_also_where_it_has_no_midnight_or_two(zone, day, starts):
    noon = pd.Series(pd.to_datetime([f"{day} 12:00", None]).tz_localize(zone), index=[7, 3])
    start = start_of_day(noon)
    assert start[7] == pd.Timestamp(starts, tz="UTC")
    assert pd.isna(start[3])
    assert start_of_day(start)[7] == start[7]


def test_a_word_is_found_in_any_case_and_between_blanks_and_a_missing_cell_is_none():
    text = pd.Series(["Open", " open ", "opened", None, "", "OPEN"], index=[5, 4, 3, 2, 1, 0], dtype="str")
    found = is_word(text, {"open"})
    assert found.tolist() == [True, True, False, False, False, True]
    assert found.index.tolist() == text.index.tolist()


_WRITTEN = ["C-001", "c 001", " C-001 ", "\x1fA", "Straße", "STRASSE", "ẞ", "", " ", "İx", "a\u00a0b", "A\tB", "a  b", "Crew  A",
            "crew a", "Crew A", "\x85q", "ﬀ", None]  # fmt: skip


@pytest.mark.parametrize("seed", range(100))
def test_ids_and_names_are_the_same_as_by_the_plain_way_of_one_row_after_the_other(seed):
    random = np.random.default_rng(seed)
    cells = random.choice(np.array(_WRITTEN, dtype=object), random.integers(1, 60))
    written = pd.Series(cells, pd.RangeIndex(7, 7 + len(cells)), dtype="str")
    words = [None if cell is None else re.sub(r"\s+", "", cell.casefold()) or None for cell in cells]
    assert plain_ids(written).fillna("").tolist() == [word or "" for word in words]
    spaced = [None if cell is None else re.sub(r"\s+", " ", cell.strip()) for cell in cells]
    counts = Counter(text for text in spaced if text is not None)
    commonest = {}
    for text, _ in sorted(counts.items(), key=lambda pair: (-pair[1], pair[0])):
        commonest.setdefault(text.casefold(), text)
    wanted = [None if text is None else commonest[text.casefold()] for text in spaced]
    assert commonest_spelling(written).astype(object).where(written.notna(), None).tolist() == wanted


def test_columns_without_a_value_share_their_memory_and_keep_their_cells_and_places():
    frame = pd.DataFrame({"a": ["x", None], "b": [None, None], "n": [1.0, np.nan], "c": [None, None]}, index=[7, 3])
    frame = frame.astype({"a": "str", "b": "str", "c": "str"}).assign(p=np.nan, q=np.nan)
    shared = sharing_blanks(frame)
    assert np.shares_memory(shared["p"].to_numpy(), shared["q"].to_numpy())
    pd.testing.assert_frame_equal(shared, frame)
    at = [column.array.__arrow_array__().chunk(0).buffers()[1].address for _, column in shared[["b", "c"]].items()]
    assert at[0] == at[1]
    # a value written into one of them stays out of the other
    shared.loc[7, "b"] = "y"
    shared.loc[7, "p"] = 2.0
    assert shared[["c", "q"]].isna().all(axis=None)


def test_columns_are_held_one_by_one():
    frame = pd.DataFrame(np.arange(6.0).reshape(2, 3), columns=["a", "b", "c"], index=[7, 3])
    held = column_by_column(frame)
    pd.testing.assert_frame_equal(held, frame)
    assert not np.shares_memory(held["a"].to_numpy(), frame["a"].to_numpy())
