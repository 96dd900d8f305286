"""The layout of a zip: files one after the other, their directory, and nothing else."""

import io
import zipfile

import pytest

from pipeline.errors import InputError
from pipeline.readback.pack_zip import layout_problem
from pipeline.readback.packs import open_pack


def _zip(*entries, comment=b""):
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as pack:
        for name, content in entries:
            pack.writestr(name, content)
        pack.comment = comment
    return made.getvalue()


_SENT = _zip(("in/map.html", b"x" * 100), ("in/cores.csv", b"y"))


def _behind(front):
    """A zip whose places count from the start of what is before it, as if that belonged to it."""
    made = io.BytesIO(front)
    with zipfile.ZipFile(made, "a") as pack:
        pack.writestr("in/map.html", b"x")
    return made.getvalue()


def _problem(path, content):
    path.write_bytes(content)
    with zipfile.ZipFile(path) as pack:
        return layout_problem(path, pack)


def test_a_zip_as_programs_write_it_has_no_problem(tmp_path):
    path = tmp_path / "sent.zip"
    assert _problem(path, _SENT) == ""
    # with a folder of its own, and as written to a stream, with the sizes after each file
    assert _problem(path, _zip(("in/", b""), ("in/map.html", b"x"))) == ""

    class Stream(io.RawIOBase):
        written = b""

        def writable(self):
            return True

        def write(self, more):
            Stream.written += bytes(more)
            return len(more)

    with zipfile.ZipFile(Stream(), "w") as pack:
        pack.writestr("in/map.html", b"x")
        pack.writestr("in/cores.csv", b"y")
    assert _problem(path, Stream.written) == ""


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"#!/bin/sh\n" + _SENT, "10 bytes that belong to no file"),
        (_SENT + b"more", "a comment, or bytes after its end"),
        (_zip(("in/map.html", b"x"), comment=b"read me"), "a comment, or bytes after its end"),
        (_zip(("in/map.html", b"other")) + _SENT, "bytes that belong to no file"),
        (_behind(b"MZ"), "2 bytes that belong to no file"),
        (_SENT.replace(b"PK\x03\x04\x14\x00\x00\x00\x08\x00", b"PK\x03\x04\x14\x00\x00\x00\x00\x00", 1), "another head before in/map.html than its directory states"),
    ],
)  # fmt: skip
def test_bytes_that_another_program_could_take_for_a_file_are_a_problem(tmp_path, content, words):
    assert words in _problem(tmp_path / "sent.zip", content)


def test_a_pack_in_such_a_zip_is_refused_with_the_reason(tmp_path):
    path = tmp_path / "sent.zip"
    path.write_bytes(_SENT + b"more")
    with pytest.raises(InputError, match="the zip has a comment, or bytes after its end, expected the files of one"):
        open_pack(path).__enter__()
    path.write_bytes(_zip(("in/map.html", b"x"), ("out/", b"")))
    with pytest.raises(InputError, match="expected one folder of files"):
        open_pack(path).__enter__()
