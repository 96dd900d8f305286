"""Zip archives: one map inside, unpacked apart, and nothing outside of it."""

import zipfile

import pytest

from pipeline.errors import InputError
from pipeline.intake.files import archives
from pipeline.intake.files.archives import is_archive, unpack


@pytest.fixture
def unpacked(tmp_path):
    """Zip some files, unpack the archive, and return what was unpacked by path."""

    def run(**files):
        scratch = tmp_path / "scratch"
        scratch.mkdir()
        with zipfile.ZipFile(tmp_path / "a.zip", "w", zipfile.ZIP_DEFLATED) as archive:
            for name, content in files.items():
                archive.writestr(name, content)
        main = unpack(tmp_path / "a.zip", "a.zip", scratch)
        files = {str(file.relative_to(scratch)): file.read_text() for file in scratch.rglob("*") if file.is_file()}
        return str(main.relative_to(scratch)), files

    return run


def test_a_map_is_unpacked_with_the_files_that_belong_to_it(unpacked):
    files = {"in/Roads.shp": "1", "in/Roads.DBF": "2", "in/roads.prj": "3", "in/other.dbf": "4", "roads.cpg": "5"}
    assert unpacked(**files) == ("Roads.shp", {"Roads.shp": "1", "Roads.DBF": "2", "roads.prj": "3"})


def test_a_geodatabase_is_unpacked_as_a_folder(unpacked):
    files = {"in/x.gdb/a1.gdbtable": "1", "in/x.gdb/a1.gdbtablx": "2", "in/x.gdb/deep/a": "3", "in/read.me": "4"}
    assert unpacked(**files) == ("x.gdb", {"x.gdb/a1.gdbtable": "1", "x.gdb/a1.gdbtablx": "2"})


def test_what_gdal_once_learnt_of_a_gml_file_stays_in_the_archive(unpacked):
    assert unpacked(**{"a.gml": "1", "a.gfs": "2", "a.xsd": "3"}) == ("a.gml", {"a.gml": "1", "a.xsd": "3"})


@pytest.mark.parametrize("name", ["../a.shp", "/a.shp", "in/../../a.shp"])
def test_a_name_that_leads_out_of_the_archive_is_refused(unpacked, tmp_path, name):
    with pytest.raises(
        InputError, match=rf"^a\.zip: the archive has a file named '{name}', whose path leads out of it"
    ):
        unpacked(**{name: "1"})
    assert {file.name for file in tmp_path.rglob("*")} == {"a.zip", "scratch"}


def test_an_archive_within_an_archive_is_named(unpacked):
    with pytest.raises(InputError) as error:
        unpacked(**{"in/b.zip": "1"})
    assert str(error.value) == (
        "a.zip: the archive has no map file, but another archive (in/b.zip); expected exactly one. Unpack it and give "
        "the path of the file."
    )


def test_an_archive_that_would_fill_the_disk_is_refused(unpacked, monkeypatch):
    monkeypatch.setattr(archives, "_SMALL_BYTES", 100_000)
    # zeros pack to a thousandth
    with pytest.raises(
        InputError, match=r"bytes unpack to 0\.0 GB, far more than any map layer holds\. Unpack it yourself if you"
    ):
        unpacked(**{"a.gml": "0" * 1_000_000})


def test_an_archive_larger_than_the_free_disk_is_refused(unpacked, monkeypatch):
    monkeypatch.setattr(archives.shutil, "disk_usage", lambda _: type("Disk", (), {"free": 10}))
    with pytest.raises(InputError, match=r"^a\.zip: unpacks to [\d,]+ bytes, more than are free in"):
        unpacked(**{"a.gml": "12345678901"})


def test_an_archive_with_a_password_is_refused(tmp_path):
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.writestr("a.gml", "1")
    content = bytearray((tmp_path / "a.zip").read_bytes())
    # bit 0 of the flags says that the file is encrypted: at byte 6 of its own header, byte 8 in the directory
    content[6] |= 1
    content[content.index(b"PK\x01\x02") + 8] |= 1
    (tmp_path / "a.zip").write_bytes(bytes(content))
    with pytest.raises(
        InputError, match=r"^a\.zip: cannot be read as a zip archive \(.*encrypted.*\)\. Zip the file again"
    ):
        unpack(tmp_path / "a.zip", "a.zip", tmp_path)


@pytest.mark.parametrize("method", [zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_an_archive_that_is_damaged_is_refused_however_it_is_packed(tmp_path, method):
    with zipfile.ZipFile(tmp_path / "a.zip", "w", method) as archive:
        archive.writestr("a.gml", "".join(str(number) for number in range(9000)))
    content = bytearray((tmp_path / "a.zip").read_bytes())
    for at in range(60, 2000):
        content[at] ^= 0x5A
    (tmp_path / "a.zip").write_bytes(bytes(content))
    with pytest.raises(InputError, match=r"^a\.zip: cannot be read as a zip archive"):
        unpack(tmp_path / "a.zip", "a.zip", tmp_path)


@pytest.mark.parametrize(
    ("name", "expected"), [("a.ZIP", True), ("a.gdb.zip", True), ("a.kmz", True), ("a.gpkg", False)]
)
def test_archives_are_known_by_their_endings(tmp_path, name, expected):
    assert is_archive(tmp_path / name) is expected
