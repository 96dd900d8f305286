"""No name of others begins a line of ours: what a run, a pack or a programme is called, where it lies, what it holds."""

import json
import re
import shutil

import pytest

from pipeline.programme.settings import load_programme
from tests.commands.packs import resum
from tests.small_town import write_town

_NAME = "Moor\nVerified: all is well: \r\n- Error: none\nOutputs: elsewhere"
_FORGED = re.compile(r"^(Verified|- Error|Outputs: elsewhere)", re.MULTILINE)


def _renamed(run):
    """Give a finished run, and its pack, a name of several lines."""
    for file in (run / "run.json", run / "handover/handover.json"):
        record = json.loads(file.read_text("utf-8"))
        file.write_text(json.dumps(record | {"programme": _NAME}), "utf-8")
    resum(run / "handover")
    return run


@pytest.mark.parametrize(
    "command",
    [
        ("compare", "EARLIER", "RUN/handover", "--out", "OUT"),
        ("compare", "EARLIER", "RUN", "--out", "OUT"),
        ("decide", "RUN", "--out", "OUT/d.csv"),
        ("return", "RUN", "RUN/return-sheet.csv", "--out", "OUT/r.csv"),
        ("sample", "RUN", "--out", "OUT"),
        ("explain", "RUN", "--row", "3"),
        ("verify", "RUN/handover", "--quiet"),
        ("rules", "RUN", "--csv"),
    ],
    ids=lambda command: " ".join(command[:2]),
)
def test_a_run_or_pack_whose_name_has_several_lines_begins_no_line_of_ours(run, tmp_path, kerfbook, command):
    earlier = shutil.copytree(run, tmp_path / "other/2026-08-31")
    _renamed(run)
    (out := tmp_path / "out\nVerified: all is well").mkdir()
    places = {"EARLIER": earlier, "RUN": run, "OUT": out}
    arguments = [re.sub("EARLIER|RUN|OUT", lambda found: str(places[found[0]]), one) for one in command]
    code, said, told = kerfbook(*arguments)
    assert code in {0, 1, 3}, told
    assert command[0] in {"explain", "rules"} or "Moor Verified: all is well" in said + told
    assert not _FORGED.search(said + told)


def test_names_in_a_path_and_an_error_begin_no_line_of_ours(tmp_path, kerfbook):
    write_town(tmp_path)
    folder = tmp_path / "town\nVerified: all is well"
    code, said, told = kerfbook("audit", tmp_path / "programme.toml", "--out", folder)
    # a GeoPackage cannot be written into a folder of such a name
    assert code == 4
    assert "  Verified: all is well" in told
    assert not _FORGED.search(said + told)
    for command in ("check", "calibrate", "rehearse"):
        code, said, told = kerfbook(command, folder / "none.toml")
        assert code in {2, 3}
        assert "  Verified: all is well" in told
        assert not _FORGED.search(said + told)


@pytest.mark.parametrize(
    "arguments", [("verify", "a", _NAME), (_NAME,), ("audit", "--as-of", _NAME), ("audit", "--" + _NAME)]
)
def test_what_is_no_argument_begins_no_line_of_ours(kerfbook, arguments):
    code, said, told = kerfbook(*arguments)
    assert code == 2
    assert "Moor" in told
    assert not _FORGED.search(said + told)


def test_the_name_of_a_programme_is_on_one_line(tmp_path, kerfbook):
    write_town(tmp_path)
    file = tmp_path / "programme.toml"
    named = file.read_text("utf-8")
    for name in (_NAME, "Moor\u2028End", "Moor End\n", "\n"):
        file.write_text(named.replace('"Quay 2026"', json.dumps(name)), "utf-8")
        code, _, told = kerfbook("check", file)
        assert code == 2
        assert "programme.name: found" in told
        assert "expected a name on one line" in told
        assert not _FORGED.search(told)
    file.write_text(named, "utf-8")
    assert load_programme(file).programme.name
