"""The list of commands, their help, and what they share."""

import datetime as dt
import os
import subprocess
import sys

import click
import pytest
from click.testing import CliRunner

import pipeline.cli  # noqa: F401 - registers the commands
from pipeline.cli.group import Day, commands
from pipeline.contracts import URGENCIES
from pipeline.errors import InputError
from pipeline.version import __version__

_WIDTH = 80


def _help(*arguments):
    result = CliRunner().invoke(commands, [*arguments, "--help"], terminal_width=_WIDTH)
    assert result.exit_code == 0
    return result.output


def test_every_command_has_a_description_that_fits_on_one_line():
    lines = _help().split("Commands:\n")[1].splitlines()
    assert [line.split()[0] for line in lines] == sorted(commands.commands)
    for line in lines:
        assert len(line) <= _WIDTH
        assert line.endswith(".")
        assert not line.endswith("...")


@pytest.mark.parametrize("name", sorted(commands.commands))
def test_a_commands_own_help_is_complete(name):
    text = _help(name)
    assert "..." not in text.replace("[ARGS]...", "").replace("[FILE]...", "").replace("PROGRAMME...", "")
    command = commands.commands[name]
    assert command.help.strip().endswith(".")
    for option in command.params:
        if isinstance(option, click.Option):
            assert option.help, option.name


def test_findings_can_be_chosen_by_each_urgency_there_is():
    (option,) = [option for option in commands.commands["decide"].params if option.name == "urgency"]
    assert tuple(option.type.choices) == URGENCIES


def test_help_answers_before_any_library_of_tables_or_maps_is_loaded():
    slow = "{'numpy', 'pandas', 'geopandas', 'pint', 'pydantic', 'scipy', 'folium', 'pyarrow'}"
    code = f"import sys, pipeline.cli; print(sorted({slow} & sys.modules.keys()))"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"


def test_the_version_is_that_of_the_package():
    assert CliRunner().invoke(commands, ["--version"]).output == f"kerfbook, version {__version__}\n"


def test_a_day_is_a_date_in_iso_form():
    assert Day().convert("2026-09-30", None, None) == dt.date(2026, 9, 30)
    assert Day().convert(dt.date(2026, 9, 30), None, None) == dt.date(2026, 9, 30)


@pytest.mark.parametrize("written", ["30/09/2026", "2026-02-30", "tomorrow", ""])
def test_anything_else_is_refused_with_an_example(written):
    with pytest.raises(click.BadParameter, match=r"expected a date such as 2026-09-30\."):
        Day().convert(written, None, None)


@pytest.mark.parametrize("day", ["1850-01-01", "9999-12-30"])
def test_a_day_that_no_programme_can_mean_is_refused(day):
    with pytest.raises(click.BadParameter, match="expected a date from 1900-01-01 to 2199-12-31"):
        Day().convert(day, None, None)


_LATIN = os.fsdecode(b"caf\xe9")


@pytest.mark.parametrize(
    ("arguments", "where"),
    [
        (["audit", f"{_LATIN}/programme.toml"], "'PROGRAMME...'"),
        (["audit", "programme.toml", "--out", _LATIN], "'--out'"),
        (["start", _LATIN], "'FOLDER'"),
        (["start", "town", "--from", f"{_LATIN}.csv"], "'--from'"),
        (["decide", "run", "--owner", _LATIN], "'--owner'"),
        (["explain", _LATIN, "HV-1"], "'RUN'"),
    ],
)
def test_a_name_that_is_not_utf8_is_refused_before_anything_is_done(tmp_path, monkeypatch, arguments, where):
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(commands, arguments)
    assert result.exit_code == 2
    assert f"Invalid value for {where}: found 'caf\\xe9" in result.output
    assert "Rename the file or folder" in result.output
    assert list(tmp_path.iterdir()) == []


_LONG = "x" * 256


@pytest.mark.parametrize(
    ("arguments", "where", "found"),
    [
        (["audit", f"missing/{_LONG}"], "'PROGRAMME...'", "a name of 256 bytes in the path, expected at most 255"),
        (["audit", "programme.toml", "--out", f"{_LONG}/runs"], "'--out'", "a name of 256 bytes"),
        (["decide", "run", "--out", "é" * 128], "'--out'", "a name of 256 bytes"),
        (["compare", "run", _LONG], "'AFTER'", "a name of 256 bytes"),
        (["explain", "run", "HV-1", "--page", _LONG], "'--page'", "a name of 256 bytes"),
        (["rules", "run/" * 2000], "'[SOURCE]'", "a path of 7999 bytes, expected one that the system takes"),
    ],
)
def test_a_path_longer_than_any_can_be_is_refused_before_anything_is_done(
    tmp_path, monkeypatch, arguments, where, found
):
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(commands, arguments)
    assert result.exit_code == 2
    assert f"Invalid value for {where}: found {found}" in result.output
    assert list(tmp_path.iterdir()) == []


def test_a_name_of_255_bytes_is_looked_for_as_any_other(tmp_path):
    result = CliRunner().invoke(commands, ["explain", str(tmp_path / _LONG[1:]), "HV-1"])
    assert isinstance(result.exception, InputError)


def test_a_core_id_that_is_not_utf8_is_looked_for_as_any_other(tmp_path):
    result = CliRunner().invoke(commands, ["explain", str(tmp_path), _LATIN])
    assert isinstance(result.exception, InputError)


def test_a_working_folder_whose_name_is_not_utf8_is_refused(tmp_path, monkeypatch):
    (tmp_path / _LATIN).mkdir()
    monkeypatch.chdir(tmp_path / _LATIN)
    result = CliRunner().invoke(commands, ["start", "town"])
    assert result.exit_code == 2
    assert "the working folder: found '" in result.output
    assert list((tmp_path / _LATIN).iterdir()) == []
    # help needs no folder
    assert CliRunner().invoke(commands, ["start", "--help"]).exit_code == 0
