"""The list of commands, their help, and what they share."""

import datetime as dt
import subprocess
import sys

import click
import pytest
from click.testing import CliRunner

import pipeline.cli  # noqa: F401 - registers the commands
from pipeline.cli.group import Day, commands
from pipeline.contracts import URGENCIES
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
