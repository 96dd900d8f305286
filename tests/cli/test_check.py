"""The command check: what it prints, what it writes, and how it ends."""

from pathlib import Path

import pytest
from click.testing import CliRunner

import pipeline.commands.check
from pipeline.cli.check import print_check
from pipeline.cli.group import commands
from pipeline.errors import InputError, SettingsError
from tests.publish.check.inputs_checked import HOSTILE, checked, refused


@pytest.fixture
def asked(monkeypatch):
    """A small check in place of the reading of inputs, and what it was asked for."""
    calls = []

    def check_inputs(*arguments):
        calls.append(arguments)
        return refused() if "wrong" in str(arguments[0]) else checked()

    monkeypatch.setattr(pipeline.commands.check, "check_inputs", check_inputs)
    return calls


@pytest.fixture
def printed(capsys):
    """What is printed of a check."""

    def call(found):
        print_check(found)
        return capsys.readouterr().out

    return call


def _call(*arguments):
    return CliRunner().invoke(commands, list(arguments))


def test_a_check_writes_its_page_to_outputs_unless_told_otherwise(asked):
    assert _call("check", "a.toml").exit_code == 0
    _call("check", "a.toml", "--out", "there")
    _call("check", "a.toml", "--no-page")
    assert [out for _, out, _ in asked] == [Path("outputs"), Path("there"), None]


@pytest.mark.usefixtures("asked")
def test_errors_are_listed_at_the_end_with_the_exit_code_of_an_audit():
    result = _call("check", "wrong.toml")
    assert result.exit_code == 3
    assert "Register North" in result.stdout
    assert result.stderr.splitlines()[-1] == "Error: south.csv: no such file."


def test_the_first_error_decides_the_exit_code(monkeypatch):
    errors = [SettingsError("a.toml: wrong."), InputError("b.csv: wrong.")]
    monkeypatch.setattr(pipeline.commands.check, "check_inputs", lambda *_: checked(errors=errors))
    result = _call("check", "a.toml")
    assert result.exit_code == 2
    assert "Error: a.toml: wrong.\nError: b.csv: wrong.\n" in result.stderr


def test_what_looks_misread_comes_first(printed):
    lines = printed(checked()).splitlines()
    assert lines[:5] == [
        "Harbour Vale: check of inputs",
        "1 point to check before an audit.",
        "",
        "Check these first",
        "  1. North: look here.",
    ]


def test_a_sound_check_says_so(printed):
    assert "Nothing looks misread." in printed(checked(suspicions=[]))


def test_the_histogram_has_a_bar_per_band(printed):
    lines = printed(checked()).splitlines()
    assert f"     2 – 5  {'█' * 40} 3" in lines
    assert "  50 – 500" in lines


def test_no_line_is_wider_than_the_terminal(printed, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    assert max(map(len, printed(checked()).splitlines())) <= 80


def test_it_ends_with_the_verdict_and_the_page(printed, tmp_path):
    out = printed(checked(page=tmp_path / "check.html"))
    assert out.splitlines()[-1] == f"Page: {tmp_path / 'check.html'}"
    assert "Inputs are valid." in out


def test_ten_rows_set_aside_and_ten_notes_are_printed_and_the_others_counted(printed):
    found = checked(notices=[f"notice [{number}]" for number in range(12)])
    out = printed(found)
    assert "Note: notice [9]" in out
    assert "notice [10]" not in out
    assert "2 more notes on the page." in out
    assert "  north.csv 9: total: Total 3" in out


def test_text_of_an_input_cannot_control_the_terminal_or_be_markup(printed):
    out = printed(checked(suspicions=[f"[bold]{HOSTILE}[/bold]"]))
    assert "[bold]" in out
    assert "\x1b" not in out


def test_a_check_of_a_wrong_programme_is_an_error_that_names_it(tmp_path):
    programme = tmp_path / "programme.toml"
    programme.write_text("[programme]\n", "utf-8")
    result = _call("check", str(programme))
    assert isinstance(result.exception, SettingsError)
    assert str(programme) in str(result.exception)
