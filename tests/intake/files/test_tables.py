"""Raw tables: unique names, typed columns as text, rows selected by a condition."""

import numpy as np
import pandas as pd
import pytest

from pipeline.errors import InputError, SettingsError
from pipeline.intake.files.layers import read_raw
from pipeline.intake.files.tables import RawTable, as_text, float_text
from pipeline.programme.settings import Cores


def _csv(tmp_path, data, **settings):
    (tmp_path / "cores.csv").write_bytes(data if isinstance(data, bytes) else data.encode())
    return read_raw(Cores(path="cores.csv", **settings), tmp_path, "cores", None)


def test_names_that_are_blank_or_taken_get_their_own(tmp_path):
    table = _csv(tmp_path, "id,ID,,x\n1,2,3,4\n")
    assert table.frame.columns.tolist() == ["id", "ID.2", "column 3", "x"]
    assert len(table.notices) == 2


def test_a_condition_selects_rows_and_keeps_their_numbers(tmp_path):
    table = _csv(tmp_path, "id,dia\n1,450\n2,90\n3,18 in\n4,1000\n", where="dia > 100 OR dia = '18 in'")
    assert table.frame["id"].tolist() == ["1", "3", "4"]
    assert table.rows.tolist() == [1, 3, 4]
    assert table.rows_in_file == 4


def test_a_column_called_rowid_is_no_number_of_a_row(tmp_path):
    text = "ROWID,row,Row_,id\n3,9,1,a\n1,9,1,b\n99,9,1,c\n"
    table = _csv(tmp_path, text, where="id <> 'b' AND rowid > 2 AND \"row\" = 9")
    assert table.frame["id"].tolist() == ["a", "c"]
    assert table.rows.tolist() == [1, 3]
    # without such a column, SQL numbers the rows
    assert _csv(tmp_path, "id\na\nb\n", where="rowid = 2").frame["id"].tolist() == ["b"]


def test_a_condition_that_is_no_sql_or_leaves_nothing_is_refused(tmp_path):
    with pytest.raises(SettingsError, match=r"cores\.where: found 'diameter > 1'.*Its columns: id, dia"):
        _csv(tmp_path, "id,dia\n1,450\n", where="diameter > 1")
    with pytest.raises(InputError, match="selects none of its 1 row"):
        _csv(tmp_path, "id,dia\n1,450\n", where="id = 9")


def test_a_parquet_table_is_read_as_text(tmp_path):
    pd.DataFrame({"id": [1, 2], "dia": [450.0, None]}).to_parquet(tmp_path / "cores.parquet")
    table = read_raw(Cores(path="cores.parquet"), tmp_path, "cores", None)
    assert table.frame["id"].tolist() == ["1", "2"]
    assert table.frame["dia"].fillna("").tolist() == ["450", ""]


def test_a_condition_takes_places_and_kinds_of_cells_with_it(tmp_path):
    table = _csv(tmp_path, "core_id,diameter,depth\nHV-1,450,1\nTotal,,\nHV-2,90,1\n", where="diameter < 100")
    assert (table.rows.tolist(), table.places.tolist(), table.rows_in_file) == ([2], [4], 2)


def test_a_condition_on_more_columns_than_a_database_takes_is_refused(tmp_path):
    names = ",".join(f"c{n}" for n in range(2000))
    with pytest.raises(InputError, match=r"cores\.csv: 2,000 columns, expected at most 1,900"):
        _csv(tmp_path, f"{names}\n{names}\n", where="c1 = 1")


def test_columns_are_listed_with_what_is_likely_and_not_by_the_thousand():
    table = RawTable(pd.DataFrame(columns=["a", "b"]), np.array([]), 0, "x.csv", hint="Set this.")
    assert table.listed_columns == "a, b. Set this."
    table.fields = [f"c{n}" for n in range(70)]
    assert table.listed_columns.endswith("c58, c59 and 10 more. Set this.")


def test_floats_are_written_as_pandas_writes_them():
    rng = np.random.default_rng(7)
    sizes = 10.0 ** rng.uniform(-9, 20, 400) * rng.choice([-1, 1], 400)
    edges = [0.0, -0.0, 1e-4, 9.999e-5, 1e9, 999999999.5, 43.0, -79.5, 1e16, np.nan, np.inf, -np.inf]
    numbers = pd.Series([*sizes, *sizes.round(2), *edges], name="x")
    pd.testing.assert_series_equal(float_text(numbers), numbers.astype("str"))


def test_a_column_of_floats_is_text_without_the_zeros_that_people_leave_out():
    numbers = pd.Series([450.0, -0.0, 0.0, 450.5, np.nan, 450.0, 1e20], index=[9, 8, 7, 6, 5, 4, 3], name="size")
    expected = ["450", "-0", "0", "450.5", np.nan, "450", "1e+20"]
    pd.testing.assert_series_equal(as_text(numbers), pd.Series(expected, numbers.index, dtype="str", name="size"))
