"""The section of a programme file that names the files of decisions."""

import pytest
from pydantic import ValidationError

from pipeline.programme.decisions import Decisions


def test_one_file_or_several_can_be_named():
    assert Decisions(path="decisions.csv").paths == ["decisions.csv"]
    assert Decisions(path=["decisions.csv", "more.xlsx"], day_first=True).paths == ["decisions.csv", "more.xlsx"]


@pytest.mark.parametrize(
    ("path", "words"),
    [
        (["a.csv", "a.csv"], "found 'a.csv' twice"),
        ([], "at least 1"),
        ([""], "a list of paths"),
        (3, "a list of paths"),
    ],
)
def test_anything_else_is_refused(path, words):
    with pytest.raises(ValidationError, match=words):
        Decisions(path=path)
