"""A frame that departs from its contract in any way is refused, with the column that departs."""

import geopandas as gpd
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point

from pipeline.contracts import Column, check_frame, check_tables
from pipeline.errors import ContractError

COLUMNS = (
    Column("crew", "text"),
    Column("offset_m", "number", "m"),
    Column("opened_on", "instant"),
    Column("use_by", "day"),
    Column("row", "whole"),
    Column("is_open", "truth"),
    Column("geometry", "geometry"),
)
OPTIONAL = (*COLUMNS, Column("cost", "number", optional=True))


def _frame():
    day = pd.to_datetime(["2026-09-30", None])
    frame = pd.DataFrame(
        {
            "crew": pd.Series(["A", None], dtype="str"),
            "offset_m": [1.5, None],
            "opened_on": day.tz_localize("America/Toronto"),
            "use_by": day,
            "row": [1, 2],
            "is_open": [True, False],
        }
    )
    return gpd.GeoDataFrame(frame, geometry=[Point(0, 0), None])


def _refused(frame, *words, columns=COLUMNS, index=None):
    with pytest.raises(ContractError) as error:
        check_frame(frame, columns, _frame().index if index is None else index, "locate")
    text = str(error.value)
    for word in ("locate: ", *words, "declare the change in pipeline/contracts."):
        assert word in text


def test_a_frame_that_keeps_its_contract_passes_with_or_without_an_optional_column():
    check_frame(_frame(), COLUMNS, _frame().index, "locate")
    check_frame(_frame(), OPTIONAL, _frame().index, "locate")
    check_frame(_frame().assign(cost=1.5), OPTIONAL, None, "locate")


def test_a_row_that_is_lost_added_or_moved_is_refused():
    frame = _frame()
    _refused(frame.iloc[:1], "1 rows, expected the 2 it was given")
    _refused(pd.concat([frame, frame.iloc[:1]]), "3 rows, expected the 2")
    _refused(frame.iloc[::-1], "2 rows, expected the 2 it was given, in order")
    _refused(frame.set_axis([0, 2]), "in order")


def test_a_column_that_is_missing_renamed_undeclared_or_there_twice_is_refused_by_name():
    frame = _frame()
    _refused(frame.drop(columns="offset_m"), "no column offset_m")
    _refused(frame.rename(columns={"crew": "gang"}), "no column crew")
    _refused(frame.assign(wage=1), "column wage is not in its contract")
    _refused(pd.concat([frame, frame[["row"]]], axis="columns"), "column row is there 2 times")


@pytest.mark.parametrize(
    ("name", "kind", "cells"),
    [
        ("crew", "text", [1, 2]),
        ("offset_m", "number", ["1.5", "2"]),
        ("offset_m", "number", [1, 2]),
        ("opened_on", "instant", pd.to_datetime(["2026-09-30", "2026-10-01"])),
        ("use_by", "day", pd.to_datetime(["2026-09-30", "2026-10-01"]).tz_localize("UTC")),
        ("row", "whole", [1.0, 2.0]),
        ("is_open", "truth", [1, 0]),
        ("is_open", "truth", ["yes", "no"]),
        ("geometry", "geometry", ["POINT (0 0)", None]),
    ],
)
def test_a_column_of_another_kind_is_refused_with_the_kind_found_and_the_kind_expected(name, kind, cells):
    frame = pd.DataFrame(_frame()).assign(**{name: cells})
    _refused(frame, f"column {name} is {frame[name].dtype}, expected {kind}")


def test_whole_numbers_may_be_missing():
    check_frame(_frame().assign(row=pd.array([1, None], dtype="Int64")), COLUMNS, None, "order")


def test_a_table_without_rows_needs_its_columns_but_no_kinds():
    empty = pd.DataFrame(columns=[column.name for column in COLUMNS])
    check_frame(empty, COLUMNS, None, "order")
    _refused(empty.drop(columns="row"), "no column row", index=empty.index)


def test_tables_and_contracts_come_in_pairs():
    contract = {"lines": (Column("row", "whole"),), "stock": (Column("yard", "text"),)}
    lines = pd.DataFrame({"row": [1]})
    check_tables({"lines": lines, "stock": None}, contract, "order")
    with pytest.raises(ContractError, match="order: table loads is handed on or declared, but not both"):
        check_tables({"lines": lines, "stock": None, "loads": lines}, contract, "order")
    with pytest.raises(ContractError, match="order: table stock is"):
        check_tables({"lines": lines}, contract, "order")
    with pytest.raises(ContractError, match="order: lines: column row is float64, expected whole"):
        check_tables({"lines": lines.astype(float), "stock": None}, contract, "order")


@settings(deadline=None, max_examples=20)
@given(st.permutations([column.name for column in COLUMNS]))
def test_the_order_of_columns_does_not_matter(names):
    check_frame(_frame()[names], COLUMNS, _frame().index, "locate")
