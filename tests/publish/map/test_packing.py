"""Packing and its inverse, written here a second time from the description."""

import json
import zlib

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.publish.map.packing import (
    as_days,
    bundle,
    distinct_rows,
    pack_ids,
    pack_ints,
    pack_numbers,
    shown_text,
    shown_texts,
)
from pipeline.publish.map.squeezing import as_letters


def unlettered(text):
    length, letters = text.split(" ", 1)
    bits = "".join(f"{ord(letter) % 128:07b}" for letter in letters)
    return bytes(int(bits[i : i + 8], 2) for i in range(0, 8 * int(length), 8))


def unpacked(how, planes):
    n = how["n"]
    values = [how["least"] + sum(planes[p * n + i] << (8 * p) for p in range(how["planes"])) for i in range(n)]
    if how["steps"]:
        values = np.cumsum([v // 2 if v % 2 == 0 else -(v + 1) // 2 for v in values]).tolist()
    return values


@given(st.binary(max_size=300))
def test_letters_give_the_bytes_back_and_none_ends_a_script(content):
    text = as_letters(content)
    assert unlettered(text) == content
    assert not set(text) & {"\0", "\r"}
    assert "</" not in text
    assert "<!" not in text


@given(st.lists(st.integers(-(2**40), 2**40), max_size=50))
def test_whole_numbers_come_back(values):
    packed = pack_ints(np.array(values, dtype=np.int64))
    assert unpacked(*packed) == values


def test_a_bundle_is_a_header_and_the_planes_one_after_another():
    text = bundle({"a": pack_ints(np.array([3, 3, 4])), "b": pack_ints(np.array([500]))}, fact=1)
    content = zlib.decompress(unlettered(text), 31)
    length = int.from_bytes(content[:4], "little")
    header = json.loads(content[4 : 4 + length])
    assert header["fact"] == 1
    sizes = [how["n"] * how["planes"] for how in header["columns"].values()]
    assert len(content) == 4 + length + sum(sizes)


def test_each_large_plane_is_packed_in_the_way_that_suits_it_and_all_come_back_as_one_gzip():
    random = np.random.default_rng(7)
    noise = random.integers(0, 2**16, 40_000)
    # days in a register's order: long runs, and now and then a step
    runs = np.repeat(np.arange(400), 100)
    columns = {"noise": pack_ints(noise), "few": pack_ints(np.array([1, 300])), "runs": pack_ints(runs)}
    packed = unlettered(bundle(columns))
    content = zlib.decompress(packed, wbits=31)
    length = int.from_bytes(content[:4], "little")
    assert content[4 + length :] == b"".join(column.planes for column in columns.values())
    # no code is shorter than noise; what else there is takes little room
    assert 80_000 < len(packed) < 82_000


@pytest.mark.parametrize("far", [1.0, 1e6])
def test_numbers_keep_their_digits_and_infinite_ones_are_missing(far):
    how, planes = pack_numbers(pd.Series([1.26, np.nan, -3.0, np.inf, far]), 1)
    counted = [how["among"][v] if "among" in how else v for v in unpacked(how, planes)]
    read = [None if not v else (v - 1 + how["first"]) / 10 for v in counted]
    assert read == [1.3, None, -3.0, None, far]


def test_ids_keep_their_leading_zeros():
    packed, number = pack_ids("id", pd.Series(["HV-007", "HV-12", "odd", "HV-1"]))
    assert number.tolist() == [7, 12, 0, 1]
    assert unpacked(*packed["id width"]) == [3, 2, 0, 1]
    assert [packed["id"].how["words"][code] for code in unpacked(*packed["id"])] == ["HV-", "HV-", "odd", "HV-"]


def test_ids_without_numbers_or_not_writable_as_text_are_kept_as_they_are():
    assert pack_ids("id", pd.Series(["a", "b", None]))[1] is None
    assert pack_ids("id", pd.Series(["\ud800 1", "x 2"], dtype="object"))[1] is None


def test_a_column_of_texts_is_shown_as_each_of_them_is():
    texts = pd.Series(["a", None, "y" * 401, "b\u202e" * 400], dtype="str")
    assert shown_texts(texts).dropna().tolist() == [shown_text(text) for text in texts.dropna()]


def test_distinct_rows_are_in_the_order_of_their_first_appearance():
    frame = pd.DataFrame({"a": ["x", "y", "x", None], "b": [1.0, 2.0, 1.0, np.nan]})
    codes, table = distinct_rows(frame, np.array([3, 1, 0, 2]))
    assert codes.tolist() == [0, 1, 2, 2]
    assert table.index.tolist() == [3, 1, 0]


def test_days_count_from_1970_and_anything_but_a_date_is_missing():
    days = as_days(pd.Series(["1970-01-02", "2026-02-30", None, "2026-01-01"]))
    # 56 years of 365 days and 14 leap days
    assert [days[0], days[3]] == [1, 56 * 365 + 14]
    assert np.isnan(days[1:3]).all()
