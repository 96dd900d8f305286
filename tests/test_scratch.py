"""A disk for temporary files that is full, or no place for them: said as such, and not as a fault of the input."""

import errno
import os
import shutil
import sqlite3
import tempfile
import zipfile
from types import SimpleNamespace

import geopandas as gpd
import pytest
import shapely

from pipeline.commands.verify import verify
from pipeline.errors import InputError
from pipeline.intake.files.layers import read_raw
from pipeline.programme.settings import Layer
from pipeline.readback.packs import open_pack
from pipeline.scratch import scratch_folder

_NO_ROOM = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def _full(*_):
    raise _NO_ROOM


@pytest.fixture
def roads(tmp_path):
    layer = gpd.GeoDataFrame({"id": ["S1"]}, geometry=[shapely.LineString([(0, 0), (9, 9)])], crs=32617)
    layer.to_file(tmp_path / "roads.gpkg")
    with zipfile.ZipFile(tmp_path / "roads.zip", "w") as archive:
        archive.write(tmp_path / "roads.gpkg", "roads.gpkg")
    with sqlite3.connect(tmp_path / "roads.gpkg") as database:
        database.execute("PRAGMA journal_mode = WAL")
    return tmp_path


@pytest.mark.parametrize(("name", "copies"), [("roads.zip", "copyfileobj"), ("roads.gpkg", "copyfile")])
def test_a_layer_that_does_not_fit_on_the_disk_of_temporary_files_is_told_by_that(roads, monkeypatch, name, copies):
    monkeypatch.setattr(shutil, copies, _full)
    with pytest.raises(InputError) as told:
        read_raw(Layer(path=name), roads, "roads", None)
    assert str(told.value) == (
        f"{name}: does not fit on the disk of {tempfile.gettempdir()}, where inputs are kept while they are read. "
        "Free some space, or name a folder with more in TMPDIR."
    )


def test_a_pack_that_does_not_fit_is_told_by_that(tmp_path, monkeypatch):
    with zipfile.ZipFile(tmp_path / "pack.zip", "w") as archive:
        archive.writestr("pack/cores.csv", "core_id\n")
    monkeypatch.setattr("pipeline.readback.packs.unpack_entries", _full)
    with pytest.raises(InputError, match=r"pack\.zip: does not fit on the disk of"), open_pack(tmp_path / "pack.zip"):
        pass


def test_a_pack_that_does_not_fit_is_not_called_altered(run_folder, monkeypatch):
    monkeypatch.setattr("pipeline.commands.verify.copy_of", _full)
    with pytest.raises(InputError, match=r"handover: does not fit on the disk of") as told:
        verify(run_folder / "handover")
    assert "ask the sender" not in str(told.value)


def test_a_place_that_cannot_be_written_to_is_told_with_where_another_is_named(monkeypatch):
    def refused():
        raise FileNotFoundError(errno.ENOENT, "No usable temporary directory found")

    monkeypatch.setattr("pipeline.scratch.tempfile", SimpleNamespace(gettempdir=refused))
    with (
        pytest.raises(InputError, match=r"^roads\.zip: no folder can be made .* Name one in TMPDIR\.$"),
        scratch_folder("roads.zip"),
    ):
        pass


def test_a_database_that_says_so_is_believed_and_any_other_error_is_left_as_it_is():
    full = sqlite3.OperationalError("database or disk is full")
    full.sqlite_errorcode = sqlite3.SQLITE_FULL
    with pytest.raises(InputError, match="does not fit on the disk of"), scratch_folder("roads.gpkg"):
        raise full
    with pytest.raises(PermissionError), scratch_folder("roads.gpkg"):
        raise PermissionError(errno.EACCES, "denied")
