"""A run's folder appears complete or not at all, and keeps what others put into it."""

import os
import signal
import sqlite3
from pathlib import Path

import pyogrio.errors
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import OutputError
from pipeline.publish import exchange
from pipeline.publish.folder import folder_name, lay_files, new_folder, same_but_for


def test_a_folder_name_is_plain_whatever_the_programme_is_called():
    assert folder_name("Harbour Vale 2026") == "harbour-vale-2026"
    assert folder_name("../../etc/Ünïcode & Co.") == "etc-unicode-co"
    assert folder_name("город") == "город"
    assert folder_name("日本") != folder_name("Москва")
    assert folder_name("/..") == "programme"
    # names that Windows keeps for devices
    assert [folder_name(name) for name in ("CON", "lpt9.", "Console")] == ["con-1", "lpt9-1", "console"]
    assert len(folder_name("日" * 300).encode()) <= 200


def test_a_run_appears_whole_or_not_at_all(tmp_path):
    place = tmp_path / "town" / "2026-09-30"

    def fail_halfway():
        with new_folder(place, lambda *_: False) as draft:
            (draft / "half.csv").write_text("x")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail_halfway()
    assert list(tmp_path.rglob("*.csv")) == []
    assert not place.exists()
    for content in ("old", "new"):
        with new_folder(place, lambda *_: False) as draft:
            (draft / "a.csv").write_text(content)
    assert (place / "a.csv").read_text() == "new"
    assert [entry.name for entry in place.parent.iterdir()] == ["2026-09-30"]


def test_a_folder_that_has_not_changed_is_left_as_it_was(tmp_path):
    place = tmp_path / "run"
    stamps = []
    for clock in ("1", "2"):
        with new_folder(place, lambda new, old: same_but_for("run.json", new, old)) as draft:
            (draft / "a.csv").write_text("same")
            (draft / "run.json").write_text(clock)
        stamps.append((place / "run.json").read_text())
    assert stamps == ["1", "1"]
    with new_folder(place, lambda new, old: same_but_for("run.json", new, old)) as draft:
        (draft / "a.csv").write_text("other")
        (draft / "run.json").write_text("3")
    assert (place / "run.json").read_text() == "3"


def test_a_place_that_cannot_be_written_is_an_output_error(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(OutputError, match="cannot be written"), new_folder(tmp_path / "file" / "run", lambda *_: False):
        pass
    assert os.listdir(tmp_path) == ["file"]  # noqa: PTH208 - the names, and no paths
    assert Path(tmp_path / "file").read_text() == "in the way"


def test_what_somebody_else_laid_into_the_folder_stays_there(tmp_path):
    place = tmp_path / "run"
    for content in ("1", "1", "2"):
        with new_folder(place, lambda new, old: same_but_for("run.json", new, old)) as draft:
            (draft / "a.csv").write_text(content)
            (draft / "run.json").write_text("x")
        (place / "notes.txt").write_text("mine")
    assert (place / "a.csv").read_text() == "2"
    assert (place / "notes.txt").read_text() == "mine"


@pytest.mark.parametrize(
    "failure",
    [
        sqlite3.OperationalError("disk I/O error"),
        pyogrio.errors.DataLayerError("full"),
        OSError("full"),
        pyogrio.errors.DataLayerError("database disk image is malformed"),
    ],
)
def test_a_disk_that_is_full_is_an_output_error_whichever_library_says_so(tmp_path, failure):
    def write():
        with new_folder(tmp_path / "run", lambda *_: False):
            raise failure

    with pytest.raises(OutputError, match="cannot be written") as error:
        write()
    assert ("could not grow" in str(error.value)) == ("I/O" in str(failure) or "malformed" in str(failure))
    assert list(tmp_path.iterdir()) == []


@settings(deadline=None)
@given(st.text(max_size=300))
def test_a_folder_name_never_leaves_its_folder_and_fits_on_a_disk(programme):
    name = folder_name(programme)
    assert Path(name).name == name
    assert name not in {"", ".", ".."}
    assert len(name.encode()) <= 200
    assert folder_name(name) == name


def test_a_file_of_an_earlier_run_that_is_outdated_goes(tmp_path):
    target = tmp_path / "run"
    with new_folder(target, lambda *_: False) as draft:
        (draft / "report.pdf").write_text("old")
        (draft / "a.csv").write_text("1")
    with new_folder(target, lambda *_: False, ("report.pdf",)) as draft:
        (draft / "a.csv").write_text("2")
    assert [file.name for file in target.iterdir()] == ["a.csv"]


def test_a_folder_that_cannot_be_renamed_leaves_the_one_before(tmp_path, monkeypatch):
    target = tmp_path / "run"
    with new_folder(target, lambda *_: False) as draft:
        (draft / "a.csv").write_text("old")
    real = Path.rename

    def refuse(self, other):
        # only the draft; the older run must be able to come back
        if self.name.startswith(".run.") and not self.name.endswith(".old"):
            raise OSError(28, "No space left on device")
        return real(self, other)

    monkeypatch.setattr(Path, "rename", refuse)
    # as on a system that cannot exchange two folders in one step
    monkeypatch.setattr(exchange, "_exchange", lambda *_: False)
    with pytest.raises(OutputError, match="No space left"), new_folder(target, lambda *_: False) as draft:
        (draft / "a.csv").write_text("new")
    assert (target / "a.csv").read_text() == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["run"]


def test_files_are_laid_beside_what_is_there_or_not_at_all(tmp_path):
    target = tmp_path / "sample"
    target.mkdir()
    (target / "notes.txt").write_text("mine")
    with lay_files(target) as draft:
        (draft / "sample.csv").write_text("1")
        assert not (target / "sample.csv").exists()
    assert {file.name for file in target.iterdir()} == {"notes.txt", "sample.csv"}

    def fail_halfway():
        with lay_files(target) as draft:
            (draft / "sample.csv").write_text("2")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail_halfway()
    assert (target / "sample.csv").read_text() == "1"
    assert {file.name for file in target.iterdir()} == {"notes.txt", "sample.csv"}


def test_files_that_cannot_be_laid_are_an_output_error(tmp_path):
    (tmp_path / "file").write_text("in the way")
    words = r"cannot be written .*Choose another folder with --out"
    with pytest.raises(OutputError, match=words), lay_files(tmp_path / "file" / "sample"):
        pass


@pytest.mark.parametrize(
    ("new", "old", "is_same"),
    [
        ({"a.csv": "1", "run.json": "x"}, {"a.csv": "1", "run.json": "y"}, True),
        ({"a.csv": "1", "run.json": "x"}, {"a.csv": "2", "run.json": "x"}, False),
        # a file less before is a change; one more may be somebody else's
        ({"a.csv": "1", "run.json": "x"}, {"run.json": "x"}, False),
        ({"run.json": "x"}, {"a.csv": "1", "run.json": "x"}, True),
        ({"in/a.csv": "1"}, {"in/a.csv": "2"}, False),
    ],
)
def test_folders_are_the_same_if_every_file_but_one_is(tmp_path, new, old, is_same):
    for name, files in (("new", new), ("old", old)):
        for file, text in files.items():
            (tmp_path / name / file).parent.mkdir(parents=True, exist_ok=True)
            (tmp_path / name / file).write_text(text)
    assert same_but_for("run.json", tmp_path / "new", tmp_path / "old") == is_same


@pytest.fixture
def at_rename(tmp_path, monkeypatch):
    """Do something before one of the renames that put a second run in the place of a first; returns the run's folder."""

    def put(at, what):
        target = tmp_path / "run"
        with new_folder(target, lambda *_: False) as draft:
            (draft / "a.csv").write_text("old")
        real, renamed = Path.rename, []

        def rename(self: Path, to: Path) -> Path:
            renamed.append(to)
            if len(renamed) == at:
                what()
            return real(self, to)

        monkeypatch.setattr(Path, "rename", rename)
        # as on a system that cannot exchange two folders in one step
        monkeypatch.setattr(exchange, "_exchange", lambda *_: False)
        with new_folder(target, lambda *_: False) as draft:
            (draft / "a.csv").write_text("new")

    return put


@pytest.mark.parametrize("at", [1, 2])
def test_a_run_that_ends_while_its_folder_is_renamed_leaves_the_one_before(tmp_path, at_rename, at):
    def end():
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        at_rename(at, end)
    assert (tmp_path / "run" / "a.csv").read_text() == "old"
    assert [file.name for file in tmp_path.iterdir()] == ["run"]


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
@pytest.mark.parametrize("at", [1, 2])
def test_a_run_that_is_being_put_in_place_is_finished_whoever_interrupts(tmp_path, at_rename, at, number):
    before = signal.getsignal(number)
    at_rename(at, lambda: os.kill(os.getpid(), number))
    assert (tmp_path / "run" / "a.csv").read_text() == "new"
    assert [file.name for file in tmp_path.iterdir()] == ["run"]
    assert signal.getsignal(number) == before


@pytest.mark.parametrize("is_first", [True, False])
def test_a_folder_that_cannot_be_settled_makes_room_for_the_one_before(tmp_path, is_first):
    target = tmp_path / "run"
    if not is_first:
        with new_folder(target, lambda *_: False) as draft:
            (draft / "a.csv").write_text("old")

    def refuse(folder):
        assert (folder / "a.csv").read_text() == "new"
        raise OutputError("the other place could not keep it")

    with pytest.raises(OutputError, match="other place"), new_folder(target, lambda *_: False, (), refuse) as draft:
        (draft / "a.csv").write_text("new")
    assert [file.name for file in tmp_path.iterdir()] == ([] if is_first else ["run"])
    assert is_first or (target / "a.csv").read_text() == "old"


def test_a_folder_that_has_not_changed_is_settled_as_it_was(tmp_path):
    seen = []
    for clock in ("1", "2"):
        with new_folder(
            tmp_path / "run", same_but_for_record, (), lambda folder: seen.append((folder / "run.json").read_text())
        ) as draft:
            (draft / "run.json").write_text(clock)
    assert seen == ["1", "1"]


def same_but_for_record(new, old):
    return same_but_for("run.json", new, old)
