"""The registers of three contractors: made again byte for byte, and every row accounted for by their answers.

The files are read here with calamine and the csv module, and positions and sizes worked out by this file's own means.
"""

import csv
import datetime as dt
import io
import math
import re
import subprocess
import sys
import tomllib
import zipfile
from collections import Counter
from fractions import Fraction
from pathlib import Path

import numpy as np
import pandas as pd
import pyproj
import pytest
import python_calamine

_DATA = Path(__file__).parents[2] / "sample_data" / "three_contractors"
_WORKBOOK, _SHEET, _DAY_BOOK = "harbour_cutters.xlsx", "Cores 2026", "north_gang.txt"
_LISTS = [f"vale_reinstatement/2026-{month:02d}.csv" for month in (7, 8, 9)]
_MADE = {_WORKBOOK, *_LISTS, _DAY_BOOK, "truth.csv", "not_cores.csv"}
_KEY = ["file", "sheet", "place"]
_MILLIMETRES = {"in": 25.4, '"': 25.4, "ft": 304.8, "'": 304.8, "cm": 10, "m": 1000, "mm": 1}


def test_the_script_makes_the_registers_byte_for_byte(tmp_path):
    done = subprocess.run(
        [sys.executable, _DATA / "make_registers.py", tmp_path], check=True, capture_output=True, text=True
    )
    made = {file.relative_to(tmp_path).as_posix() for file in tmp_path.rglob("*") if file.is_file()}
    assert made == _MADE
    for name in made:
        assert (tmp_path / name).read_bytes() == (_DATA / name).read_bytes(), name
    assert done.stdout.startswith("177 cores in 185 rows, 81 rows without a core -> ")


def _records(text, delimiter, **options):
    """Return each record of a text with the line on which it begins; blank lines are records without cells."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, **options)
    begins = 1
    for cells in reader:
        yield begins, [cell.strip() for cell in cells]
        begins = reader.line_num + 1


def _read_all():
    """Return the stripped cells of every row of the registers by file, sheet and place, blank rows included."""
    rows = {}
    book = python_calamine.CalamineWorkbook.from_path(str(_DATA / _WORKBOOK))
    for sheet in book.sheet_names:
        for place, cells in enumerate(book.get_sheet_by_name(sheet).to_python(skip_empty_area=False), start=1):
            rows[_WORKBOOK, sheet, place] = [cell.strip() if isinstance(cell, str) else cell for cell in cells]
    for name in _LISTS:
        # the list of September never quotes
        options = {"quoting": csv.QUOTE_NONE} if name.endswith("09.csv") else {}
        text = (_DATA / name).read_bytes().decode("cp1252")
        rows |= {(name, "", place): cells for place, cells in _records(text, ";", **options)}
    text = (_DATA / _DAY_BOOK).read_bytes().decode("utf-8-sig")
    return rows | {(_DAY_BOOK, "", place): cells for place, cells in _records(text, "|", quoting=csv.QUOTE_NONE)}


@pytest.fixture(scope="module")
def rows():
    return _read_all()


def _answers(name):
    table = pd.read_csv(_DATA / name, dtype=str, keep_default_na=False).astype({"place": int})
    table = table.set_index(_KEY).sort_index()
    assert table.index.is_unique
    return table


@pytest.fixture(scope="module")
def truth():
    return _answers("truth.csv")


@pytest.fixture(scope="module")
def not_cores():
    return _answers("not_cores.csv")


def test_cores_and_other_rows_together_account_for_every_row_once(rows, truth, not_cores):
    assert set(truth.index).isdisjoint(not_cores.index)
    assert set(truth.index) | set(not_cores.index) == set(rows)
    blank = {key for key, cells in rows.items() if not any(str(cell) for cell in cells)}
    assert blank == set(not_cores.index[not_cores["why"].eq("blank")])


def test_a_row_without_a_core_is_listed_with_its_text(rows, not_cores):
    for key, row in not_cores.iterrows():
        start = row["text"].split(" | ")[0]
        assert start in [str(cell) for cell in rows[key]] or not start, key


def _names(rows, not_cores, file, sheet=""):
    """Return the column of each name in the header of a file; of a head of two rows, the lower name."""
    heads = not_cores.loc[(file, sheet)]
    found = {}
    for place in heads.index[heads["why"].eq("header")]:
        found |= {name: column for column, name in enumerate(rows[file, sheet, place]) if name}
    return found


@pytest.fixture(scope="module")
def cells(rows, truth, not_cores):
    """The cells of the rows with a core, by the names of their columns; absent columns and cells are None."""
    columns = {(file, sheet): _names(rows, not_cores, file, sheet) for file, sheet in truth.index.droplevel(2).unique()}
    records = []
    for file, sheet, place in truth.index:
        row = rows[file, sheet, place]
        named = columns[file, sheet]
        records.append({name: row[at] for name, at in named.items() if at < len(row) and row[at] != ""})
    return pd.Series(records, index=truth.index)


def test_the_number_of_a_core_is_the_one_in_the_answers(cells, truth):
    written = [row.get("Core" if key[0] == _DAY_BOOK else "No.", "") for key, row in cells.items()]
    assert written == truth["core_id"].tolist()


def _number(value):
    """Return a coordinate; in text, the last comma or point is the decimal mark, any other mark separates groups."""
    if isinstance(value, float) or re.fullmatch(r"\d+(\.\d+)?", value):
        return float(value)
    whole, _, decimals = value.replace(",", ".").rpartition(".")
    return float(re.sub(r"[.\s]", "", whole) + "." + decimals)


def _angles(text):
    """Return longitude and latitude of a position in one cell."""
    parts = [float(number.replace(",", ".")) for number in re.findall(r"-?\d+(?:[.,]\d+)?", text)]
    half = len(parts) // 2
    first, second = (sum(part / 60**step for step, part in enumerate(side)) for side in (parts[:half], parts[half:]))
    if "POINT" in text:
        return first, second
    return (-second if text.endswith("W") else second), first


def _metres_off(lon, lat, truth):
    """Return how far positions lie from the truth."""
    _, _, metres = pyproj.Geod(ellps="WGS84").inv(lon, lat, truth["lon"].astype(float), truth["lat"].astype(float))
    return np.asarray(metres)


@pytest.mark.parametrize(("register", "crs"), [("harbour_cutters", 32167), ("vale_reinstatement", 32617)])
def test_projected_positions_lie_where_the_answers_put_them(cells, truth, register, crs):
    placed = truth[truth["register"].eq(register) & truth["lon"].ne("")]
    x, y = ([_number(row[name]) for row in cells[placed.index]] for name in ("Easting", "Northing"))
    lon, lat = pyproj.Transformer.from_crs(crs, 4326, always_xy=True).transform(x, y)
    assert len(placed) == 59
    assert (_metres_off(lon, lat, placed) <= placed["position_within_m"].astype(float)).all()


def test_positions_in_one_cell_lie_where_the_answers_put_them_within_their_digits(cells, truth):
    placed = truth[truth["register"].eq("north_gang")]
    lon, lat = zip(*(_angles(row["Where"]) for row in cells[placed.index]), strict=True)
    off = _metres_off(lon, lat, placed)
    assert (off <= placed["position_within_m"].astype(float)).all()
    rough = placed["tricks"].str.contains("three decimals").to_numpy()
    assert rough.sum() == 4
    assert placed["position_within_m"].astype(float)[rough].between(60, 75).all()
    assert off[~rough].max() < 1


def _millimetres(text):
    """Return a size in words: feet and inches, or a number with a unit."""
    total = 0.0
    for whole, fraction, unit in re.findall(r"(\d+(?:[.,]\d+)?)(?: (\d/\d))? ?(mm|cm|m|in|ft|\"|')", text):
        total += (float(whole.replace(",", ".")) + Fraction(fraction or 0)) * _MILLIMETRES[unit]
    return total


@pytest.mark.parametrize(
    ("column", "names"), [("diameter_mm", ("Ø (in)", "Ø")), ("depth_mm", ("Depth (in)", "Depth", "Deep"))]
)
def test_sizes_are_those_of_the_answers(cells, truth, column, names):
    for key, row in cells.items():
        written = next((row[name] for name in names if name in row), "")
        expected = truth.loc[key, column]
        if written == "":
            assert expected == "", key
            continue
        # Harbour Cutters write inches without their unit
        text = str(written).rstrip('"') + " in" if key[0] == _WORKBOOK else written
        assert math.isclose(_millimetres(text), float(expected), abs_tol=0.006), key


def _day(value, register):
    """Return a day in ISO form."""
    if value in (None, ""):
        return ""
    if isinstance(value, float):
        return (dt.date(1899, 12, 30) + dt.timedelta(days=int(value))).isoformat()
    if isinstance(value, dt.date):
        return value.isoformat()[:10]
    for form in ["%d/%m/%Y"] if register == "vale_reinstatement" else ["%m/%d/%Y", "%d %b %Y", "%B %d, %Y"]:
        try:
            return dt.datetime.strptime(value, form).date().isoformat()
        except ValueError:
            continue
    raise AssertionError(value)


@pytest.mark.parametrize(
    ("column", "names"), [("opened_on", ("Cut", "Opened")), ("reinstated_at", ("Put back", "Reinstated", "Done"))]
)
def test_days_are_those_of_the_answers(cells, truth, column, names):
    for key, row in cells.items():
        written = next((row[name] for name in names if name in row), None)
        assert _day(written, truth.loc[key, "register"]) == truth.loc[key, column][:10], key


def test_amounts_of_the_workbook_are_those_of_the_answers(cells, truth):
    of_book = truth[truth["register"].eq("harbour_cutters") & truth["bags_used"].ne("")]
    assert len(of_book) == 52
    for key, told in of_book.iterrows():
        row = cells[key]
        assert row["Bags"] == float(told["bags_used"])
        assert math.isclose(row["Water (gal)"] * 3.785411784, float(told["water_l"]), abs_tol=0.001)
        is_error = "error cell" in told["tricks"]
        celsius = "" if is_error else f"{(float(row['Temp °F']) - 32) * 5 / 9:.2f}"
        assert celsius == told["temperature_c"]


def test_amounts_of_the_text_registers_are_those_of_the_answers(cells, truth):
    litres = {"L": 1, "mL": 0.001, "US gal": 3.785411784}
    for key, told in truth[truth["register"].ne("harbour_cutters")].iterrows():
        row = cells[key]
        assert row.get("Bags", "").replace(",", ".") == told["bags_used"], key
        assert ("Air" in row, "Water" in row) == (told["temperature_c"] != "", told["water_l"] != ""), key
        if "Air" in row:
            degrees = float(re.match(r"\d+", row["Air"])[0])
            celsius = (degrees - 32) * 5 / 9 if row["Air"].endswith("F") else degrees
            assert f"{celsius:.2f}" == told["temperature_c"], key
            amount, unit = row["Water"].split(" ", 1)
            assert f"{float(amount) * litres[unit]:.3f}" == told["water_l"], key


def test_the_hidden_rows_of_the_workbook_are_those_of_the_answers_and_its_bags_are_formulas(truth, not_cores):
    with zipfile.ZipFile(_DATA / _WORKBOOK) as book:
        xml = book.read("xl/worksheets/sheet3.xml").decode("utf-8")
    hidden = [int(row) for row in re.findall(r'<row r="(\d+)"[^>]* hidden="1"', xml)]
    is_hidden = truth["tricks"].str.contains("hidden row")
    assert hidden == truth.index.get_level_values("place")[is_hidden].tolist()
    assert re.findall(r'<col min="(\d+)" max="(\d+)"[^>]* hidden="1"', xml) == [("10", "10")]
    totals = not_cores.loc[(_WORKBOOK, _SHEET), "why"].eq("total").sum()
    bags = truth.loc[(_WORKBOOK, _SHEET), "bags_used"].ne("").sum()
    # each total has its bags, and all but the last the water; one formula is in error
    assert xml.count("<f>") == bags + 2 * totals - 1 + 1


def test_shared_copied_and_clashing_cores_are_as_the_readme_counts_them(truth):
    assert truth["register"].value_counts().to_dict() == {
        "north_gang": 65, "harbour_cutters": 60, "vale_reinstatement": 60,
    }  # fmt: skip
    tricks = Counter(trick for written in truth["tricks"] for trick in written.split(";"))
    assert tricks["exact copy"] == 5
    assert tricks["id only"] == 2
    assert truth.index[truth["core_id"].eq("")].tolist() == [(_WORKBOOK, _SHEET, 43)]
    registers = truth.groupby("core")["register"].transform("nunique")
    shared = truth[registers > 1]
    assert sorted(shared["core_id"].unique()) == ["HC-0040", "HC-0046", "HC-0050"]
    numbered = truth[truth["core_id"].ne("")].groupby("core_id")["core"].nunique()
    assert numbered[numbered > 1].index.tolist() == ["HC-0005", "HC-0019", "HC-0028", "HC-0037"]


def test_the_programme_names_columns_that_the_registers_have(rows, not_cores):
    programme = tomllib.loads((_DATA / "programme.toml").read_text("utf-8"))
    files = [[(_WORKBOOK, _SHEET)], [(name, "") for name in _LISTS], [(_DAY_BOOK, "")]]
    for register, parts in zip(programme["cores"], files, strict=True):
        mapped = {*register["columns"].values(), *(register[key] for key in ("x", "y", "position") if key in register)}
        for file, sheet in parts:
            assert mapped <= set(_names(rows, not_cores, file, sheet)), file
    for name in ("roads", "surfaces", "districts", "joints", "resurfaced", "planned_works"):
        assert (_DATA / programme[name]["path"]).exists()
