"""What several workers share is made once, and whoever changes it is found out."""

import multiprocessing

import pytest

from tests.shared_runs import changed_since, made_once, shared_folder


def _make(folder):
    (folder / "out.csv").write_text("1")
    with (folder.parent / "made").open("a") as made:
        made.write("x")
    return {"file": folder / "out.csv"}


def test_of_several_processes_that_ask_at_once_one_makes_it_and_all_get_it(tmp_path):
    asking = [multiprocessing.get_context("spawn").Process(target=made_once, args=(tmp_path, "a", _make)) for _ in "12"]
    for process in asking:
        process.start()
    for process in asking:
        process.join()
    assert [process.exitcode for process in asking] == [0, 0]
    assert made_once(tmp_path, "a", _make) == {"file": tmp_path / "a" / "out.csv"}
    assert (tmp_path / "made").read_text() == "x"


def test_what_failed_half_way_is_made_again(tmp_path):
    def fail(folder):
        (folder / "half").touch()
        raise OSError

    with pytest.raises(OSError):
        made_once(tmp_path, "a", fail)
    made_once(tmp_path, "a", _make)
    assert [file.name for file in (tmp_path / "a").iterdir()] == ["out.csv"]


@pytest.mark.parametrize("change", ["written", "added", "removed"])
def test_a_changed_file_is_named(tmp_path, change):
    file = made_once(tmp_path, "a", _make)["file"]
    assert changed_since(tmp_path) == []
    if change == "written":
        file.write_text("2")
    elif change == "added":
        file = file.with_name("new.csv")
        file.touch()
    else:
        file.unlink()
    assert changed_since(tmp_path) == [str(file)]


def test_one_worker_alone_keeps_it_in_its_own_folder_and_several_beside_theirs(tmp_path, monkeypatch):
    monkeypatch.delenv("PYTEST_XDIST_WORKER", raising=False)
    assert shared_folder(tmp_path / "gw0") == tmp_path / "gw0"
    monkeypatch.setenv("PYTEST_XDIST_WORKER", "gw0")
    assert shared_folder(tmp_path / "gw0") == tmp_path
