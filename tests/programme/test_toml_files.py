"""A programme file is read within bounds; whatever else lies at its path is refused in words."""

import os

import pytest

from pipeline.errors import SettingsError
from pipeline.programme.toml_files import read_toml


def _refused(path):
    with pytest.raises(SettingsError) as error:
        read_toml(path)
    assert str(error.value).startswith(f"{path}: ")
    return str(error.value).removeprefix(f"{path}: ")


def _written(folder, content):
    path = folder / "programme.toml"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def test_tables_are_read_with_or_without_a_byte_order_mark(tmp_path):
    assert read_toml(_written(tmp_path, "[a]\nb = 1\n")) == {"a": {"b": 1}}
    assert read_toml(_written(tmp_path, b"\xef\xbb\xbf[a]\nb = 1\n")) == {"a": {"b": 1}}


def test_a_folder_is_refused_as_such(tmp_path):
    assert _refused(tmp_path).startswith("found a folder, expected a programme file. Give the path of a TOML file")


def test_a_pipe_is_refused_without_waiting_for_it(tmp_path):
    os.mkfifo(tmp_path / "programme.toml")
    assert _refused(tmp_path / "programme.toml").startswith(
        "found something that is not a regular file, expected a programme file."
    )


def test_a_file_that_is_not_there_is_refused(tmp_path):
    assert _refused(tmp_path / "none.toml").startswith("the programme file cannot be read (No such file or directory).")


def test_a_huge_file_is_refused_before_it_is_read(tmp_path):
    path = _written(tmp_path, b"")
    os.truncate(path, 1_000_001)
    assert _refused(path).startswith("found 1,000,001 bytes, expected a programme file of at most 1,000,000.")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\xff\xfe[\x00", "not UTF-8 text (byte 0). Save the programme file as UTF-8."),
        ("[a\n", "not valid TOML: Expected ']'"),
        ("a = 1\na = 2\n", "not valid TOML: Cannot overwrite a value"),
        ("a = 2026-02-30\n", "not valid TOML: Invalid date or datetime"),
        ("a = " + "1" * 5000, "not valid TOML: a number has thousands of digits"),
        ("a = " + "[" * 3000 + "]" * 3000, "found tables or lists nested more than 20 deep"),
        ("a = " + "[" * 21 + "]" * 21, "found tables or lists nested more than 20 deep"),
        (".".join("a" * 3000) + " = 1", "found tables or lists nested more than 20 deep"),
        ("[" + ".".join("a" * 3000) + "]", "found tables or lists nested more than 20 deep"),
        ("a = " + "{a = " * 3000 + "1" + "}" * 3000, "found tables or lists nested more than 20 deep"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(tmp_path, content, said):
    assert _refused(_written(tmp_path, content)).startswith(said)


def test_twenty_levels_are_allowed(tmp_path):
    assert len(read_toml(_written(tmp_path, ".".join("a" * 20) + " = 1"))) == 1
