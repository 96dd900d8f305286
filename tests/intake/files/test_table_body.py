"""The rows under a header: which are cores, which are set aside, and what a raw table says of them."""

import numpy as np
import pandas as pd
import pytest

from pipeline.errors import InputError
from pipeline.intake.files.header_rows import ANY_TABLE, Wanted
from pipeline.intake.files.table_body import Body, as_raw_table

WANTED = Wanted(core_id=("id",), position=("at",), sizes=("dia",))


def _body(*rows, **more):
    frame = pd.DataFrame(list(rows), columns=["id", "at", "dia"], dtype="str")
    return Body(frame, np.arange(5, 5 + len(rows)), **more)


def test_every_row_is_a_core_or_set_aside_in_the_order_of_the_file():
    rows = [(None, "°", "in"), ("A-1", "1 2", "18"), ("Total", None, None), ("A-2", None, None)]
    ragged = pd.Series([None, "odd", None, None], dtype="str")
    stored = pd.DataFrame({"id": [False] * 4, "at": [False] * 4, "dia": [False, True, False, False]})
    body = _body(*rows, above=[(1, "x" * 300)], blank=[2, 9], ragged=ragged, stored_as_number=stored)
    table = as_raw_table(body, "a.csv", WANTED, [])
    assert table.frame["id"].tolist() == ["A-1", "A-2"]
    assert (table.rows.tolist(), table.places.tolist(), table.rows_in_file) == ([1, 2], [6, 8], 2)
    assert table.ragged.fillna("").tolist() == ["odd", ""]
    assert table.stored_as_number["dia"].tolist() == [True, False]
    assert table.header_units == {"at": "°", "dia": "in"}
    assert table.set_aside.to_numpy().tolist() == [
        [1, "title", "x" * 200],
        [2, "blank", ""],
        [5, "units", "° | in"],
        [7, "total", "Total"],
        [9, "blank", ""],
    ]


def test_another_table_keeps_every_filled_row_and_counts_the_blank_ones():
    table = as_raw_table(_body(("Total", None, None), (None, None, None), ("in", None, None)), "a.csv", ANY_TABLE, [])
    assert table.frame["id"].tolist() == ["Total", "in"]
    assert (table.rows.tolist(), len(table.set_aside), table.header_units) == ([1, 3], 0, {})


def test_a_register_without_any_core_is_refused():
    with pytest.raises(InputError, match="none of its 2 rows holds a core"):
        as_raw_table(_body(("id", "at", "dia"), (None, None, None)), "a.csv", WANTED, [])
