"""A pack's zip is taken for hostile: what is not the plain files of one folder is refused before it is unpacked."""

import os
import zipfile

import pytest

from pipeline.errors import InputError
from pipeline.readback.packs import open_pack
from tests.readback.hostile_zips import ZIPS, written

_OWN = [(f"pack/{name}", os.urandom(400), 0o100644) for name in ("SHA256SUMS", "findings.csv", "rules.csv")]


@pytest.mark.parametrize("name", ZIPS)
def test_a_zip_that_no_sender_makes_is_refused_and_leaves_nothing(tmp_path, monkeypatch, name):
    spoil, words = ZIPS[name]
    (tmp_path / "scratch").mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "scratch"))
    spoil(tmp_path / "pack.zip", _OWN)
    with pytest.raises(InputError) as refused, open_pack(tmp_path / "pack.zip"):
        pass
    assert words in str(refused.value)
    assert str(refused.value).startswith(f"{tmp_path / 'pack.zip'}: ")
    assert "Give the complete folder handover, or handover.zip, as it was sent." in str(refused.value)
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["pack.zip", "scratch"]
    assert not list((tmp_path / "scratch").iterdir())


def test_a_bomb_is_refused_before_a_byte_of_it_is_unpacked(tmp_path, monkeypatch):
    ZIPS["a bomb in the GeoPackage"][0](tmp_path / "pack.zip", _OWN)
    monkeypatch.setattr(zipfile.ZipFile, "open", lambda *_: pytest.fail("unpacked"))
    with pytest.raises(InputError, match="more than the"), open_pack(tmp_path / "pack.zip"):
        pass


@pytest.mark.parametrize("method", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED])
@pytest.mark.parametrize("folder", ["pack", "Gebiet Süd (2)", "handover.1"])
def test_a_folder_that_a_user_zipped_again_is_read(tmp_path, method, folder):
    own = [(name.replace("pack", folder), data, mode) for name, data, mode in _OWN]
    # programs add the folder itself, of a group's, and the rights of their own system
    written(tmp_path / "pack.zip", [(f"{folder}/", b"", 0o042775), *own], method)
    with open_pack(tmp_path / "pack.zip") as unpacked:
        assert {file.name: file.read_bytes() for file in unpacked.iterdir()} == {
            name.partition("/")[2]: data for name, data, _ in _OWN
        }
        assert not [file for file in unpacked.iterdir() if file.stat().st_mode & 0o7111]
