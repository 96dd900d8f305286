"""The program as a whole: its exit codes, and no traceback for what a user can mend."""

import signal
import sys

import pytest

from pipeline import cli
from pipeline.cli.group import commands
from pipeline.errors import InputError, OutputError, SettingsError


@pytest.fixture
def ended(monkeypatch, capsys):
    """The exit code and the errors printed by a call of the program."""
    before = signal.getsignal(signal.SIGTERM)

    def call(*arguments):
        monkeypatch.setattr(sys, "argv", ["kerfbook", *arguments])
        with pytest.raises(SystemExit) as done:
            cli.main()
        return done.value.code, capsys.readouterr().err

    yield call
    signal.signal(signal.SIGTERM, before)


def _raising(monkeypatch, error):
    def check(**_):
        raise error

    monkeypatch.setattr(commands.commands["check"], "callback", check)


@pytest.mark.parametrize(("error", "code"), [(SettingsError, 2), (InputError, 3), (OutputError, 4)])
def test_an_error_is_one_line_and_has_its_exit_code(ended, monkeypatch, error, code):
    _raising(monkeypatch, error("cores.csv: found \x1b[31m, expected a number. Correct it."))
    assert ended("check", "programme.toml") == (
        code,
        "Error: cores.csv: found <U+001B>[31m, expected a number. Correct it.\n",
    )


def test_an_interruption_is_reported_without_a_traceback(ended, monkeypatch):
    _raising(monkeypatch, KeyboardInterrupt())
    assert ended("check", "programme.toml") == (130, "\nInterrupted. No outputs were written.\n")


def test_an_unknown_command_or_option_ends_with_two(ended):
    code, errors = ended("audits")
    assert code == 2
    assert "No such command" in errors
    assert ended("check", "--colour", "x")[0] == 2


def test_a_programme_that_does_not_exist_ends_with_two_and_is_named(ended):
    code, errors = ended("check", "nowhere.toml")
    assert code == 2
    assert "\nError: nowhere.toml: " in errors


def test_help_ends_with_zero(ended, monkeypatch):
    monkeypatch.setattr(sys, "argv", ["kerfbook", "--version"])
    assert cli.main() is None
    assert ended("audits")[0] == 2


def test_a_stop_by_the_system_is_an_interruption(ended):
    ended("audits")
    assert signal.getsignal(signal.SIGTERM) is signal.default_int_handler
