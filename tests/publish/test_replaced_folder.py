"""A run's folder put in the place of an earlier one: what stays, what goes, and what is said where it cannot be."""

import errno
import os
import socket
from pathlib import Path

import pytest

from pipeline.errors import OutputError
from pipeline.publish.folder import new_folder
from pipeline.publish.held import held


def test_two_folders_are_exchanged_in_one_step_where_the_system_can(tmp_path, monkeypatch):
    target = tmp_path / "run"
    for text in ("old", "new"):
        # no folder is renamed from its place, so that it is never without one
        monkeypatch.setattr(Path, "rename", Path.rename if text == "old" else None)
        with new_folder(target, lambda *_: False) as draft:
            (draft / "a.csv").write_text(text)
    assert (target / "a.csv").read_text() == "new"
    assert [entry.name for entry in tmp_path.iterdir()] == ["run"]


def test_files_of_others_are_kept_wherever_in_the_folder_and_those_of_the_earlier_run_are_not(tmp_path):
    target = tmp_path / "run"
    for number, files in enumerate((("a.csv", "pack/a.csv", "map/old.html"), ("a.csv", "pack/a.csv", "map/new.html"))):
        with new_folder(target, lambda *_: False, written=lambda _: {"a.csv", "pack/a.csv", "map/old.html"}) as draft:
            for name in files:
                (draft / name).parent.mkdir(exist_ok=True)
                (draft / name).write_text(str(number))
        if not number:
            (target / "pack" / "notes.txt").write_text("mine")
            (target / "mine").mkdir()
            (target / "mine" / "more.txt").write_text("mine")
            (target / "pack" / "link").symlink_to("nowhere")
    found = sorted(file.relative_to(target).as_posix() for file in target.rglob("*") if not file.is_dir())
    assert found == ["a.csv", "map/new.html", "mine/more.txt", "pack/a.csv", "pack/link", "pack/notes.txt"]
    assert (target / "pack" / "link").readlink() == Path("nowhere")


def test_a_pipe_and_a_socket_of_others_stay_and_go_on_to_work(tmp_path, monkeypatch):
    target = tmp_path / "run"
    (target / "handover").mkdir(parents=True)
    os.mkfifo(target / "handover" / "pipe")
    (target / "to-pipe").symlink_to("handover/pipe")
    # the path of a socket must be short
    monkeypatch.chdir(target)
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind("socket")
        listening.listen()
        before = (target / "handover" / "pipe").stat().st_ino
        with held(target), new_folder(target, lambda *_: False) as draft:
            (draft / "a.csv").write_text("new")
        assert (target / "handover" / "pipe").stat().st_ino == before
        assert (target / "to-pipe").is_fifo()
        monkeypatch.chdir(target)
        with socket.socket(socket.AF_UNIX) as calling:
            calling.connect("socket")
    assert [entry.name for entry in tmp_path.iterdir()] == ["run"]


def test_a_pipe_that_cannot_be_kept_is_named_before_the_work(tmp_path, monkeypatch):
    target = tmp_path / "run"
    target.mkdir()
    os.mkfifo(target / "pipe")

    def refused(*_, **__):
        raise PermissionError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", refused)
    with pytest.raises(OutputError) as error, held(target):
        pytest.fail("the work began")
    assert str(error.value) == (
        f"{target / 'pipe'}: this pipe, socket or device of somebody else cannot be kept beside a new run (Operation "
        "not permitted). Remove it, or move it to another folder, and run again."
    )
    assert [entry.name for entry in tmp_path.iterdir()] == ["run"]


@pytest.mark.parametrize("mode", [0o700, 0o755, 0o2775])
def test_a_folder_keeps_its_permissions_and_a_new_one_has_those_of_any_folder(tmp_path, mode):
    target = tmp_path / "run"
    target.mkdir()
    target.chmod(mode)
    with new_folder(target, lambda *_: False) as draft:
        (draft / "a.csv").write_text("new")
    assert target.stat().st_mode & 0o7777 == mode
    (tmp_path / "plain").mkdir()
    with new_folder(tmp_path / "other", lambda *_: False) as draft:
        (draft / "a.csv").write_text("new")
    assert (tmp_path / "other").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_a_run_behind_a_link_is_replaced_there_and_a_link_to_nowhere_is_told(tmp_path):
    (tmp_path / "disk" / "run").mkdir(parents=True)
    link = tmp_path / "run"
    link.symlink_to(tmp_path / "disk" / "run")
    with new_folder(link, lambda *_: False) as draft:
        (draft / "a.csv").write_text("new")
    assert link.is_symlink()
    assert (tmp_path / "disk" / "run" / "a.csv").read_text() == "new"
    (tmp_path / "lost").symlink_to(tmp_path / "nowhere")
    with (
        pytest.raises(OutputError, match=r"is a link to .*nowhere, where no folder is"),
        new_folder(tmp_path / "lost", lambda *_: False),
    ):
        pass


@pytest.mark.parametrize(
    ("number", "remedy"),
    [
        (28, "Free some disk space, or choose another folder with --out."),
        (5, "The disk or the network fails"),
        (27, "a file could not grow to its full size.*lift the limit on the size of files"),
        (13, "Choose another folder with --out."),
    ],
)
def test_what_to_do_goes_by_the_reason_and_not_every_reason_is_a_full_disk(tmp_path, number, remedy):
    def fail():
        with new_folder(tmp_path / "run", lambda *_: False):
            raise OSError(number, os.strerror(number))

    with pytest.raises(OutputError, match=remedy) as told:
        fail()
    assert ("disk space" in str(told.value)) == (number in (27, 28))
