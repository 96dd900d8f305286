"""Lines that do not fit the header, one function at a time; how they reach a raw table is tested with delimited text."""

import numpy as np
import pandas as pd
import pytest

from pipeline.errors import InputError
from pipeline.intake.files.odd_rows import refuse_other_delimiter, with_odd_rows

FRAME = pd.DataFrame({"id": ["1", "4"], "a": ["x", "y"], "b": ["p", "q"]}, dtype="str")


def test_odd_lines_are_put_back_where_they_were():
    frame, ragged = with_odd_rows(FRAME, [(1, "2,m"), (2, ""), (4, "5,r,s,t"), (5, "6,u,v,,")], ",")
    assert frame["id"].fillna("").tolist() == ["1", "2", "", "4", "5", "6"]
    assert frame["b"].fillna("").tolist() == ["p", "", "", "q", "s", "v"]
    said = ["", "2 fields where the header has 3", "", "", "4 fields where the header has 3", ""]
    assert ragged.fillna("").tolist() == said


def test_a_single_line_with_another_delimiter_may_be_a_note():
    refuse_other_delimiter(FRAME, [(1, "Note; a; b")], np.array([2, 3, 4]), ",", "a.csv")
    with pytest.raises(InputError, match=r"line 3: the fields are separated by ';'.*so are 2 lines in all"):
        refuse_other_delimiter(FRAME, [(1, "2;a;b"), (2, "3;a;b")], np.array([2, 3, 4, 5]), ",", "a.csv")
