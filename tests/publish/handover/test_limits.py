"""A pack that is larger than its check takes is named with what is too large."""

import json

import pytest

from pipeline.cli.summary import summary
from pipeline.commands.verify import verify
from pipeline.errors import InputError
from pipeline.publish.handover import limits
from pipeline.publish.handover.limits import limits_exceeded
from pipeline.readback import pack_files
from pipeline.run import run_programme
from tests.small_town import write_town


def _at_most(monkeypatch, name, size):
    monkeypatch.setitem(pack_files.PACK_FILES, name, pack_files.PACK_FILES[name]._replace(most_bytes=size))


def test_a_pack_that_can_be_checked_and_none_have_no_notice(run_folder, tmp_path):
    assert limits_exceeded(run_folder / "handover") == []
    assert limits_exceeded(tmp_path / "nowhere") == []


@pytest.mark.parametrize("name", ["cores.csv", "cores.gpkg", "map.html"])
def test_a_file_one_byte_too_large_is_named_and_refused_by_the_check(run_folder, monkeypatch, name):
    size = (run_folder / "handover" / name).stat().st_size
    _at_most(monkeypatch, name, size)
    assert limits_exceeded(run_folder / "handover") == []
    _at_most(monkeypatch, name, size - 1)
    (notice,) = limits_exceeded(run_folder / "handover")
    assert f"so that nobody can check it: {name} has {size:,} bytes, at most {size - 1:,}. Hand over fewer" in notice
    with pytest.raises(InputError, match=rf"{name}: larger than"):
        verify(run_folder / "handover")


def test_geopackages_of_districts_count_together_and_files_are_counted(tmp_path, monkeypatch):
    for name in ("cores-east.gpkg", "cores-west.gpkg"):
        (tmp_path / name).write_bytes(b"x" * 60)
    _at_most(monkeypatch, "cores.gpkg", 100)
    assert "it has GeoPackages of districts of 120 bytes together, at most 100." in limits_exceeded(tmp_path)[0]
    monkeypatch.setattr(limits, "MOST_FILES", 1)
    assert "; it has 2 files, at most 1." in limits_exceeded(tmp_path)[0]


def test_an_audit_says_so_in_its_record_and_on_the_terminal(tmp_path, monkeypatch, capsys):
    _at_most(monkeypatch, "cores.csv", 100)
    run = run_programme(write_town(tmp_path, '[publish]\noutputs = ["handover"]\n'), tmp_path / "out")
    (notice,) = limits_exceeded(run.folder / "handover")
    assert json.loads((run.folder / "run.json").read_text("utf-8"))["notices"] == [notice, *run.inputs.notices]
    summary(run)
    assert f"Note: {notice}" in " ".join(capsys.readouterr().out.split())
