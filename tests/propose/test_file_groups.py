"""Files with the same header are one register."""

import os
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pipeline.errors import InputError, NoCoresError
from pipeline.intake.files.tables import RawTable
from pipeline.propose.file_groups import files_of, groups_of, relative
from pipeline.propose.first_look import Look
from pipeline.propose.header_words import header_words

_WORDS = header_words()["register"]


def _look(headers):
    return Look(RawTable(pd.DataFrame(columns=headers), np.array([], dtype=np.int64), 0, "a"))


def _write(folder, *names):
    folder.mkdir(exist_ok=True)
    for name in names:
        (folder / name).write_text("x", "utf-8")
    return [folder / name for name in names]


def _paths(tmp_path, files, headers):
    groups = groups_of(files, tmp_path / "mine", lambda file: _look(headers[file.name]), _WORDS)
    return [(group.name, group.path) for group in groups]


def test_monthly_lists_with_the_same_headers_are_one_pattern_whatever_their_order(tmp_path):
    files = _write(tmp_path / "lists", "2026-07.csv", "2026-08.csv")
    headers = {"2026-07.csv": ["No", "Depth"], "2026-08.csv": ["depth", "no"]}
    assert _paths(tmp_path, files, headers) == [("Lists", "../lists/*.csv")]


def test_a_note_in_the_margin_of_one_month_makes_no_register_of_its_own(tmp_path):
    files = _write(tmp_path / "lists", "02.csv", "03.csv", "01.csv")
    own = ["No", "Bore", "Depth"]
    headers = {"01.csv": own, "02.csv": own, "03.csv": [*own, "column 12", "notes"]}
    groups = groups_of(files, tmp_path / "mine", lambda file: _look(headers[file.name]), _WORDS)
    assert [[file.name for file in group.files] for group in groups] == [["01.csv", "02.csv", "03.csv"]]


def test_a_month_without_a_core_does_not_stop_the_others(tmp_path):
    files = _write(tmp_path / "lists", "01.csv", "02.csv", "03.csv")

    def look(file):
        if file.name == "02.csv":
            raise NoCoresError("02.csv", "a header and no rows", "Export it again.")
        return _look(["No"])

    assert [one.path for one in groups_of(files, tmp_path / "mine", look, _WORDS)] == ["../lists/*.csv"]
    with pytest.raises(NoCoresError, match=r"02\.csv"):
        groups_of(files[1:2], tmp_path / "mine", look, _WORDS)


def test_another_unit_or_a_crew_more_is_another_register(tmp_path):
    files = _write(tmp_path / "lists", "01.csv", "02.csv", "03.csv")
    headers = {
        "01.csv": ["No", "Bore (mm)", "Depth"], "02.csv": ["No", "Bore (in)", "Depth"],
        "03.csv": ["No", "Bore (mm)", "Depth", "Crew"],
    }  # fmt: skip
    assert [name for name, _ in _paths(tmp_path, files, headers)] == ["01", "02", "03"]


def test_the_sheets_of_a_workbook_with_the_same_columns_are_one_register(tmp_path):
    (file,) = _write(tmp_path, "book.xlsx")
    found = _look(["No"])
    found.alike = [Look(found.table, sheet=name) for name in ("Jan", "Feb")]
    (group,) = groups_of([file], tmp_path, lambda _: found, _WORDS)
    assert (group.files, group.sheets) == ([file, file], ("Jan", "Feb"))


def test_a_pattern_finds_no_file_that_was_not_given(tmp_path):
    files = _write(tmp_path / "lists", "cores-07.csv", "cores-08.csv", "prices.csv")[:2]
    assert _paths(tmp_path, files, {"cores-07.csv": ["No"], "cores-08.csv": ["No"]}) == [
        ("Lists", "../lists/cores-0*.csv")
    ]


def test_files_that_no_pattern_tells_from_others_are_registers_of_their_own(tmp_path):
    files = _write(tmp_path / "lists", "a.csv", "b.csv", "c.csv")[:2]
    assert _paths(tmp_path, files, {"a.csv": ["No"], "b.csv": ["No"]}) == [
        ("A", "../lists/a.csv"), ("B", "../lists/b.csv"),
    ]  # fmt: skip


def test_files_with_different_headers_are_different_registers(tmp_path):
    files = _write(tmp_path / "lists", "north_gang.csv", "South.csv")
    assert _paths(tmp_path, files, {"north_gang.csv": ["No"], "South.csv": ["Core"]}) == [
        ("North gang", "../lists/north_gang.csv"), ("South", "../lists/South.csv"),
    ]  # fmt: skip


def test_two_registers_never_have_the_same_name(tmp_path):
    files = [*_write(tmp_path / "a", "cores.csv"), *_write(tmp_path / "b", "cores.csv")]
    names = [group.name for group in groups_of(files, tmp_path, lambda _: _look(["No"]), _WORDS)]
    assert names == ["Cores", "Cores 2"]


def test_a_folder_or_a_pattern_stands_for_its_files_without_lock_files(tmp_path):
    lists = _write(tmp_path / "lists", "b.csv", "a.csv", "~$a.csv", ".hidden")[:2]
    assert files_of(str(tmp_path / "lists")) == sorted(lists)
    assert files_of(str(tmp_path / "lists" / "a*.csv")) == [tmp_path / "lists" / "a.csv"]


@pytest.mark.parametrize(("name", "what"), [("gone.csv", "no such file"), ("empty", "the folder holds no files")])
def test_what_is_not_there_is_an_error(tmp_path, name, what):
    (tmp_path / "empty").mkdir()
    with pytest.raises(InputError, match=rf"{name}: {what}\. Correct --from\."):
        files_of(str(tmp_path / name))


@pytest.mark.parametrize(
    ("written", "what"),
    [
        ("", "--from: found an empty text"),
        ("a" * 300 + ".csv", r"a{300}\.{3}: cannot be looked for"),
        ("a" * 300 + "*.csv", r"a{300}\.{3}: cannot be looked for"),
    ],
)
def test_a_path_that_is_empty_or_longer_than_any_can_be_is_refused(written, what):
    with pytest.raises(InputError, match=what):
        files_of(written)


@pytest.mark.parametrize("written", ["", "*.csv", "caf\udce9.csv"])
def test_a_file_whose_name_is_not_text_is_refused(tmp_path, written):
    _write(tmp_path / "lists", "a.csv", "caf\udce9.csv")
    with pytest.raises(InputError, match=r"caf\\xe9\.csv: found a name that is not UTF-8 text, expected one that is\."):
        files_of(str(tmp_path / "lists" / written))


def test_a_path_is_relative_to_the_folder_of_the_programme():
    assert relative(Path("/a/b/c.csv"), Path("/a/d")) == "../b/c.csv"


def test_a_pipe_is_not_said_to_be_missing(tmp_path):
    os.mkfifo(tmp_path / "cores.csv")
    with pytest.raises(InputError, match=r"cores\.csv: not a file"):
        files_of(str(tmp_path / "cores.csv"))
