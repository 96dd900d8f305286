"""The tables of a pack read back: as text, and with the kind of each column."""

import pandas as pd
import pytest

from pipeline.contracts import PUBLISHED
from pipeline.errors import InputError
from pipeline.publish.tables import write_csv
from pipeline.readback.pack_files import MOST_COLUMNS
from pipeline.readback.pack_tables import read_table, read_typed


def test_a_table_comes_back_as_it_was_before_it_was_written(tmp_path):
    table = pd.DataFrame({"=row": ["1", "2"], "text": ["=1+1", "'=quoted"], "more": ["a\nb", ""]}, dtype="str")
    write_csv(table, tmp_path / "t.csv")
    assert "'=1+1" in (tmp_path / "t.csv").read_text()
    assert read_table(tmp_path / "t.csv").equals(table)
    (tmp_path / "t.csv").write_text("a,b\n1,2,3\n")
    with pytest.raises(InputError, match=r"t\.csv: not a readable table"):
        read_table(tmp_path / "t.csv")


def test_a_table_is_read_as_text_however_late_its_first_text_comes(tmp_path):
    """A reader that guesses kinds looks at the first megabyte alone."""
    rows = 200_000
    pd.DataFrame(
        {"row": range(rows), "permit": ["12"] * (rows - 1) + ["A-12"], "note": [""] * (rows - 1) + ["x"]}
    ).to_csv(tmp_path / "t.csv", index=False)
    assert (tmp_path / "t.csv").stat().st_size > 2_000_000
    table = read_table(tmp_path / "t.csv")
    assert table.iloc[-1].tolist() == ["199999", "A-12", "x"]


def test_a_typed_table_has_numbers_missing_cells_and_texts_as_they_were(tmp_path):
    """An empty text is not a missing one; a number of a text column stays text; a whole number may be missing."""
    table = pd.DataFrame(
        {
            "row": [1, 2],
            "diameter_mm": [457.2, None],
            "copy_of": pd.array([None, 1], dtype="Int64"),
            "permit_no": pd.Series(["012", None], dtype="str"),
            "street": pd.Series(["", "=1+1"], dtype="str"),
        }
    )
    write_csv(table, tmp_path / "cores.csv")
    pd.testing.assert_frame_equal(read_typed(tmp_path / "cores.csv"), table, check_column_type=False)


@pytest.mark.parametrize(
    ("text", "words"), [("row,row\n1,2\n", "'row' is there twice"), ("row\nx\n", "not a readable")]
)
def test_a_table_with_a_column_twice_or_a_word_for_a_number_is_refused(tmp_path, text, words):
    (tmp_path / "cores.csv").write_text(text)
    with pytest.raises(InputError, match=words):
        read_typed(tmp_path / "cores.csv")


@pytest.mark.parametrize("read", [read_table, read_typed])
def test_more_columns_than_a_geopackage_takes_are_refused_before_a_cell_is_read(tmp_path, read, monkeypatch):
    """A header of 200,000 names takes 400 bytes of a zip, and took minutes and gigabytes to read as a table."""
    names = ["row", *(f"c{at}" for at in range(MOST_COLUMNS))]
    assert "row" in PUBLISHED
    file = tmp_path / "cores.csv"
    file.write_text(",".join(names[:-1]) + "\n" + ",".join("1" * MOST_COLUMNS) + "\n")
    assert read(file).shape == (1, MOST_COLUMNS)
    monkeypatch.setattr("pipeline.readback.pack_tables.arrow_csv.read_csv", None)
    file.write_text(",".join(names) + "\n")
    with pytest.raises(InputError, match="2,001 columns or more, expected at most 2,000"):
        read(file)
    file.write_text("a," * 200_000 + "a\n")
    with pytest.raises(InputError, match="200,001 columns or more"):
        read(file)


def test_a_row_longer_than_any_is_refused(tmp_path):
    (tmp_path / "cores.csv").write_text('row,street\n1,"' + "a" * (3 << 20) + '"\n')
    with pytest.raises(InputError, match="not a readable table"):
        read_typed(tmp_path / "cores.csv")
