"""The command audit, called with several programmes or a folder of them."""

import dataclasses
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner

import pipeline.run
from pipeline.cli.group import commands
from pipeline.errors import InputError, OutputError, SettingsError
from tests.small_town import write_town

_ROOT = Path(__file__).parents[2]


@pytest.fixture
def towns(tmp_path):
    """Three programmes of one town; the second reads a register that is not there."""
    path = write_town(tmp_path)
    text = path.read_text("utf-8")
    path.unlink()
    for name in ("Egg", "Fen", "Gap"):
        (tmp_path / f"{name}.toml").write_text(text.replace("Quay 2026", name), encoding="utf-8")
    second = tmp_path / "Fen.toml"
    second.write_text(second.read_text("utf-8").replace("cores.csv", "gone.csv"), encoding="utf-8")
    return tmp_path


@pytest.fixture
def ends(demo, monkeypatch):
    """Sets how the audit of each programme ends, by the name of its file: an error, or nothing for the demo's result."""
    told = {}

    def run_programme(path, out, *_):
        if error := told.get(path.stem):
            raise error
        return dataclasses.replace(demo, folder=out / path.stem)

    monkeypatch.setattr(pipeline.run, "run_programme", run_programme)
    return told


def _call(*arguments):
    return CliRunner().invoke(commands, ["audit", *map(str, arguments)])


def test_one_that_fails_stops_no_other(towns):
    """The real thing, in a process of its own."""
    out = towns / "out"
    command = [sys.executable, "-m", "pipeline", "audit", str(towns), "--out", str(out)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=_ROOT, check=False)
    assert done.returncode == 3, done.stderr
    for number, name in enumerate(("Egg", "Fen", "Gap"), start=1):
        assert f"Programme {number} of 3: {name}\n" in done.stderr
    assert done.stderr.count("Error: gone.csv: no such file") == 1
    summary = done.stdout[done.stdout.index("2 of 3 programmes audited.") :]
    assert "Failed with exit code 3: Fen: gone.csv: no such file" in summary
    # 7 cores each, counted by hand from the register
    (total,) = [line.split() for line in summary.splitlines() if line.strip().startswith("all ")]
    assert total[1] == "14"
    assert summary.endswith(f"Summary: {out / 'summary.html'}\n")
    table = pd.read_csv(out / "summary.csv").set_index("programme")
    assert table["exit_code"].to_dict() == {"Egg": 0, "Fen": 3, "Gap": 0}
    assert table["cores"].fillna(-1).to_dict() == {"Egg": 7, "Fen": -1, "Gap": 7}
    counted = table.loc[["Egg", "Gap"], ["pending", "reinstated", "flagged"]].sum(axis="columns")
    assert counted.tolist() == [7, 7]
    for name in ("Egg", "Gap"):
        assert (out / table.loc[name, "folder"] / "map.html").is_file()
    # a programme audited alone has the same files
    alone = towns / "alone"
    command = [sys.executable, "-m", "pipeline", "audit", str(towns / "Gap.toml"), "--out", str(alone)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=_ROOT, check=False)
    assert "Programme 1" not in done.stderr
    assert "Summary" not in done.stdout
    assert not (alone / "summary.csv").exists()
    for file in (alone / "gap" / "2026-09-30").rglob("*"):
        if file.is_file() and file.name != "run.json":
            assert file.read_bytes() == (out / file.relative_to(alone)).read_bytes(), file.name


@pytest.mark.parametrize(
    ("first", "last", "code"),
    [
        (None, None, 0),
        (None, SettingsError("wrong"), 2),
        (InputError("not there"), SettingsError("wrong"), 3),
        (OutputError("disk full"), InputError("not there"), 4),
        (ValueError("a fault"), OutputError("disk full"), 70),
    ],
)
def test_the_exit_code_is_the_worst(towns, ends, monkeypatch, first, last, code):
    # a fault is reported in a file of the current folder
    monkeypatch.chdir(towns)
    ends |= {"Egg": first, "Gap": last}
    done = _call(towns, "--out", towns / "out")
    assert done.exit_code == code
    table = pd.read_csv(towns / "out" / "summary.csv")
    assert table["exit_code"].max() == code
    assert done.stderr.count("Programme ") == 3


@pytest.mark.usefixtures("ends")
def test_strict_holds_for_all(towns):
    assert _call(towns, "--out", towns / "out", "--strict").exit_code == 1


def test_a_fault_of_the_program_is_told_with_a_file_and_stops_no_other(towns, ends, monkeypatch):
    monkeypatch.chdir(towns)
    ends["Egg"] = KeyError("depth")
    done = _call(towns, "--out", towns / "out")
    (report,) = towns.glob("kerfbook-fault-*.txt")
    assert "Traceback" in report.read_text("utf-8")
    assert (
        f"{towns / 'Egg.toml'}: was ended by a fault of Kerfbook (KeyError: 'depth'). Report it, and send the file {report}."
        in done.stderr
    )
    assert "2 of 3 programmes audited." in done.stdout


def test_wrong_settings_are_told_before_the_first_run(towns, ends):
    last = towns / "Gap.toml"
    last.write_text(last.read_text("utf-8").replace("as_of", "as_off"), encoding="utf-8")
    done = _call(towns, "--out", towns / "out")
    assert done.exit_code == 2
    assert done.stderr.index("as_off: unknown key") < done.stderr.index("Programme 1 of 3")
    assert "2 of 3 programmes audited." in done.stdout
    assert ends == {}


def test_programmes_of_one_folder_are_refused_before_any_work(towns, ends):
    twin = towns / "Twin.toml"
    twin.write_text((towns / "Egg.toml").read_text("utf-8"), encoding="utf-8")
    ends["Egg"] = AssertionError("ran")
    done = _call(towns, "--out", towns / "out")
    assert isinstance(done.exception, SettingsError)
    assert "both would be written to" in str(done.exception)
    assert not (towns / "out").exists()


@pytest.mark.parametrize("name", ["summary.csv", "summary.html"])
def test_a_file_of_the_users_own_is_not_replaced(towns, ends, name):
    (towns / "out").mkdir()
    own = towns / "out" / name
    own.write_text("my own\n")
    ends["Egg"] = AssertionError("ran")
    done = _call(towns, "--out", towns / "out")
    assert isinstance(done.exception, OutputError)
    assert own.read_text() == "my own\n"


@pytest.mark.usefixtures("ends")
def test_quiet_prints_nothing_and_an_earlier_summary_is_replaced(towns):
    for _ in range(2):
        done = _call(towns, "--out", towns / "out", "--quiet")
        assert (done.exit_code, done.output) == (0, "")
    assert len(pd.read_csv(towns / "out" / "summary.csv")) == 3


@pytest.mark.usefixtures("ends")
def test_each_programme_has_a_junit_file_of_its_own(towns):
    _call(towns, "--out", towns / "out", "--quiet", "--junit", towns / "audit.xml")
    assert sorted(file.name for file in towns.glob("*.xml")) == [
        f"audit-{name}-2026-09-30.xml" for name in ("egg", "fen", "gap")
    ]


_INTERRUPTED = """
import os, signal, sys
from pipeline.cli.progress import _Lines
signal.signal(signal.SIGINT, signal.default_int_handler)
told, publishing, at = _Lines.stage, [], int(sys.argv.pop())
def stage(self, name, *rest):
    told(self, name, *rest)
    publishing.extend([name] if name == "publish" else [])
    if len(publishing) == at:
        os.kill(os.getpid(), signal.SIGINT)
_Lines.stage = stage
from pipeline.cli import main
main()
"""


@pytest.mark.parametrize(
    ("at", "said"),
    [
        ("1", "No outputs were written."),
        (
            "2",
            "Of 3 programmes, 1 had been audited, whose outputs are complete. Nothing was written of the others.",
        ),
    ],
)
def test_the_keyboard_stops_all(towns, at, said):
    second = towns / "Fen.toml"
    second.write_text(second.read_text("utf-8").replace("gone.csv", "cores.csv"), encoding="utf-8")
    command = [sys.executable, "-c", _INTERRUPTED, "audit", str(towns), "--out", str(towns / "out"), at]
    done = subprocess.run(command, capture_output=True, text=True, cwd=_ROOT, check=False)
    assert done.returncode == 130, done.stderr
    assert done.stderr.endswith(f"Interrupted. {said}\n")
    assert [file.parent.parent.name for file in (towns / "out").rglob("run.json")] == ["egg"][: int(at) - 1]
