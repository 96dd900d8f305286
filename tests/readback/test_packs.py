"""A pack's files read back, and files that only look like them refused in words."""

import json
import re
import zipfile
from pathlib import Path

import pytest

from pipeline.errors import InputError
from pipeline.readback.packs import (
    open_pack,
    read_identity,
    read_sums,
)

REMEDY = "Give the complete folder handover, or handover.zip, as it was sent."
IDENTITY = {
    "programme": "Quay", "as_of": "2026-09-30", "run": "0", "crs": "EPSG:1", "columns": ["row"], "cores": 1, "flagged": 0,
    "pending": 1, "reinstated": 0, "unplaced": 0, "findings": 0,
}  # fmt: skip


def _refused(read, *words):
    with pytest.raises(InputError) as error:
        read()
    for word in (*words, REMEDY):
        assert word in str(error.value)


def _zip_of(path: Path, *entries: tuple[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as pack:
        for name, content in entries:
            pack.writestr(name, content)
    return path


def _opened(path):
    with open_pack(path) as folder:
        return {file.name: file.read_bytes() for file in folder.iterdir()}


def test_a_folder_and_its_zip_give_the_same_files(tmp_path):
    folder = tmp_path / "pack"
    folder.mkdir()
    (folder / "SHA256SUMS").write_bytes(b"x")
    (folder / "map.html").write_bytes(b"y")
    path = _zip_of(tmp_path / "pack.zip", ("inner/SHA256SUMS", b"x"), ("inner/map.html", b"y"))
    assert _opened(folder) == _opened(path) == {"SHA256SUMS": b"x", "map.html": b"y"}


def test_what_a_zip_was_unpacked_to_is_gone_afterwards(tmp_path):
    with open_pack(_zip_of(tmp_path / "pack.zip", ("inner/a.txt", b"x"))) as folder:
        assert (folder / "a.txt").exists()
    assert not folder.exists()


@pytest.mark.parametrize(
    "entries",
    [
        [("a/../../evil.txt", b"x")],
        [("/etc/evil.txt", b"x")],
        [("../evil.txt", b"x")],
        [("a/b/c.txt", b"x")],
        [("map.html", b"x")],
        [("a/.hidden", b"x")],
        [("a/map.html", b"x"), ("b/map.html", b"x")],
        [],
    ],
)
def test_a_zip_that_reaches_out_of_its_folder_is_refused_and_writes_nothing(tmp_path, entries):
    path = _zip_of(tmp_path / "pack.zip", *entries)
    _refused(lambda: _opened(path), "expected one folder of files, found")
    assert [file.name for file in tmp_path.iterdir()] == ["pack.zip"]
    assert not (tmp_path.parent / "evil.txt").exists()


def test_a_zip_with_a_name_twice_is_refused(tmp_path):
    with pytest.warns(UserWarning, match="Duplicate name"):
        path = _zip_of(tmp_path / "pack.zip", ("a/map.html", b"x"), ("a/map.html", b"y"))
    _refused(lambda: _opened(path), "two files have the same name")


def test_a_zip_that_claims_more_than_it_can_hold_is_refused(tmp_path):
    raw = bytearray(_zip_of(tmp_path / "pack.zip", ("a/map.html", b"x" * 1000)).read_bytes())
    # the uncompressed size in the central directory, little-endian (APPNOTE 4.3.12)
    at = raw.index(b"PK\x01\x02") + 24
    raw[at : at + 4] = (2_000_000_000).to_bytes(4, "little")
    (tmp_path / "pack.zip").write_bytes(raw)
    _refused(lambda: _opened(tmp_path / "pack.zip"), "map.html: claims 2,000,000,000 bytes")


def test_what_is_no_pack_is_refused_in_words(tmp_path, run_folder):
    _refused(lambda: _opened(tmp_path / "nothing"), "no such file or folder")
    (tmp_path / "text.zip").write_text("not a zip")
    _refused(lambda: _opened(tmp_path / "text.zip"), "not a readable zip")
    whole = (run_folder / "handover.zip").read_bytes()
    (tmp_path / "cut.zip").write_bytes(whole[: len(whole) // 2])
    _refused(lambda: _opened(tmp_path / "cut.zip"), "not a readable zip")
    spoiled = bytearray(whole)
    spoiled[len(whole) // 3 : len(whole) // 3 + 50] = bytes(50)
    (tmp_path / "spoiled.zip").write_bytes(spoiled)
    _refused(lambda: _opened(tmp_path / "spoiled.zip"), "not a readable zip")
    with pytest.raises(InputError, match=r"cannot be read|no such file"):
        _opened(tmp_path / ("x" * 300))


def test_a_folder_that_may_not_be_looked_into_is_refused_in_words(tmp_path, monkeypatch):
    def refuse(_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", refuse)
    _refused(lambda: _opened(tmp_path), "cannot be read (Permission denied)")


def test_checksums_are_read_as_sha256sum_writes_them(tmp_path):
    file = tmp_path / "SHA256SUMS"
    file.write_text(f"{'a' * 64}  map.html\n{'b' * 64} *cores.csv\n")
    assert read_sums(file) == {"map.html": "a" * 64, "cores.csv": "b" * 64}
    file.write_text(f"{'a' * 64}  map.html\n{'b' * 64}  map.html\n")
    _refused(lambda: read_sums(file), "line 2: expected a SHA-256 and a file name, each file once")


@pytest.mark.parametrize(
    "change",
    [
        {"cores": "seven"}, {"findings": None}, {"programme": 1}, {"columns": [1]}, {"columns": None}, {"crs": None},
    ],
)  # fmt: skip
def test_an_identity_that_lacks_an_entry_or_has_one_of_another_type_is_refused(tmp_path, change):
    file = tmp_path / "handover.json"
    file.write_text(json.dumps(IDENTITY | {"more": 1}))
    assert read_identity(file) == IDENTITY | {"more": 1}
    file.write_text(json.dumps(IDENTITY | change))
    _refused(lambda: read_identity(file), "handover.json: cannot be used")
    file.write_text(json.dumps({key: value for key, value in IDENTITY.items() if key not in change}))
    _refused(lambda: read_identity(file), "cannot be used (no entry '")


def test_a_text_file_of_any_size_is_not_read(tmp_path, monkeypatch):
    monkeypatch.setattr("pipeline.readback.packs.most_bytes", lambda _: 10)
    (tmp_path / "handover.json").write_text("[" * 11)
    _refused(lambda: read_identity(tmp_path / "handover.json"), "larger than 10 bytes")


def test_whoever_gives_a_run_reads_which_part_of_it_is_the_pack_or_how_to_get_one(tmp_path):
    (run := tmp_path / "2026-09-30").mkdir()
    (run / "run.json").write_text("{}")
    none = "Its run has no pack. Add 'handover' to outputs in [publish], and run the audit again."
    for path, found in (
        (run / "handover.zip", "no such file or folder"),
        (run, "the folder of a run, expected a pack"),
    ):
        with pytest.raises(InputError, match=re.escape(f"{path}: {found}. {none}")):
            _opened(path)
    (run / "handover").mkdir()
    with pytest.raises(InputError, match=re.escape("Give its folder handover, or handover.zip.")):
        _opened(run)
