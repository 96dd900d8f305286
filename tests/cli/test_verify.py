"""The command verify, as it is called."""

import re

import pytest
from click.testing import CliRunner

from pipeline.cli.group import commands
from pipeline.commands.verify import CheckedFile, Verified
from pipeline.errors import InputError


def _verify(*arguments):
    return CliRunner().invoke(commands, ["verify", *map(str, arguments)])


@pytest.fixture(scope="module")
def printed(demo):
    result = _verify(demo.folder / "handover.zip")
    assert result.exit_code == 0
    return result.stdout


def test_it_prints_every_file_the_counts_and_the_fingerprint(demo, printed):
    for name in ("map.html", "cores.csv", "findings.csv", "cores.gpkg"):
        assert re.search(rf"│ {re.escape(name)} +│ [\d,]+ +│ [0-9a-f]{{16}} │", printed)
    account = demo.account
    assert f"398 cores, {account['flagged']} flagged, {account['pending']} pending" in printed
    assert re.search(r"^Fingerprint ([0-9a-f]{8} ){7}[0-9a-f]{8}$", printed, re.MULTILINE)
    assert "The pack is not signed. Checksums show damage, not who sent the pack" in printed
    assert "ask the sender for the fingerprint in their run.json, through a channel other than" in printed


def test_a_fingerprint_that_matches_is_confirmed(demo, printed):
    fingerprint = re.search("^Fingerprint (.*)$", printed, re.MULTILINE)[1].replace(" ", "")
    result = _verify(demo.folder / "handover", "--fingerprint", fingerprint)
    assert result.exit_code == 0
    assert "It matches the fingerprint given." in result.stdout
    assert "ask the sender" not in result.stdout


def test_another_fingerprint_is_refused(demo):
    assert isinstance(_verify(demo.folder / "handover.zip", "--fingerprint", "0" * 64).exception, InputError)


@pytest.mark.parametrize(
    ("is_vouched_for", "code", "words"), [(False, 1, "Do not open them"), (True, 0, "as the sender")]
)
def test_a_page_that_was_not_checked_ends_with_1_unless_the_sender_is_known(monkeypatch, is_vouched_for, code, words):
    """A reader who sees exit code 0 takes the pack for checked, and a forger may state any version."""
    facts = dict.fromkeys(("cores", "flagged", "pending", "reinstated", "findings"), 1)
    facts |= {"programme": "Quay", "as_of": "2026-09-30", "run": "0" * 64}
    files = [CheckedFile("map.html", 1, "0" * 64, "NOT CHECKED beyond the cells of the tables: made with kerfbook 99")]
    verified = Verified(facts, files, "0" * 64, "kerfbook 99 (here 1)", is_vouched_for=is_vouched_for)
    monkeypatch.setattr("pipeline.commands.verify.verify", lambda *_: verified)
    result = _verify("pack")
    assert result.exit_code == code
    assert "NOT CHECKED: map.html." in result.stdout
    assert words in result.stdout
    assert "no file contradicts another" not in result.stdout
