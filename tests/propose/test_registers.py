"""A register as a proposed section."""

import geopandas as gpd
import numpy as np
import pyproj
import pytest
import shapely
import xlsxwriter

from pipeline.programme.catalogue import load_catalogue
from pipeline.propose.cell_kinds import Known
from pipeline.propose.crs_by_roads import Roads
from pipeline.propose.first_look import first_look
from pipeline.propose.header_words import header_words
from pipeline.propose.registers import FileGroup, propose_register

_WORDS = header_words()["register"]
_ROADS = Roads(np.array([shapely.LineString([(-82.21, 44.8), (-82.19, 44.8)])]), pyproj.CRS.from_epsg(4326))
_HEAD = "Core no,Lon,Lat,{dia},Depth (mm),Cut"


@pytest.fixture(scope="module")
def known():
    return Known(load_catalogue({}, "programme.toml"), frozenset())


def _proposed(known, *files):
    looks = [first_look(file, file.name, _WORDS) for file in files]
    return propose_register(FileGroup("a", list(files), looks, "Gang"), _WORDS, known, _ROADS)


def _text(folder, *rows, dia="Hole dia (mm)", name="a.csv"):
    file = folder / name
    file.write_text("\n".join(["Cores of 2026", "", _HEAD.format(dia=dia), *rows]) + "\n", "utf-8")
    return file


def _rows(count, cut="2026-03-0{n}", first=1):
    return [f"A-{n},{-82.2 + n * 1e-4:.4f},44.8,450,200,{cut.format(n=n)}" for n in range(first, first + count)]


def _values(register):
    return {(one.table, one.key): one.value for one in register.section.settings if one.question is None}


def test_a_register_with_titles_and_totals_is_proposed_from_its_cores_alone(tmp_path, known):
    register = _proposed(known, _text(tmp_path, *_rows(5), "Total,,,,1000,"))
    # a title, a blank line and a total
    assert (register.rows, register.set_aside) == (5, 3)
    assert _values(register) == {
        ("", "name"): "Gang", ("", "path"): "a", ("", "delimiter"): ",", ("", "x"): "Lon", ("", "y"): "Lat",
        ("", "crs"): "EPSG:4326", ("", "diameter_is"): "hole",
        ("columns", "core_id"): "Core no", ("columns", "diameter"): "Hole dia (mm)", ("columns", "depth"): "Depth (mm)",
        ("columns", "opened_on"): "Cut", ("units", "diameter"): "mm", ("units", "depth"): "mm",
    }  # fmt: skip
    assert register.section.questions == []


def test_what_a_diameter_measures_is_a_question_unless_its_header_says_it(tmp_path, known):
    register = _proposed(known, _text(tmp_path, *_rows(3), dia="Core dia (mm)"))
    assert [choice.label for choice in register.section.questions[0].choices] == ['"hole"', '"core"']
    assert _values(_proposed(known, _text(tmp_path, *_rows(3), dia="Plug diameter (mm)")))["", "diameter_is"] == "core"


def test_files_of_one_make_settle_what_one_of_them_leaves_open(tmp_path, known):
    # only the second file has days after the twelfth
    files = [
        _text(tmp_path, *_rows(3, "0{n}/04/2026")),
        _text(tmp_path, *_rows(3, "2{n}/04/2026", first=4), name="b.csv"),
    ]
    register = _proposed(known, *files)
    assert _values(register)["", "day_first"] is True
    assert register.rows == 6


def test_a_unit_that_is_open_keeps_an_optional_column_back_and_a_required_one_not(tmp_path, known):
    file = tmp_path / "a.csv"
    rows = [f"A-{n},{-82.2 + n * 1e-4:.4f},44.8,18,200 mm,1.{n}" for n in range(3)]
    file.write_text("\n".join(["Core no,Lon,Lat,Hole dia,Depth,Water (gal)", *rows]) + "\n", "utf-8")
    values = _values(_proposed(known, file))
    assert values["columns", "diameter"] == "Hole dia"
    assert ("columns", "water") not in values
    assert not {("units", "diameter"), ("units", "depth"), ("units", "water")} & set(values)


def test_a_register_without_known_headers_asks_for_its_columns_and_says_which_row_was_taken(tmp_path, known):
    file = tmp_path / "a.csv"
    rows = [f"A-{n};{-82.2 + n * 1e-4:.4f};44.8;45{n};20{n}" for n in range(3)]
    file.write_text("\n".join(["Kern;Laenge;Breite;Durchmesser;Tiefe", *rows]) + "\n", "utf-8")
    register = _proposed(known, file)
    assert _values(register)["", "x"] == "Laenge"
    asked = [question.text.split("?")[0] for question in register.section.questions]
    assert asked == [
        "What does the diameter measure", "Which column is the core id (`core_id`)",
        "Which column is the diameter (`diameter`)", "Which column is the depth (`depth`)",
    ]  # fmt: skip
    assert "the first filled row was taken for the header" in register.section.remarks[0]


def _book(folder, **sheets):
    """Return a workbook with three cores in each sheet, whose header may have more names."""
    file = folder / "a.xlsx"
    with xlsxwriter.Workbook(file) as book:
        for part, (name, more) in enumerate(sheets.items()):
            sheet = book.add_worksheet(name)
            sheet.write_row(0, 0, [*_HEAD.format(dia="Hole dia (mm)").split(","), *more])
            for number, row in enumerate(_rows(3, first=1 + 3 * part), start=1):
                sheet.write_row(number, 0, [*row.split(","), *("x" for _ in more)])
    return file


def _of_workbook(known, file):
    found = first_look(file, file.name, _WORDS)
    looks = found.alike or [found]
    return propose_register(FileGroup("a", [file] * len(looks), looks, "Gang"), _WORDS, known, _ROADS)


def test_all_sheets_with_the_same_columns_are_read_and_what_one_has_more_is_kept_as_read(tmp_path, known):
    register = _of_workbook(known, _book(tmp_path, Jan=[], Feb=["notes"], Mar=[]))
    assert _values(register)["", "layer"] == ("Jan", "Feb", "Mar")
    assert (register.rows, register.unmapped, register.section.questions) == (9, ["notes"], [])


def test_sheets_with_different_columns_that_could_be_the_register_are_a_question(tmp_path, known):
    register = _of_workbook(known, _book(tmp_path, North=[], South=["Crew"]))
    assert ("", "layer") not in _values(register)
    assert [choice.label for choice in register.section.questions[0].choices] == ['"South"', '"North"']


def test_a_point_layer_needs_no_columns_for_the_position(tmp_path, known):
    points = shapely.points(-82.2 + np.arange(3) * 1e-4, np.full(3, 44.8))
    cores = {"id": ["A-1", "A-2", "A-3"], "hole_dia_mm": [450, 450, 300], "depth_mm": [200, 210, 220]}
    gpd.GeoDataFrame(cores, geometry=points, crs=4326).to_file(tmp_path / "a.gpkg")
    register = _proposed(known, tmp_path / "a.gpkg")
    assert register.section.questions == []
    assert [key for table, key in _values(register) if not table] == ["name", "path", "diameter_is"]


def test_the_summary_has_a_line_per_column_and_names_what_has_no_meaning(tmp_path, known):
    file = tmp_path / "a.csv"
    file.write_text("Core no,Lon,Lat,Hole dia (in),Depth,Code\n" + "\n".join(
        f"A-{n},{-82.2 + n * 1e-4:.4f},44.8,18,8 in,x" for n in range(3)
    ) + "\n", "utf-8")  # fmt: skip
    register = _proposed(known, file)
    assert [(line.header, line.meaning, line.unit) for line in register.columns] == [
        ("Lon", "x", ""), ("Lat", "y", ""), ("Core no", "core_id", ""), ("Hole dia (in)", "diameter", "in"),
        ("Depth", "depth", "in the cells"),
    ]  # fmt: skip
    assert register.unmapped == ["Code"]


def test_a_notice_of_several_files_comes_once(tmp_path, known):
    files = []
    for month in (1, 2, 3):
        file = tmp_path / f"{month}.csv"
        rows = [f"A-{month}{n},{-82.2 + n * 1e-4:.4f},44.8,450,200,x" for n in range(3)]
        file.write_text("\n".join(["Core no,Lon,Lat,Hole dia (mm),Depth (mm),", *rows]) + "\n", "utf-8")
        files.append(file)
    (notice,) = _proposed(known, *files).notices
    assert notice.startswith("1.csv and 2 more: column 6 has no name")
