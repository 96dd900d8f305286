"""The table of stock: read whole, or refused in words."""

import pandas as pd
import pytest

from pipeline.errors import InputError
from pipeline.intake.stock import read_stock
from pipeline.programme.orders import Stock

_ITEMS = ["grout dark", "grout pale", "pea gravel"]


def _read(folder, text, **columns):
    (folder / "stock.csv").write_text(text, encoding="utf-8")
    return read_stock(Stock(path="stock.csv", columns=columns), folder, _ITEMS, day_first=None)


def test_a_table_with_dates_is_read(tmp_path):
    table = _read(
        tmp_path, "yard,item,packs,arrives_on,expires_on\nNorth,grout dark,12,2026-10-08,\nNorth,pea gravel,3,,\n"
    )
    assert table["packs"].tolist() == [12, 3]
    assert table["arrives_on"].tolist()[0] == pd.Timestamp("2026-10-08")
    assert table[["arrives_on", "expires_on"]].isna().sum().tolist() == [1, 2]


def test_dates_may_be_left_out_and_columns_be_called_otherwise(tmp_path):
    table = _read(tmp_path, "Depot,what,bags\nNorth,grout dark,12\n", yard="Depot", item="what", packs="bags")
    assert table[["yard", "item", "packs"]].to_numpy().tolist() == [["North", "grout dark", 12.0]]
    assert table["expires_on"].isna().all()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("yard,item\nNorth,grout dark\n", ["no column for `packs`", "yard, item", "orders.stock.columns.packs"]),
        ("yard,item,packs\nNorth,grout dark,a dozen\n", ["row 1", "'a dozen'", "a number of packs"]),
        ("yard,item,packs\nNorth,grout dark,2\nNorth,grout dark,-2\n", ["row 2", "'-2'"]),
        ("yard,item,packs\nNorth,cement,2\n", ["row 1", "'cement'", "one of: grout dark, grout pale, pea gravel"]),
        ("yard,item,packs,expires_on\nNorth,grout dark,2,soon\n", ["row 1", "'soon'", "`expires_on`", "2026-09-30"]),
    ],
)
def test_what_cannot_be_read_stops_the_run_in_words(tmp_path, text, words):
    with pytest.raises(InputError) as error:
        _read(tmp_path, text)
    for word in ("stock.csv", *words):
        assert word in str(error.value)


def test_an_empty_number_is_named_as_an_empty_cell(tmp_path):
    with pytest.raises(InputError) as error:
        _read(tmp_path, "yard,item,packs\nNorth,grout dark,\n")
    assert str(error.value) == (
        "stock.csv: row 1: found an empty cell for `packs`, expected a number of packs. Correct it."
    )


def test_the_row_named_is_that_of_the_file(tmp_path):
    with pytest.raises(InputError, match=r"^stock\.csv: row 3: found 'x' for `packs`"):
        _read(tmp_path, "yard,item,packs\nNorth,grout dark,1\n\nNorth,grout dark,2\nNorth,grout dark,x\n")


def test_a_day_that_may_be_either_needs_the_setting(tmp_path):
    text = "yard,item,packs,expires_on\nNorth,grout dark,2,03/04/2026\n"
    with pytest.raises(
        InputError, match="'03/04/2026' for `expires_on`, expected a date such as 2026-09-30, as day or month"
    ):
        _read(tmp_path, text)
    table = read_stock(Stock(path="stock.csv"), tmp_path, _ITEMS, day_first=True)
    assert table["expires_on"].tolist() == [pd.Timestamp("2026-04-03")]
