"""The pack as files and as a zip: complete, checkable by other tools, and byte for byte the same."""

import hashlib
import json
import shutil
import subprocess
import zipfile
from dataclasses import replace
from pathlib import Path

from pipeline.publish import publish
from pipeline.publish.handover.archive import zip_folder
from pipeline.run import run_programme

FILES = {
    "SHA256SUMS", "cores.csv", "cores.gpkg", "datapackage.json", "findings.csv", "handover.json", "how-to-read.html",
    "map.html", "rules.csv",
}  # fmt: skip


def test_the_pack_holds_its_nine_files_and_no_more(run_folder):
    assert {file.name for file in (run_folder / "handover").iterdir()} == FILES
    with zipfile.ZipFile(run_folder / "handover.zip") as pack:
        assert {Path(name).name for name in pack.namelist()} == FILES
        assert {Path(name).parts[0] for name in pack.namelist()} == {"quay-2026-2026-09-30"}
        for name in pack.namelist():
            assert pack.read(name) == (run_folder / "handover" / Path(name).name).read_bytes()


def test_two_runs_make_the_same_zip_and_another_result_another_identity(small_town, tmp_path):
    programme, run = small_town
    inputs = Path(shutil.copytree(programme.parent, tmp_path / "inputs", ignore=shutil.ignore_patterns("out")))
    again = run_programme(inputs / programme.name, tmp_path / "elsewhere").folder
    assert (again / "handover.zip").read_bytes() == (run.folder / "handover.zip").read_bytes()
    renamed = replace(run, table=run.table.replace({"core_id": {"HV-3": "HV-33"}}))
    other = publish(renamed, programme, tmp_path / "other", lambda *_: None)
    identities = [json.loads((folder / "run.json").read_text())["run"] for folder in (run.folder, again, other)]
    assert identities[0] == identities[1] != identities[2]
    assert json.loads((run.folder / "handover" / "handover.json").read_text())["run"] == identities[0]


def test_sha256sum_checks_every_file(run_folder):
    done = subprocess.run(
        ["sha256sum", "--strict", "-c", "SHA256SUMS"],
        cwd=run_folder / "handover",
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.count(": OK") == len(FILES) - 1


def test_the_fingerprint_is_the_checksum_of_the_checksums(tmp_path):
    folder = tmp_path / "pack"
    folder.mkdir()
    (folder / "b.txt").write_bytes(b"two\n")
    (folder / "a.txt").write_bytes(b"")
    fingerprint = zip_folder(folder, tmp_path / "pack.zip", "inner")
    # sha256sum of nothing and of "two\n", in the order of their names
    empty = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    two = hashlib.sha256(b"two\n").hexdigest()
    assert (folder / "SHA256SUMS").read_bytes() == f"{empty}  a.txt\n{two}  b.txt\n".encode()
    assert fingerprint == hashlib.sha256((folder / "SHA256SUMS").read_bytes()).hexdigest()
    with zipfile.ZipFile(tmp_path / "pack.zip") as pack:
        assert pack.namelist() == ["inner/a.txt", "inner/b.txt", "inner/SHA256SUMS"]
        assert {entry.date_time for entry in pack.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        # all may read it, and nobody runs it
        assert {entry.external_attr >> 16 for entry in pack.infolist()} == {0o100644}


def test_a_zip_does_not_depend_on_when_its_files_were_written(tmp_path):
    for name in ("one", "other"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "a.txt").write_text("the same")
    (tmp_path / "other" / "a.txt").touch(mode=0o600)
    for name in ("one", "other"):
        zip_folder(tmp_path / name, tmp_path / f"{name}.zip", "inner")
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "other.zip").read_bytes()
