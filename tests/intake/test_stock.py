"""The table of stock: read whole, or refused in words."""

import pandas as pd
import pytest

from pipeline.errors import InputError
from pipeline.intake.stock import read_stock
from pipeline.programme.orders import Stock

_ITEMS = ["grout dark", "grout pale", "pea gravel"]
_YARDS = ["North", "South yard"]


def _read(folder, text, **columns):
    (folder / "stock.csv").write_text(text, encoding="utf-8")
    return read_stock(Stock(path="stock.csv", columns=columns), folder, _ITEMS, _YARDS, day_first=None).frame


def _read_with(folder, text, day_first=None, **keys):
    (folder / "stock.csv").write_text(text, encoding="utf-8")
    return read_stock(Stock(path="stock.csv", **keys), folder, _ITEMS, _YARDS, day_first=day_first)


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


def test_an_empty_cell_is_named_as_such(tmp_path):
    with pytest.raises(InputError) as error:
        _read(tmp_path, "yard,item,packs\nNorth,grout dark,\n")
    assert str(error.value) == (
        "stock.csv: row 1: found an empty cell for `packs`, expected a number of packs, zero or more. "
        "Fill it in, or delete the row."
    )


def test_the_row_named_is_that_of_the_file(tmp_path):
    with pytest.raises(InputError, match=r"^stock\.csv: row 3: found 'x' for `packs`"):
        _read(tmp_path, "yard,item,packs\nNorth,grout dark,1\n\nNorth,grout dark,2\nNorth,grout dark,x\n")


def test_a_day_that_may_be_either_needs_the_setting(tmp_path):
    text = "yard,item,packs,expires_on\nNorth,grout dark,2,03/04/2026\n"
    with pytest.raises(InputError) as error:
        _read_with(tmp_path, text)
    assert str(error.value) == (
        "stock.csv: row 1: found '03/04/2026' for `expires_on`, expected a date whose day and month cannot be swapped. "
        "Set orders.stock.day_first, or write it as 2026-09-30."
    )


@pytest.mark.parametrize(
    ("registers", "own", "day"),
    [(True, None, "2026-04-03"), (False, None, "2026-03-04"), (True, False, "2026-03-04"), (None, True, "2026-04-03")],
)
def test_the_order_of_day_and_month_is_its_own_else_that_of_the_registers(tmp_path, registers, own, day):
    text = "yard,item,packs,expires_on\nNorth,grout dark,2,03/04/2026\n"
    (tmp_path / "stock.csv").write_text(text, encoding="utf-8")
    stock = Stock(path="stock.csv", day_first=own)
    table = read_stock(stock, tmp_path, _ITEMS, _YARDS, day_first=registers)
    assert table.frame["expires_on"].tolist() == [pd.Timestamp(day)]


@pytest.mark.parametrize("written", ["North", "north ", " NORTH", "North\u00a0"])
def test_case_and_white_space_cost_no_stock(tmp_path, written):
    table = _read(tmp_path, f"yard,item,packs\n{written},Grout  Dark ,10\n")
    assert table[["yard", "item", "packs"]].to_numpy().tolist() == [["North", "grout dark", 10.0]]


def test_a_yard_that_supplies_nobody_is_refused_with_the_nearest(tmp_path):
    with pytest.raises(InputError) as error:
        _read(tmp_path, "yard,item,packs\nNorth,grout dark,1\nSuoth yard,grout dark,10\n")
    assert str(error.value) == (
        "stock.csv: row 2: found 'Suoth yard' for `yard`, expected a yard that supplies a district: \"North\", "
        '"South yard". Did you mean "South yard"? Correct it, or add the yard to [orders.yards].'
    )


def test_a_total_is_refused_with_its_row(tmp_path):
    with pytest.raises(
        InputError, match=r"^stock\.csv: row 3: found 'Total' for `yard`, expected a yard that supplies"
    ):
        _read(tmp_path, "yard,item,packs\nNorth,grout dark,1\nNorth,grout pale,2\nTotal,,3\n")


def test_blank_rows_are_skipped_and_counted(tmp_path):
    read = _read_with(tmp_path, "yard,item,packs\nNorth,grout dark,1\n,,\n , ,\nNorth,grout pale,2\n")
    assert read.frame["packs"].tolist() == [1, 2]
    assert read.frame.index.tolist() == [0, 1]
    assert (read.label, read.rows_in_file) == ("stock.csv", 4)
    assert read.notices == ["stock.csv: 2 blank rows skipped."]


@pytest.mark.parametrize(("decimal", "packs"), [(".", 1200), (",", 1.2)])
def test_a_comma_in_a_number_needs_the_setting(tmp_path, decimal, packs):
    text = 'yard,item,packs\nNorth,grout dark,"1,200"\n'
    assert _read_with(tmp_path, text, decimal=decimal).frame["packs"].tolist() == [packs]
    with pytest.raises(InputError, match=r"found '1,200' for `packs`.*set orders\.stock\.decimal"):
        _read_with(tmp_path, text)


@pytest.mark.parametrize("packs", ["-2", "nan", "inf", "1e999"])
def test_packs_that_cannot_be_counted_are_refused(tmp_path, packs):
    with pytest.raises(
        InputError, match=rf"row 1: found '{packs}' for `packs`, expected a number of packs, zero or more"
    ):
        _read_with(tmp_path, f"yard,item,packs\nNorth,grout dark,{packs}\n")


def test_what_expires_before_it_arrives_is_refused(tmp_path):
    text = "yard,item,packs,arrives_on,expires_on\nNorth,grout dark,1,2026-10-08,{}\n"
    assert len(_read_with(tmp_path, text.format("2026-10-08")).frame) == 1
    with pytest.raises(
        InputError, match=r"row 1: found '2026-10-07' for `expires_on`, expected a date that is not before"
    ):
        _read_with(tmp_path, text.format("2026-10-07"))


def test_without_districts_the_one_yard_is_to_be_named(tmp_path):
    (tmp_path / "stock.csv").write_text("yard,item,packs\nDepot,grout dark,1\n", encoding="utf-8")
    with pytest.raises(InputError, match=r'set "\(no district\)" = "Depot" under \[orders\.yards\]\.$'):
        read_stock(Stock(path="stock.csv"), tmp_path, _ITEMS, ["(no district)"], day_first=None)
