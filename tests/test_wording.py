"""Counts that agree with their noun."""

import json

import pytest

from pipeline.wording import counted, plain_reason


@pytest.mark.parametrize(
    ("count", "said"),
    [(0, "0 cores"), (1, "1 core"), (2, "2 cores"), (1200, "1,200 cores"), (1_000_000, "1,000,000 cores")],
)
def test_a_count_agrees_with_its_noun(count, said):
    assert counted(count, "core") == said


@pytest.mark.parametrize(
    ("read", "reason"),
    [
        (lambda: json.loads("[" * 100_000), "its entries are nested too deeply"),
        (lambda: json.loads("1" * 5000), "a number has thousands of digits"),
        (lambda: json.loads("[]")["a"], "an entry is missing, or of another kind than expected"),
        (lambda: json.loads("{}")["a"], "no entry 'a'"),
        (lambda: json.loads("{"), "no JSON: Expecting property name"),
    ],
)
def test_a_reason_is_told_without_the_words_of_python(read, reason):
    with pytest.raises(Exception) as error:
        read()
    assert plain_reason(error.value).startswith(reason)
