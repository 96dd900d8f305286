"""What may not be read, entered or written is refused; the reason is the last line printed."""

from pathlib import Path

import pytest

from tests.spoiled.town import HEADER, PROGRAMME, ROW, TOWN, check_refusal, command, use_register, write


@pytest.mark.parametrize("end", ["gpkg", "csv", "shp", "geojson"])
def test_a_file_that_may_not_be_read_is_refused(town, end, monkeypatch):
    """The system's own refusal, imitated: these tests may run as the superuser, who is refused nothing."""
    path = town.use("cores", f"locked.{end}", 'crs = "EPSG:32617"')
    write(TOWN["cores"], path)
    _forbid(monkeypatch, path, "open", "read_bytes")
    town.refuses(3, f"locked.{end}", "Permission denied")


def test_a_folder_that_may_not_be_entered_is_refused(town, monkeypatch):
    (town.folder / "locked").mkdir()
    path = town.use("cores", "locked/cores.csv", 'crs = "EPSG:32617"')
    write(TOWN["cores"], path)
    # not even whether the file exists may be asked
    _forbid(monkeypatch, path, "open", "read_bytes", "stat", "exists", "is_file", "is_dir")
    town.refuses(3, "locked/cores.csv", "Permission denied")


def _forbid(monkeypatch, path, *calls):
    """Let these methods of this path fail as the system lets them fail."""

    def forbidden(real):
        def call(self, *arguments, **more):
            if self == path:
                raise PermissionError(13, "Permission denied", str(self))
            return real(self, *arguments, **more)

        return call

    for name in calls:
        monkeypatch.setattr(Path, name, forbidden(getattr(Path, name)))


def test_a_folder_that_may_not_be_written_leaves_nothing_behind(town):
    taken = town.folder / "taken"
    taken.write_text("a file where a folder is wanted", encoding="utf-8")
    use_register(town, HEADER + ROW)
    code, printed = town.audit("--out", str(taken / "out"))
    assert code == 4
    check_refusal(printed)
    assert "--out" in printed
    assert taken.read_text("utf-8") == "a file where a folder is wanted"


def test_the_error_is_the_last_line_of_a_log_too(town):
    """Without `--quiet` the real command logs its stages, then the error."""
    (town.folder / "roads.gpkg").write_bytes((town.folder / "roads.gpkg").read_bytes()[:9000])
    (town.folder / "programme.toml").write_text(PROGRAMME, encoding="utf-8")
    done = command("audit", town.folder / "programme.toml", "--out", town.folder / "out")
    assert done.returncode == 3
    assert done.stderr.strip().splitlines()[-1].startswith("Error: roads.gpkg: the file is cut short")
    assert done.stdout == ""
    assert not (town.folder / "out").exists()
