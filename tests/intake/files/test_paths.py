"""What a path may lead to: a file, or the folder of a file geodatabase."""

import os

import pytest

from pipeline.errors import InputError
from pipeline.intake.files.paths import input_path, matching_files


@pytest.mark.parametrize(
    "text",
    [
        "https://roads.test/roads.geojson",
        "/vsicurl/https://roads.test/roads.geojson",
        "/vsizip/roads.zip/roads.shp",
        "PG:host=roads.test",
        "WFS:https://roads.test",
        "zip://roads.zip",
        "file:///roads.gpkg",
    ],
)
def test_an_address_is_refused_in_words(tmp_path, text):
    with pytest.raises(InputError) as error:
        input_path(text, tmp_path, "roads")
    assert str(error.value) == (
        f"{text}: this is the address of a web page, a database or a virtual file; expected the path of a file on this "
        "computer. Save the data as a file and give its path in roads.path."
    )


def test_a_file_may_have_a_colon_in_its_name(tmp_path):
    (tmp_path / "roads:2026.csv").touch()
    assert input_path("roads:2026.csv", tmp_path, "roads") == tmp_path / "roads:2026.csv"


def test_a_file_that_is_not_there_is_named_with_its_key(tmp_path):
    with pytest.raises(InputError) as error:
        input_path("roads.gpkg", tmp_path, "roads")
    assert str(error.value) == f"roads.gpkg: no such file (looked for {tmp_path / 'roads.gpkg'}). Correct roads.path."


def test_a_folder_and_a_pipe_are_refused_and_nothing_waits_for_the_pipe(tmp_path):
    (tmp_path / "roads").mkdir()
    with pytest.raises(
        InputError, match=r"^roads: this is a folder; expected a file\. Give the path of the file in roa"
    ):
        input_path("roads", tmp_path, "roads")
    os.mkfifo(tmp_path / "roads.geojson")
    with pytest.raises(InputError, match=r"^roads\.geojson: this is a pipe; expected a file\."):
        input_path("roads.geojson", tmp_path, "roads")
    with pytest.raises(InputError, match=r"^/dev/null: this is a device; expected a file\."):
        input_path("/dev/null", tmp_path, "roads")


def test_a_link_to_a_file_is_the_users_own(tmp_path):
    (tmp_path / "real.csv").touch()
    (tmp_path / "roads.csv").symlink_to(tmp_path / "real.csv")
    assert input_path("roads.csv", tmp_path, "roads") == tmp_path / "roads.csv"


def test_a_geodatabase_holds_its_own_files_only(tmp_path):
    folder = tmp_path / "roads.gdb"
    folder.mkdir()
    (folder / "a00000001.gdbtable").touch()
    assert input_path("roads.gdb", tmp_path, "roads") == folder
    (folder / "a00000002.gdbtable").symlink_to("/etc/hostname")
    with pytest.raises(InputError, match=r"^roads\.gdb: a00000002\.gdbtable in it is a link to other data, not data"):
        input_path("roads.gdb", tmp_path, "roads")


@pytest.mark.parametrize("may_be_parts", [True, False])
def test_a_path_longer_than_any_can_be_is_refused_in_short(tmp_path, may_be_parts):
    with pytest.raises(
        InputError, match=r"^a{300}\.{3}: cannot be looked for \(File name too long\)\. Check cores\.path"
    ) as refused:
        input_path("a" * 5000, tmp_path, "cores", may_be_parts=may_be_parts)
    assert len(str(refused.value)) < 500


@pytest.mark.parametrize(
    ("pattern", "why"),
    [
        ("*/" * 200 + "*.csv", "it names more than 50 folders one below the other"),
        ("**.csv", "** stands beside other characters, where it can only be the name of a folder"),
    ],
)
def test_a_pattern_that_cannot_be_followed_is_refused_with_its_key(tmp_path, pattern, why):
    with pytest.raises(InputError) as error:
        matching_files(pattern, tmp_path, "cores.path")
    assert f"no pattern that can be followed ({why}); expected" in str(error.value)
    assert str(error.value).endswith("Correct cores.path.")
    assert len(str(error.value)) < 500
