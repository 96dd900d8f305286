"""JSON of others: whatever is taken can be written again."""

import json

import pytest

from pipeline.readback.json_text import parse_json


def test_half_of_a_character_is_refused_wherever_it_is_and_a_whole_one_is_not():
    whole = {"name": "\U0001f6e0 Moor End", "list": [r"\ud83d"], "\U0001f6e0": 1}
    text = json.dumps(whole)
    assert r"\ud83d\udee0" in text
    assert parse_json(text) == whole
    for value in ("\ud800", ["\udc00x"], {"a\udbff": 1}, {"a": {"b": ["\udee0\ud83d"]}}):
        with pytest.raises(ValueError, match=r"half of a character, \\u(d800|dc00|dbff|dee0), expected whole"):
            parse_json(json.dumps(value))


@pytest.mark.parametrize("text", ["{", "", "nul"])
def test_what_is_not_json_is_refused(text):
    with pytest.raises(ValueError, match=r"line 1 column"):
        parse_json(text)
