"""The command verify, as it is called."""

import re

import pytest
from click.testing import CliRunner

from pipeline.cli.group import commands
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
    assert "ask the sender for the fingerprint in their run.json, through another channel" in printed


def test_a_fingerprint_that_matches_is_confirmed(demo, printed):
    fingerprint = re.search("^Fingerprint (.*)$", printed, re.MULTILINE)[1].replace(" ", "")
    result = _verify(demo.folder / "handover", "--fingerprint", fingerprint)
    assert result.exit_code == 0
    assert "It matches the fingerprint given." in result.stdout
    assert "ask the sender" not in result.stdout


def test_another_fingerprint_is_refused(demo):
    assert isinstance(_verify(demo.folder / "handover.zip", "--fingerprint", "0" * 64).exception, InputError)
