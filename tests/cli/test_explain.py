"""The command line of ``kerfbook explain``."""

import sys

import pytest

from pipeline import cli


@pytest.fixture
def kerfbook(capsys, monkeypatch):
    def run(*arguments):
        monkeypatch.setattr(sys, "argv", ["kerfbook", "explain", *map(str, arguments)])
        code = 0
        try:
            cli.main()
        except SystemExit as done:
            code = done.code
        captured = capsys.readouterr()
        return code, captured.out, captured.err

    return run


def test_the_text_goes_to_the_terminal_and_the_page_where_asked(kerfbook, run_folder, tmp_path):
    code, out, _ = kerfbook(run_folder, "HV-2", "--page", tmp_path / "core.html")
    assert code == 0
    assert out.startswith("Core HV-2\n=========\nQuay 2026: audit as of 30 Sept 2026\n")
    assert out.endswith(f"Page: {tmp_path / 'core.html'}\n")
    assert (tmp_path / "core.html").read_text("utf-8").startswith("<!doctype html>")
    assert max(map(len, out.splitlines()[:-1])) <= 100


def test_a_core_without_an_id_is_asked_for_by_row(kerfbook, run_folder):
    code, out, _ = kerfbook(run_folder, "--row", 3)
    assert code == 0
    assert out.startswith("Core HV-2\n")


def test_an_unknown_core_is_an_error_of_the_command_line(kerfbook, run_folder):
    code, out, error = kerfbook(run_folder, "HV-22")
    assert (code, out) == (2, "")
    assert "no core has the id 'HV-22'. Did you mean 'HV-2'?" in error


def test_a_folder_without_a_run_is_an_input_that_cannot_be_used(kerfbook, tmp_path):
    code, _, error = kerfbook(tmp_path, "HV-2")
    assert code == 3
    assert "no run.json" in error
