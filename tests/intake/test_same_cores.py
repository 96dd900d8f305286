"""Rows that are one core, within a register and across registers."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Transformer

from pipeline.intake.same_cores import EVENTS, repeated_rows, same_cores

TRUTH = Path(__file__).parents[2] / "sample_data" / "three_contractors" / "truth.csv"
NORTH = {
    "register": "north", "core_id": "A", "x_m": 0.0, "y_m": 0.0, "street": "Quay", "diameter_mm": 450.0,
    "depth_mm": 200.0, "opened_on": "2026-08-01", "reinstated_at": None,
}  # fmt: skip
SOUTH = {**NORTH, "register": "south"}


def _frame(*rows):
    """A frame of rows like those given; ``same_row`` is numbered within each register where a row does not say it."""
    frame = pd.DataFrame([{**NORTH, **row} for row in rows])
    for name in ("register", "core_id", "street"):
        frame[name] = frame[name].astype("str")
    for name in ("x_m", "y_m", "diameter_mm", "depth_mm"):
        frame[name] = frame[name].astype(float)
    for name in (*EVENTS, "reinstated_at"):
        cells = frame[name] if name in frame else pd.Series([None] * len(frame))
        frame[name] = pd.to_datetime(cells.astype("str"), utc=True)
    files = frame["register_file"] if "register_file" in frame else pd.Series(None, frame.index, dtype="str")
    frame["register_file"] = files.astype("str").fillna(frame["register"] + ".csv")
    own = frame.groupby("register").cumcount()
    written = frame["same_row"] if "same_row" in frame else pd.Series(np.nan, frame.index)
    return frame.assign(row=range(1, len(frame) + 1), same_row=written.fillna(own).astype("int64"))


def _found(*rows, same_core_m=10.0):
    """By row: the number of its core, and the row that is counted."""
    found = same_cores(_frame(*rows), same_core_m)
    counted = found["copy_of"].fillna(pd.Series(range(1, len(rows) + 1), dtype="Int64"))
    assert (found["is_copy"] == found["copy_of"].notna()).all()
    return found["same_core"].tolist(), counted.tolist()


def test_rows_of_one_register_are_one_core_where_they_are_equal_in_every_cell():
    assert _found({"same_row": 0}, {"same_row": 1}, {"same_row": 0}) == ([0, 1, 0], [1, 2, 1])


def test_equal_rows_of_two_registers_are_no_copies_by_their_number_alone():
    found = same_cores(_frame({"same_row": 0}, {**SOUTH, "same_row": 0, "core_id": "B"}), 10.0)
    assert found["same_row"].tolist() == [0, 1]
    assert found["register_no"].tolist() == [0, 1]
    assert not found["is_copy"].any()


@pytest.mark.parametrize(("apart_m", "cores"), [(0.0, [0, 0]), (10.0, [0, 0]), (10.01, [0, 1])])
def test_one_id_in_two_registers_is_one_core_within_the_distance(apart_m, cores):
    assert _found({}, {**SOUTH, "core_id": " a", "y_m": apart_m})[0] == cores


def test_another_id_at_the_same_position_is_another_core():
    assert _found({}, {**SOUTH, "core_id": "B"})[0] == [0, 1]


@pytest.mark.parametrize("word", ["n/a", "TBC", None])
def test_rows_without_an_id_are_never_joined(word):
    assert _found({"core_id": word}, {**SOUTH, "core_id": word})[0] == [0, 1]


@pytest.mark.parametrize(
    ("other", "cores"),
    [({}, [0, 0]), ({"street": " QUAY"}, [0, 0]), ({"street": "Lane"}, [0, 1]), ({"depth_mm": 210.0}, [0, 1]),
     ({"diameter_mm": None}, [0, 1])],
)  # fmt: skip
def test_without_a_position_street_and_sizes_decide(other, cores):
    assert _found({}, {**SOUTH, "x_m": None, "y_m": None, **other})[0] == cores


@pytest.mark.parametrize(
    ("north", "south", "counted"),
    [
        ({}, {"reinstated_at": "2026-08-03"}, 2),
        ({"reinstated_at": "2026-08-04"}, {"reinstated_at": "2026-08-03"}, 1),
        # the later of the other dates
        ({"plated_on": "2026-08-02"}, {"backfilled_on": "2026-08-05"}, 2),
        ({"plated_on": "2026-08-06"}, {"backfilled_on": "2026-08-05"}, 1),
        # any reinstatement goes before any other date
        ({"reinstated_at": "2026-08-03"}, {"plated_on": "2026-09-20"}, 1),
        ({}, {}, 1),
        ({"opened_on": None}, {}, 2),
    ],
)
def test_the_row_that_is_furthest_on_is_counted(north, south, counted):
    assert _found(north, {**SOUTH, **south})[1] == [counted, counted]


def test_a_copy_within_a_register_follows_its_row_into_the_core():
    assert _found({"same_row": 0}, {"same_row": 0}, {**SOUTH, "reinstated_at": "2026-08-03"}) == ([0, 0, 0], [3, 3, 3])


def test_each_row_is_joined_to_the_nearest_of_the_other_register():
    """North has the id twice, at 0 and 6 m; south once, at 5 m: that is the second one."""
    assert _found({}, {"x_m": 6.0}, {**SOUTH, "x_m": 5.0})[0] == [0, 1, 1]


def test_a_core_has_one_row_of_a_register_even_in_a_chain_of_registers():
    """North 0, south 4, east 7 and north again at 9: east and the second of north are nearest to each other."""
    east = {**NORTH, "register": "east", "x_m": 7.0}
    cores, _ = _found({}, {**SOUTH, "x_m": 4.0}, east, {"x_m": 9.0})
    assert cores[0] != cores[3]
    assert cores[0] == cores[1]


def test_a_core_that_a_later_sheet_of_its_register_carries_on_is_counted_once_by_that_sheet():
    july, august = {"register_file": "07.csv"}, {"register_file": "08.csv", "reinstated_at": "2026-08-20"}
    assert _found(july, august) == ([0, 0], [2, 2])
    # at another place, the id stands for another core
    assert _found(july, {**august, "x_m": 400.0}) == ([0, 1], [1, 2])


def test_of_rows_that_say_the_same_the_one_of_the_last_file_of_the_first_register_is_counted():
    july, august = {"register_file": "2026-07.csv"}, {"register_file": "2026-08.csv", "depth_mm": 210.0}
    # August keeps the core unchanged but for its depth, which was corrected
    assert _found(july, august)[1] == [2, 2]
    assert _found(july, august, SOUTH)[1] == [2, 2, 2]
    assert _found(SOUTH, july, august)[1] == [1, 1, 1]


def test_an_opening_after_the_reinstatement_is_another_core_that_took_the_id():
    closed = {"opened_on": "2026-03-13", "reinstated_at": "2026-04-02"}
    later = {**SOUTH, "x_m": 4.0, "opened_on": "2026-06-26"}
    assert _found(closed, later) == ([0, 1], [1, 2])
    # opened on the day of the reinstatement, or of no known day, it may be the same
    assert _found(closed, {**later, "opened_on": "2026-04-02"}) == ([0, 0], [1, 1])
    assert _found(closed, {**later, "opened_on": None}) == ([0, 0], [1, 1])


def test_another_diameter_and_another_day_are_another_core():
    other = {**SOUTH, "diameter_mm": 610.0, "opened_on": "2026-08-02"}
    assert _found({}, other) == ([0, 1], [1, 2])
    assert _found({}, {**other, "opened_on": "2026-08-01"})[0] == [0, 0]
    # 500 mm is as much as two people may measure
    assert _found({}, {**other, "diameter_mm": 500.0})[0] == [0, 0]


def test_an_id_on_very_many_rows_names_none_of_them():
    rows = [{"x_m": float(at)} for at in range(13)]
    assert len(set(_found(*rows, SOUTH)[0])) == 14
    assert len(set(_found(*rows[:12], SOUTH)[0])) == 12


def test_the_three_contractors_have_as_many_cores_as_their_truth_says():
    """185 rows are 177 cores: five exact copies, two cores handed over and one that two contractors have."""
    truth = pd.read_csv(TRUTH).rename(columns={"place": "row_in_file"})
    x_m, y_m = Transformer.from_crs(4326, 32617, always_xy=True).transform(truth["lon"], truth["lat"])
    cells = [name for name in truth if name not in {"core", "row_in_file", "tricks", "position_within_m"}]
    rows = _frame(*truth.assign(x_m=x_m, y_m=y_m, street=None)[["register", "core_id"]].to_dict("records"))
    dates = {name: pd.to_datetime(truth[name], utc=True, format="ISO8601") for name in ("opened_on", "reinstated_at")}
    rows = rows.assign(
        x_m=x_m, y_m=y_m, diameter_mm=truth["diameter_mm"], depth_mm=truth["depth_mm"], **dates,
        same_row=truth.groupby(cells, dropna=False, sort=False).ngroup(),
    )  # fmt: skip
    found = same_cores(rows, 10.0)
    assert (len(found), int((~found["is_copy"]).sum())) == (185, 177)
    groups = found["same_core"].groupby(truth["core"]).agg(["nunique", "first"])
    assert groups["nunique"].eq(1).all()
    assert groups["first"].is_unique
    shared = found.loc[found["register_no"].groupby(found["same_core"]).transform("nunique").gt(1)]
    assert set(truth.loc[shared.index, "core_id"]) == {"HC-0040", "HC-0046", "HC-0050"}
    handed = truth.loc[shared.index[~shared["is_copy"]]].set_index("core_id")["register"]
    assert (handed["HC-0046"], handed["HC-0050"]) == ("north_gang", "north_gang")


_ROWS = st.lists(
    st.fixed_dictionaries(
        {
            "register": st.sampled_from(["north", "south", "east"]),
            "core_id": st.sampled_from(["A", "a", "B", None]),
            "x_m": st.sampled_from([0.0, 4.0, 9.0, 30.0, None]),
            "same_row": st.integers(0, 3),
            "reinstated_at": st.sampled_from([None, "2026-08-03", "2026-08-09"]),
        }
    ),
    max_size=12,
)


@given(_ROWS)
def test_every_core_has_exactly_one_counted_row_and_at_most_one_different_row_of_a_register(rows):
    # rows of one register that are equal in every cell are equal here too
    table = {(row["register"], row["same_row"]): row for row in rows}
    frame = _frame(*(table[row["register"], row["same_row"]] for row in rows)) if rows else _frame({})
    found = same_cores(frame, 10.0).assign(row=frame["row"])
    assert (found.groupby("same_core")["is_copy"].agg(lambda copies: (~copies).sum()) == 1).all()
    counted = found[~found["is_copy"]].set_index("same_core")["row"]
    copies = found[found["is_copy"]]
    assert copies["copy_of"].tolist() == counted.reindex(copies["same_core"]).tolist()
    different = found.drop_duplicates("same_row")
    assert not different.duplicated(["same_core", "register_no"]).any()
    assert not different["same_row"].duplicated().any()
    assert len(different) == len(found.drop_duplicates(["same_row", "same_core"]))


@pytest.mark.parametrize("name", ["position register", "position x_text", "position y_text", "0"])
def test_rows_that_differ_in_a_column_of_any_name_are_no_copies(name):
    where = pd.DataFrame({"register": ["North"] * 3, "x_text": ["1"] * 3, "y_text": ["2"] * 3}, dtype="str")
    cells = pd.DataFrame({"id": ["A"] * 3, name: ["p", "q", "p"]}, dtype="str")
    assert repeated_rows(where, cells)["is_copy"].tolist() == [False, False, True]


@pytest.mark.parametrize("seed", range(5))
def test_rows_are_repeated_where_every_cell_is_equal_missing_ones_too(seed):
    rng = np.random.default_rng(seed)
    words = np.array(["a", "b", None], dtype=object)
    columns = ("register", "x_text", "y_text", "Ref", "Street")
    table = pd.DataFrame({name: pd.Series(rng.choice(words, 40), dtype="str") for name in columns})
    found = repeated_rows(table[["register", "x_text", "y_text"]], table[["Ref", "Street"]])
    numbers = {}
    expected = [numbers.setdefault(row, len(numbers)) for row in table.fillna("").itertuples(index=False, name=None)]
    assert found["same_row"].tolist() == expected
    assert found["is_copy"].tolist() == [number in expected[:place] for place, number in enumerate(expected)]
