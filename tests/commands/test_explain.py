"""``kerfbook explain``: ids in any spelling, near misses, rows, hostile cells, runs of older versions; the run is only read."""

import csv
import hashlib
import json
import shutil
from pathlib import Path

import pytest

from pipeline.commands.explain import explain_core, explain_in_words
from pipeline.errors import InputError, SettingsError
from pipeline.run import run_programme
from tests.small_town import write_town

_TRICK = '<script>alert(1)</script>{{ 7 * 191 }}"&'


def test_an_id_is_found_in_any_spelling(run_folder):
    assert [row.core["row"] for row in explain_core(run_folder, " hv-2 ").basis.rows] == [3]


def test_a_near_miss_is_asked_back(run_folder):
    with pytest.raises(SettingsError, match=r"no core has the id 'HV-Of'\. Did you mean 'HV-off'\?"):
        explain_core(run_folder, "HV-Of")
    with pytest.raises(SettingsError, match=r"no core has the id 'zzz'\. Give an id"):
        explain_core(run_folder, "zzz")
    with pytest.raises(SettingsError, match=r"no core has the id ' '\. Give an id"):
        explain_core(run_folder, " ")
    # a byte that is not UTF-8, as it reaches a program
    with pytest.raises(SettingsError, match="no core has the id"):
        explain_core(run_folder, "\udcff")


def test_a_row_has_to_be_one_of_the_cores(run_folder):
    assert explain_core(run_folder, "HV-2", 3).basis.rows[0].core["row"] == 3
    assert explain_core(run_folder, None, 3).basis.rows[0].core["core_id"] == "HV-2"
    with pytest.raises(SettingsError, match="found 4, expected one of the rows with the id 'HV-2': 3"):
        explain_core(run_folder, "HV-2", 4)
    with pytest.raises(SettingsError, match="found 99, expected a row from 1 to 7"):
        explain_core(run_folder, None, 99)
    with pytest.raises(SettingsError, match="expected one, or --row"):
        explain_core(run_folder)


def test_a_run_without_a_basis_has_to_be_audited_again(run_folder, tmp_path):
    older = Path(shutil.copytree(run_folder, tmp_path / "2026-09-30"))
    record = json.loads((older / "run.json").read_text())
    del record["basis"]
    (older / "run.json").write_text(json.dumps(record))
    with pytest.raises(InputError, match="Run the audit again with this version"):
        explain_core(older, "HV-2")


def _bytes(folder):
    return {file: hashlib.sha256(file.read_bytes()).hexdigest() for file in folder.rglob("*") if file.is_file()}


def test_the_runs_folder_is_only_read(run_folder, tmp_path):
    before = _bytes(run_folder)
    explain_in_words(run_folder, "HV-2", None, 100, tmp_path / "core.html")
    assert _bytes(run_folder) == before


def test_inputs_that_changed_since_change_nothing(small_town, tmp_path):
    programme, run = small_town
    shutil.copytree(programme.parent, tmp_path, dirs_exist_ok=True)
    folder = tmp_path / run.folder.relative_to(programme.parent)
    before = explain_in_words(folder, "HV-2", None, 100)
    for file in ("cores.csv", "programme.toml", "roads.gpkg"):
        (tmp_path / file).write_text("changed")
    assert explain_in_words(folder, "HV-2", None, 100) == before


def test_what_people_wrote_runs_neither_on_the_page_nor_in_a_terminal(tmp_path):
    programme = write_town(tmp_path)
    with (tmp_path / "cores.csv").open(encoding="utf-8", newline="") as file:
        head, *rows = csv.reader(file)
    for name in ("id", "@road", "remarks", "cost", "crew", "cut"):
        rows[2][head.index(name)] = _TRICK
    # one cell that would clear a terminal; more of them, and the file would count as binary
    rows[2][head.index("permit")] = "\x1b[2J"
    with (tmp_path / "cores.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([head, *rows])
    folder = run_programme(programme, tmp_path / "out").folder
    text = explain_in_words(folder, _TRICK, None, 100, tmp_path / "core.html")
    page = (tmp_path / "core.html").read_text("utf-8")
    assert "<script" not in page
    assert "1337" not in page + text
    assert "&lt;script&gt;" in page
    assert all(letter.isprintable() or letter == "\n" for letter in text)
    # whole cells, not only their beginnings, in their place
    assert text.count("{{ 7 * 191 }}") >= 5
