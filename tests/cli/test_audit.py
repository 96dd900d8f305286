"""The command audit, as it is called."""

import dataclasses
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from click.testing import CliRunner

import pipeline.run
from pipeline.cli.group import commands
from pipeline.errors import SettingsError

_DEMO = Path(__file__).parents[2] / "sample_data" / "programme.toml"


@pytest.fixture
def audited(demo, monkeypatch):
    """The demo's result in place of a run, and what the run was asked for."""
    asked = []

    def run_programme(*arguments):
        asked.append(arguments)
        return demo

    monkeypatch.setattr(pipeline.run, "run_programme", run_programme)
    return asked


def _call(*arguments):
    return CliRunner().invoke(commands, [str(argument) for argument in arguments])


def test_an_audit_prints_its_summary_and_ends_with_zero(audited):
    result = _call("audit", _DEMO)
    assert result.exit_code == 0
    assert "Materials to reinstate" in result.stdout
    ((programme, out, as_of, _, paper, _),) = audited
    assert (programme, out, as_of, paper) == (_DEMO, Path("outputs"), None, None)


def test_options_reach_the_run(audited):
    _call("audit", _DEMO, "--out", "there", "--as-of", "2026-08-31", "--pdf", "--paper", "Letter")
    ((_, out, as_of, _, paper, _),) = audited
    assert (out, as_of.isoformat(), paper) == (Path("there"), "2026-08-31", "Letter")


def test_a_paper_without_pdf_makes_no_pdf(audited):
    _call("audit", _DEMO, "--paper", "Letter")
    assert audited[0][-2] is None


@pytest.mark.usefixtures("audited")
def test_strict_ends_with_one_if_a_core_is_flagged(demo):
    assert demo.account["flagged"] > 0
    assert _call("audit", _DEMO, "--strict").exit_code == 1


@pytest.mark.usefixtures("audited")
@pytest.mark.parametrize(
    "words",
    [["--strict", _DEMO], ["--strict", _DEMO, "--quiet"], ["--strict", "--quiet", _DEMO], ["--strict", "new", _DEMO]],
)
def test_what_follows_strict_is_the_programme_unless_it_is_the_word_new(words):
    """Without an earlier run every failure is new."""
    assert _call("audit", *words).exit_code == 1


@pytest.mark.parametrize("words", [["--strict=new", "new"], ["--strict", "new", "new"]])
def test_a_programme_may_be_called_new(audited, words):
    _call("audit", *words)
    assert audited[0][0] == Path("new")


def test_strict_new_ends_with_zero_if_every_failure_was_there_before(demo, monkeypatch):
    findings = demo.audit.findings.assign(baseline="unchanged")
    known = dataclasses.replace(demo, audit=dataclasses.replace(demo.audit, findings=findings))
    monkeypatch.setattr(pipeline.run, "run_programme", lambda *_: known)
    assert _call("audit", _DEMO, "--strict", "new").exit_code == 0
    assert _call("audit", _DEMO, "--strict").exit_code == 1


def test_strict_ends_with_zero_if_every_failure_is_accepted(demo, monkeypatch):
    findings = demo.audit.findings.assign(decision="accept", decision_standing="holds")
    accepted = dataclasses.replace(demo, audit=dataclasses.replace(demo.audit, findings=findings))
    monkeypatch.setattr(pipeline.run, "run_programme", lambda *_: accepted)
    assert _call("audit", _DEMO, "--strict").exit_code == 0


@pytest.mark.usefixtures("audited")
def test_junit_is_written_where_it_is_asked_for_whatever_the_exit_code(tmp_path):
    assert _call("audit", _DEMO, "--strict", "--junit", tmp_path / "audit.xml").exit_code == 1
    assert ET.parse(tmp_path / "audit.xml").getroot().tag == "testsuites"


@pytest.mark.usefixtures("audited")
def test_quiet_prints_nothing():
    result = _call("audit", _DEMO, "--quiet")
    assert (result.exit_code, result.output) == (0, "")


@pytest.mark.usefixtures("audited")
def test_a_day_that_is_no_date_is_refused_with_two():
    result = _call("audit", _DEMO, "--as-of", "30/09/2026")
    assert result.exit_code == 2
    assert "Write year, month and day in that order." in result.stderr


def test_a_place_for_junit_that_cannot_be_used_is_refused_before_the_run(audited):
    result = _call("audit", _DEMO, "--junit", _DEMO)
    assert isinstance(result.exception, SettingsError)
    assert audited == []
