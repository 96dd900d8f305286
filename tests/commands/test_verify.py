"""A pack that was not altered passes; any other is refused with everything that is wrong."""

import contextlib
import json
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from pipeline import cli
from pipeline.commands.verify import verify
from pipeline.errors import InputError
from tests.commands import packs

FILES = {
    "cores.csv", "cores.gpkg", "datapackage.json", "findings.csv", "handover.json", "how-to-read.html", "map.html",
    "rules.csv",
}  # fmt: skip


@pytest.fixture
def pack(run_folder, tmp_path):
    """A copy that a test may spoil."""
    return Path(shutil.copytree(run_folder / "handover", tmp_path / "handover"))


def _fingerprint(run_folder):
    return json.loads((run_folder / "run.json").read_text())["handover"]["fingerprint"]


def test_the_folder_and_its_zip_pass_with_the_fingerprint_of_the_runs_record(run_folder):
    for path in (run_folder / "handover", run_folder / "handover.zip"):
        verified = verify(path, _fingerprint(run_folder)[:20])
        assert verified.fingerprint == _fingerprint(run_folder)
        assert {file.name for file in verified.files} == FILES
        assert verified.identity["cores"] == 7
    sizes = {file.name: file.size for file in verified.files}
    assert sizes == {name: (run_folder / "handover" / name).stat().st_size for name in FILES}


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (packs.flip_a_bit, r"map\.html: altered: its SHA-256 is [0-9a-f]{64}, expected [0-9a-f]{64}"),
        (lambda pack: (pack / "cores.csv").unlink(), r"cores\.csv: missing"),
        (lambda pack: (pack / "extra.txt").write_text("x"), r"extra\.txt: does not belong to a pack"),
        (lambda pack: (pack / "SHA256SUMS").unlink(), r"SHA256SUMS: missing"),
        (lambda pack: (pack / "SHA256SUMS").write_text(""), r"SHA256SUMS: empty, expected one checksum per file"),
        (lambda pack: (pack / "SHA256SUMS").write_text("../../etc/passwd\n"), r"SHA256SUMS: line 1: expected"),
        (lambda pack: (pack / "SHA256SUMS").write_text("0" * 64 + "  ../map.html\n"), r"SHA256SUMS: line 1: expected"),
        (lambda pack: (pack / "SHA256SUMS").write_bytes(b"\xff\xfe"), r"SHA256SUMS: not UTF-8"),
        (packs.drop_a_core, r"cores\.csv: rows: found 6, expected 7 as in handover\.json"),
        (packs.add_a_column, r"cores\.csv: columns: found .*'crew'"),
        (packs.close_a_core, r"cores\.csv: \w+ cores: found"),
        (packs.change_the_maps_count, r"map\.html: cores: found 6, expected 7 as in handover\.json"),
        (packs.change_the_maps_date, r"map\.html: as_of: found 2026-10-30, expected 2026-09-30"),
        (packs.replace_the_map, r"map\.html: not a readable map"),
        (packs.replace_the_geopackage, r"cores\.gpkg: cannot be read"),
        (packs.replace_the_identity, r"handover\.json: cannot be used"),
        (packs.miscount, r"cores\.csv: pending cores: found"),
        (packs.swap_ids, r"cores\.csv: core_id of core HV-4 is"),
        (packs.replace_the_findings, r"findings\.csv: columns: found \['a', 'b'\]"),
        (packs.add_a_table, r"cores\.gpkg: .*crews"),
        (packs.nest_the_map, r"map\.html: not a readable map"),
        (packs.drop_a_finding, r"findings\.csv: findings: found"),
    ],
)  # fmt: skip
def test_a_pack_that_was_altered_is_refused_with_what_is_wrong(pack, spoil, words):
    spoil(pack)
    with pytest.raises(InputError, match=words) as refused:
        verify(pack)
    assert str(refused.value).endswith("Do not use this pack: ask the sender for it again.")


def test_every_wrong_file_is_named_at_once(pack):
    packs.flip_a_bit(pack)
    (pack / "cores.csv").unlink()
    (pack / "extra.txt").write_text("x")
    (pack / "rules.csv").unlink()
    (pack / "rules.csv").symlink_to(pack / "findings.csv")
    with pytest.raises(InputError) as refused:
        verify(pack)
    problems = str(refused.value).splitlines()[1:-1]
    assert sorted(problem.split(":")[0] for problem in problems) == [
        "- cores.csv",
        "- extra.txt",
        "- map.html",
        "- rules.csv",
    ]
    problems.sort()
    assert problems[-1] == "- rules.csv: a link, expected a file"


@pytest.mark.parametrize("fingerprint", ["0" * 64, "abc", ""])
def test_another_fingerprint_is_refused(run_folder, fingerprint):
    with pytest.raises(InputError, match=r"SHA256SUMS: the fingerprint is [0-9a-f]{64}, expected"):
        verify(run_folder / "handover", fingerprint)


def test_a_fingerprint_of_fewer_than_sixteen_digits_is_not_enough(run_folder):
    digits = _fingerprint(run_folder)
    assert verify(run_folder / "handover", digits[:16]).fingerprint == digits
    with pytest.raises(InputError, match="fewer than 16 digits were given"):
        verify(run_folder / "handover", digits[:15])


@pytest.mark.parametrize("between", [" ", ":", "-"])
def test_a_fingerprint_is_read_in_groups_and_capitals(run_folder, between):
    digits = _fingerprint(run_folder)
    grouped = between.join(digits[at : at + 8] for at in range(0, 64, 8)).upper()
    assert verify(run_folder / "handover.zip", grouped).fingerprint == digits


def test_the_folder_that_a_zip_unpacks_to_is_found_by_the_folder_around_it(run_folder, tmp_path):
    with zipfile.ZipFile(run_folder / "handover.zip") as packed:
        packed.extractall(tmp_path)
    assert verify(tmp_path).fingerprint == verify(run_folder / "handover").fingerprint


def test_a_problem_in_a_zip_names_the_zip_and_not_the_folder_it_was_unpacked_to(pack, tmp_path):
    (pack / "SHA256SUMS").write_text("")
    path = tmp_path / "sent.zip"
    with zipfile.ZipFile(path, "w") as packed:
        for file in pack.iterdir():
            packed.write(file, f"inner/{file.name}")
    with pytest.raises(InputError) as refused:
        verify(path)
    assert f"- {path}/SHA256SUMS: empty" in str(refused.value)


def test_a_forged_pack_cannot_paint_on_the_terminal(pack, capsys, monkeypatch):
    identity = json.loads((pack / "handover.json").read_text())
    (pack / "handover.json").write_text(
        json.dumps(identity | {"programme": "\x1b[2JAll is well\u202e\nSigned by me, [/x] :bomb:"})
    )
    (pack / "\x1b[31mred").write_text("x")
    packs.resum(pack)
    monkeypatch.setattr(sys, "argv", ["kerfbook", "verify", str(pack)])
    with pytest.raises(SystemExit):
        cli.main()
    (pack / "\x1b[31mred").unlink()
    packs.resum(pack)
    with contextlib.suppress(SystemExit):
        cli.main()
    printed = capsys.readouterr()
    assert "All is well" in printed.out + printed.err
    assert "red" in printed.err + printed.out
    # a name of several lines is no verdict of its own
    assert "<U+202E> Signed by me, [/x] :bomb:" in " ".join((printed.out + printed.err).split())
    assert "\nSigned by me" not in printed.out + printed.err
    for part in ("\x1b[2J", "\x1b[31m", "\u202e"):
        assert part not in printed.out + printed.err


def test_the_command_ends_with_0_or_3_and_never_with_a_traceback(pack):
    def run():
        return subprocess.run(
            [sys.executable, "-m", "pipeline", "verify", str(pack)], capture_output=True, text=True, check=False
        )

    done = run()
    assert done.returncode == 0
    assert "7 cores" in done.stdout
    assert "5/5 GeoPackage" in done.stderr
    packs.flip_a_bit(pack)
    done = run()
    assert done.returncode == 3
    assert "map.html: altered" in done.stderr
    assert "Traceback" not in done.stderr
