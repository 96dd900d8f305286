"""What a file is known by: the sum of what was read."""

import hashlib
import os

import pytest

from pipeline.errors import InputError
from pipeline.intake.files.checksums import fingerprint, parts_of, unchanged


def _of(*contents):
    """The sum of several files: SHA-256 of their SHA-256s, one after the other."""
    return hashlib.sha256(b"".join(hashlib.sha256(one).digest() for one in contents)).hexdigest()


def _write(folder, **contents):
    for name, content in contents.items():
        (folder / name.replace("_", ".")).write_bytes(content)


def test_a_file_is_known_by_the_sum_of_its_bytes(tmp_path):
    (tmp_path / "a.csv").write_bytes(b"id\n1\n")
    assert fingerprint(tmp_path / "a.csv") == hashlib.sha256(b"id\n1\n").hexdigest()


def test_of_a_shapefile_and_a_folder_every_part_counts_in_the_order_of_names(tmp_path):
    _write(tmp_path, a_shp=b"1", a_dbf=b"2", b_shp=b"3")
    assert fingerprint(tmp_path / "a.shp") == _of(b"2", b"1")
    assert fingerprint(tmp_path / "b.shp") == hashlib.sha256(b"3").hexdigest()
    (tmp_path / "in").mkdir()
    for name in ("a.shp", "a.dbf", "b.shp"):
        (tmp_path / name).rename(tmp_path / "in" / name)
    assert fingerprint((tmp_path / "in").rename(tmp_path / "in.gdb")) == _of(b"2", b"1", b"3")


def test_a_file_that_only_has_the_same_name_is_no_part(tmp_path):
    _write(tmp_path, a_shp=b"1", a_DBF=b"2", a_gpkg=b"3", a_txt=b"4")
    assert [file.name for file in parts_of(tmp_path / "a.shp")] == ["a.DBF", "a.shp"]
    (tmp_path / "[1].shp").write_bytes(b"5")
    (tmp_path / "1.dbf").write_bytes(b"6")
    assert fingerprint(tmp_path / "[1].shp") == hashlib.sha256(b"5").hexdigest()


def test_the_log_of_a_database_counts(tmp_path):
    (tmp_path / "a.gpkg").write_bytes(b"1")
    (tmp_path / "a.gpkg-wal").write_bytes(b"2")
    (tmp_path / "a.gpkg-shm").write_bytes(b"3")
    assert fingerprint(tmp_path / "a.gpkg") == _of(b"1", b"2")


def test_the_schema_beside_a_gml_file_counts_and_what_gdal_learnt_of_it_does_not(tmp_path):
    _write(tmp_path, a_gml=b"1", a_xsd=b"2", a_gfs=b"3")
    assert fingerprint(tmp_path / "a.gml") == _of(b"1", b"2")


def test_a_part_that_is_a_pipe_is_refused_and_not_waited_for(tmp_path):
    _write(tmp_path, a_shp=b"1")
    os.mkfifo(tmp_path / "a.dbf")
    with pytest.raises(InputError, match=r"^a\.shp: a\.dbf beside it belongs to it, but is not a file\."):
        fingerprint(tmp_path / "a.shp")


def test_the_sum_is_that_of_the_bytes_before_reading(tmp_path):
    _write(tmp_path, a_csv=b"1")
    with unchanged(tmp_path / "a.csv", "a.csv") as sha256:
        assert sha256 == hashlib.sha256(b"1").hexdigest()


@pytest.mark.parametrize("change", ["written", "replaced", "same length and time", "another part"])
def test_a_file_that_changes_while_it_is_read_is_refused(tmp_path, change):
    path = tmp_path / "a.shp"
    _write(tmp_path, a_shp=b"1", a_dbf=b"2")
    state = path.stat()

    def spoil():
        if change == "replaced":
            (tmp_path / "new").write_bytes(b"3")
            (tmp_path / "new").replace(path)
        else:
            (tmp_path / "a.dbf" if change == "another part" else path).write_bytes(
                b"22" if change == "written" else b"3"
            )
        if change == "same length and time":
            os.utime(path, ns=(state.st_atime_ns, state.st_mtime_ns))

    with pytest.raises(InputError) as error, unchanged(path, "a.shp"):
        spoil()
    assert str(error.value) == (
        "a.shp: the file changed while it was being read; expected it to stay unchanged. Run again when no program is writing to it."
    )


def test_a_file_that_is_touched_is_the_same(tmp_path):
    _write(tmp_path, a_csv=b"1")
    with unchanged(tmp_path / "a.csv", "a.csv"):
        os.utime(tmp_path / "a.csv", (1, 1))


def test_an_error_of_reading_goes_before_that_of_a_change(tmp_path):
    _write(tmp_path, a_csv=b"1")

    def spoil():
        _write(tmp_path, a_csv=b"2")
        raise InputError("a.csv: the file is cut short")

    with pytest.raises(InputError, match="cut short"), unchanged(tmp_path / "a.csv", "a.csv"):
        spoil()
