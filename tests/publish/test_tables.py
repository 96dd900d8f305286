"""The tables and the folder they appear in."""

import csv
import datetime as dt
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from python_calamine import CalamineWorkbook

from pipeline.contracts import CORE_COLUMNS, CORE_TABLE, ORDER_COLUMNS
from pipeline.intake.cells.dates import read_dates
from pipeline.publish.geopackage.dates import as_dates
from pipeline.publish.tables import (
    as_cells,
    core_table,
    iso_texts,
    rounded,
    write_csv,
    write_workbook,
)
from pipeline.spreadsheet_text import as_written

ZONE = "America/Toronto"


def _cores():
    frame = pd.DataFrame({name: [1.0, np.nan] for name in CORE_COLUMNS})
    dates = pd.Series(pd.to_datetime(["2026-08-03 14:05", None])).dt.tz_localize(ZONE)
    return frame.assign(
        opened_on=dates.dt.normalize(),
        reinstated_at=dates,
        row=[1, 2],
        core_id=["A", "B"],
        status=["pending", "flagged"],
        street_matched="X",
        lon=[-82.123456789, np.nan],
    )


def test_register_columns_whose_names_are_taken_get_a_prefix_without_regard_to_case():
    own = pd.DataFrame({"Status": ["x", "y"], "register_status": ["p", "q"], "fid": ["1", "2"], "note": ["a", None]})
    table = core_table(_cores(), own)
    assert table.columns[: len(CORE_COLUMNS)].tolist() == list(CORE_COLUMNS)
    assert table.columns[len(CORE_COLUMNS) :].tolist() == [
        "register_Status",
        "register_register_status",
        "register_fid",
        "note",
    ]
    assert table["lon"][0] == -82.12345679


def test_dates_are_in_the_table_as_they_were_understood():
    table = core_table(_cores(), pd.DataFrame({"opened_on": ["3.8.26", None]}))
    assert table.loc[0, ["opened_on", "reinstated_at"]].tolist() == ["2026-08-03", "2026-08-03T14:05-04:00"]
    assert table.loc[1, ["opened_on", "reinstated_at"]].isna().all()
    assert table["register_opened_on"][0] == "3.8.26"


def test_a_csv_keeps_text_that_looks_like_something_else(tmp_path):
    table = pd.DataFrame({"a": ['say "x", y', "line\nbreak", "1/2", "007", None], "n": [1.5, np.nan, 2.0, 0.1, -3.0]})
    write_csv(table, tmp_path / "t.csv")
    back = pd.read_csv(tmp_path / "t.csv", dtype={"a": str}, keep_default_na=False, na_values=[""])
    assert back["a"].tolist()[:4] == table["a"].tolist()[:4]
    assert back["n"].fillna(-1).tolist() == table["n"].fillna(-1).tolist()


@pytest.mark.parametrize(
    ("cell", "written"),
    [
        ("=1+1", "'=1+1"),
        ("+44 20", "'+44 20"),
        ("-2+3", "'-2+3"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("\t=1", "'\t'=1"),
        ("\uff1d1", "'\uff1d1"),
        ("'=1", "''=1"),
        # no formulas: numbers with a sign, and what only holds such a letter
        ("-3.5", "-3.5"),
        ("+0,5", "+0,5"),
        ("-12", "-12"),
        ("a=b", "a=b"),
        ("'quoted'", "'quoted'"),
        ("", ""),
    ],
)  # fmt: skip
def test_a_text_that_a_spreadsheet_would_run_has_an_apostrophe_before_it(tmp_path, cell, written):
    """How a formula begins: OWASP, "CSV Injection", https://owasp.org/www-community/attacks/CSV_Injection (from memory)."""
    write_csv(pd.DataFrame({"=head": [cell, "other"], "n": [-1.5, 2.0]}), tmp_path / "t.csv")
    back = pd.read_csv(tmp_path / "t.csv", dtype={"'=head": str}, keep_default_na=False)
    assert back.columns.tolist() == ["'=head", "n"]
    assert back["'=head"].tolist() == [written, "other"]
    assert back["n"].tolist() == [-1.5, 2.0]


@given(st.lists(st.text(alphabet="=+-@'\t\n\uff1d1a.,", max_size=6), min_size=1))
def test_what_was_guarded_is_read_back_as_it_was(cells):
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "t.csv"
        write_csv(pd.DataFrame({"a": pd.Series(cells, dtype="str")}), place)
        with place.open(newline="", encoding="utf-8") as file:
            written = [row[0] if row else "" for row in csv.reader(file)][1:]
    assert as_written(pd.Series(written, dtype="str")).tolist() == cells
    for text in written:
        assert not text.startswith(("=", "@", "\t", "\n", "\uff1d"))
        assert not text.startswith(("+", "-")) or float(text.replace(",", ".")) is not None


def test_a_workbook_holds_text_as_text_and_is_the_same_twice(tmp_path):
    lines = pd.DataFrame(
        [('=HYPERLINK("http://x")', "all", "grout dark", "kg", 36.0, 40.0, 4.0, 2)], columns=list(ORDER_COLUMNS)
    )
    dated = pd.DataFrame({"on": pd.to_datetime(["2026-09-30", None]), "is_fewest": [True, False]})
    for name in ("a.xlsx", "b.xlsx"):
        sheets = {"Order": lines.astype({"packs": "Int64"}), "Dates": dated}
        write_workbook(sheets, "Town & Country", dt.date(2026, 9, 30), tmp_path / name, ["a note"])
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()
    book = CalamineWorkbook.from_path(str(tmp_path / "a.xlsx"))
    assert book.sheet_names == ["Order", "Dates", "How to read it"]
    assert book.get_sheet_by_name("Order").to_python()[1] == [*lines.iloc[0, :4], 36.0, 40.0, 4.0, 2.0]
    assert book.get_sheet_by_name("Dates").to_python()[1:] == [["2026-09-30", "yes"], ["", "no"]]
    assert book.get_sheet_by_name("How to read it").to_python() == [["Town & Country, as of 2026-09-30"], ["a note"]]


def test_a_sheet_that_is_cut_says_so_on_the_last_sheet(tmp_path, monkeypatch):
    monkeypatch.setattr("pipeline.publish.tables._MOST_ROWS", 3)
    sheets = {"Four": pd.DataFrame({"a": range(4)}), "Three": pd.DataFrame({"a": range(3)})}
    write_workbook(sheets, "Town", dt.date(2026, 9, 30), tmp_path / "cut.xlsx")
    book = CalamineWorkbook.from_path(str(tmp_path / "cut.xlsx"))
    assert book.sheet_names == ["Four", "Three", "How to read it"]
    assert len(book.get_sheet_by_name("Four").to_python()) == 1 + 3
    (_, said) = book.get_sheet_by_name("How to read it").to_python()
    assert said[0].startswith("Cut: sheet Four holds the first 3 of 4 rows")


def test_numbers_of_the_table_of_cores_have_the_digits_of_their_columns():
    """A tenth of a millimetre of a length on the ground is noise; a litre keeps six places."""
    third = 1 / 3
    cores = pd.DataFrame({column.name: [third] for column in CORE_TABLE})
    never = pd.Series([pd.NaT], dtype=f"datetime64[us, {ZONE}]")
    cores = cores.assign(opened_on=never, reinstated_at=never)
    table = core_table(cores, pd.DataFrame({"own": [third]}))
    assert table.loc[0, ["chainage_m", "offset_m", "diameter_mm", "depth_mm"]].tolist() == [0.333] * 4
    assert table.loc[0, ["segment_confidence", "surface_confidence"]].tolist() == [0.3333] * 2
    assert table.loc[0, ["lon", "lat"]].tolist() == [0.33333333] * 2
    assert table.loc[0, ["grout_l", "bags"]].tolist() == [0.333333] * 2
    # what the register wrote is left as it is
    assert table.loc[0, "own"] == third


def test_other_tables_keep_six_decimal_places_and_their_texts():
    table = rounded(pd.DataFrame({"a": [1 / 3, np.nan], "b": ["x", None], "n": [1, 2]}))
    assert table["a"].tolist()[0] == 0.333333
    assert table["b"].tolist()[0] == "x"
    assert table["n"].tolist() == [1, 2]


def test_days_and_truths_are_texts_that_read_the_same_everywhere():
    cells = as_cells(
        pd.DataFrame({"day": pd.to_datetime(["2026-01-02", None]), "is_fewest": [True, False], "n": [1, 2]})
    )
    assert cells["day"].tolist()[0] == "2026-01-02"
    assert pd.isna(cells["day"][1])
    assert cells["is_fewest"].tolist() == ["yes", "no"]
    assert cells["n"].tolist() == [1, 2]


@pytest.mark.parametrize(
    ("written", "handed"),
    [
        ("2026-08-03", "2026-08-03"),
        ("2026-08-03 14:05", "2026-08-03T14:05-04:00"),
        # winter time
        ("2026-12-03 14:05", "2026-12-03T14:05-05:00"),
        # midnight counts as no time of day
        ("2026-08-03 00:00", "2026-08-03"),
    ],
)
def test_dates_are_written_by_iso_8601_with_a_time_only_where_one_was_written(written, handed):
    instants = pd.Series(pd.to_datetime([written, None]).tz_localize(ZONE), index=[7, 3])
    texts = iso_texts(instants)
    assert texts.index.tolist() == [7, 3]
    assert texts[7] == handed
    assert pd.isna(texts[3])


@pytest.mark.parametrize(("zone", "day"), [("America/Santiago", "2026-09-06"), ("America/Havana", "2026-11-01")])
def test_a_day_without_midnight_or_with_two_is_written_as_a_day(zone, day):
    read = read_dates(pd.Series([day, f"{day} 14:05"], dtype="str"), zone, day_first=None).instants
    assert iso_texts(read).str.slice(0, 16).tolist() == [day, f"{day}T14:05"]


@pytest.mark.parametrize(("zone", "offset"), [("Europe/Paris", "+00:09"), ("Europe/Dublin", "-00:25")])
def test_a_time_of_day_before_standard_time_has_an_offset_that_can_be_read(zone, offset):
    """Local mean time was 9 min 21 s ahead in Paris, and 25 min 21 s behind in Dublin."""
    texts = iso_texts(pd.Series(pd.to_datetime(["1900-01-01 10:30"]).tz_localize(zone)))
    assert texts.tolist() == [f"1900-01-01T10:30{offset}"]
    assert as_dates(texts).notna().all()


@settings(max_examples=30)
@given(st.lists(st.datetimes(pd.Timestamp("2020-01-01"), pd.Timestamp("2030-01-01")), min_size=1, max_size=6))
def test_a_date_as_it_is_written_can_be_read_back_to_its_minute(moments):
    instants = pd.Series(pd.to_datetime(moments, utc=True).tz_convert(ZONE).floor("min"))
    back = [pd.Timestamp(text) for text in iso_texts(instants)]
    local = [moment if moment.tz is None else moment.tz_convert(ZONE).tz_localize(None) for moment in back]
    assert local == instants.dt.tz_localize(None).tolist()
