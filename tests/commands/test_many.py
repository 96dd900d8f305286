"""Which programmes a call of several names, and what is wrong with any of them before the first begins."""

import datetime as dt
import os
from pathlib import Path

import pytest

from pipeline.commands.many import find_programmes, look_over
from pipeline.errors import SettingsError
from tests.small_town import write_town


def _programme(folder, name="Quay 2026", file="programme.toml", as_of="2026-09-30", text=""):
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / file
    path.write_text(
        f'[programme]\nname = "{name}"\nas_of = {as_of}\ntimezone = "America/Toronto"\n'
        '[cores]\npath = "cores.csv"\ncolumns = { core_id = "id" }\n[roads]\npath = "roads.gpkg"\n'
        f"{text}",
        encoding="utf-8",
    )
    return path


def test_a_folder_gives_its_own_programmes_and_those_one_folder_down(tmp_path):
    own = _programme(tmp_path / "all", file="b.toml")
    below = _programme(tmp_path / "all" / "a")
    _programme(tmp_path / "all" / "a" / "deeper")
    _programme(tmp_path / "all" / ".hidden")
    (tmp_path / "all" / "pyproject.toml").write_text('[project]\nname = "x"\n')
    (tmp_path / "all" / "folder.toml").mkdir()
    found = find_programmes([tmp_path / "all"], tmp_path / "out")
    assert found.programmes == [own, below]
    assert found.skipped == [tmp_path / "all" / "pyproject.toml"]


def test_a_folder_of_outputs_is_never_looked_into(tmp_path):
    own = _programme(tmp_path)
    _programme(tmp_path / "out")
    _programme(tmp_path / "kept")
    (tmp_path / "kept" / "quay" / "2026-09-30").mkdir(parents=True)
    (tmp_path / "kept" / "quay" / "2026-09-30" / "run.json").write_text("{}")
    assert find_programmes([tmp_path], tmp_path / "out").programmes == [own]


def test_a_programme_that_is_no_toml_any_more_is_not_passed_over(tmp_path):
    slip = tmp_path / "programme.toml"
    slip.write_text('[programme\nname = "x"\n')
    assert find_programmes([tmp_path], tmp_path / "out").programmes == [slip]
    (asked,) = look_over([slip], tmp_path / "out")
    assert "not valid TOML" in str(asked.error)


def test_a_programme_that_is_given_twice_counts_once(tmp_path, monkeypatch):
    path = _programme(tmp_path)
    monkeypatch.chdir(tmp_path)
    assert find_programmes([path, Path("programme.toml"), tmp_path], tmp_path / "out").programmes == [path]


def test_a_folder_without_a_programme_is_refused(tmp_path):
    (tmp_path / "pyproject.toml").write_text('[project]\nname = "x"\n')
    with pytest.raises(SettingsError) as error:
        find_programmes([tmp_path], tmp_path / "out")
    assert str(error.value) == (
        f"{tmp_path}: found no programme file in this folder, nor one folder down (without [programme]: "
        f"{tmp_path / 'pyproject.toml'}); expected at least one. Give the folder of the programmes, or each programme file."
    )


def test_a_programme_whose_name_is_not_utf8_is_refused(tmp_path):
    _programme(tmp_path / os.fsdecode(b"caf\xe9"))
    with pytest.raises(SettingsError, match=r"/caf\\xe9/programme\.toml': expected a name in UTF-8"):
        find_programmes([tmp_path], tmp_path / "out")


def test_a_file_that_is_given_is_a_programme_whatever_it_holds(tmp_path):
    other = tmp_path / "pyproject.toml"
    other.write_text('[project]\nname = "x"\n')
    assert find_programmes([other], tmp_path / "out").programmes == [other]


def test_two_programmes_whose_runs_would_share_a_folder_are_refused(tmp_path):
    """Names count as the folders that they make: accents and case are lost."""
    one = _programme(tmp_path, "Québec 2026", "a.toml")
    other = _programme(tmp_path, "QUEBEC 2026", "b.toml")
    with pytest.raises(SettingsError) as error:
        look_over([one, other], tmp_path / "out")
    assert str(error.value).startswith(
        f"{one} and {other}: both would be written to {tmp_path / 'out' / 'quebec-2026' / '2026-09-30'}; expected "
    )


def test_the_day_that_is_given_makes_two_days_of_a_programme_one(tmp_path):
    later = _programme(tmp_path, file="a.toml")
    earlier = _programme(tmp_path, file="b.toml", as_of="2026-08-31")
    other = _programme(tmp_path, "Other", "c.toml")
    asked = look_over([later, other, earlier], tmp_path / "out")
    # a run is compared with the one before, so that the earlier day comes first
    assert [one.path for one in asked] == [earlier, later, other]
    assert [one.day for one in asked] == [dt.date(2026, 8, 31), dt.date(2026, 9, 30), dt.date(2026, 9, 30)]
    with pytest.raises(SettingsError, match="both would be written to"):
        look_over([later, other, earlier], tmp_path / "out", dt.date(2026, 9, 1))


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("[matching]\nmax_distnace = '3 m'\n", "matching.max_distnace: unknown key"),
        ("[catalogue.rules.no-such-rule]\nseverity = 'fail'\n", "no-such-rule"),
        ("[[owners]]\nname = 'A'\nrule = ['no-such-rule']\n", "no-such-rule"),
    ],
)
def test_what_is_wrong_in_the_settings_is_found_without_reading_an_input(tmp_path, text, found):
    """The files that the programmes name are not there."""
    sound, wrong = _programme(tmp_path, "A", "a.toml"), _programme(tmp_path, "B", "b.toml", text=text)
    one, other = look_over([sound, wrong], tmp_path / "out")
    assert one.error is None
    assert isinstance(other.error, SettingsError)
    assert found in str(other.error)
    assert str(other.error).startswith(str(wrong))


def test_a_pdf_of_nothing_is_found_before_the_first_run(tmp_path):
    path = write_town(tmp_path, '[publish]\noutputs = ["map.html"]\n')
    assert look_over([path], tmp_path / "out")[0].error is None
    assert "for --pdf" in str(look_over([path], tmp_path / "out", pdf=True)[0].error)
