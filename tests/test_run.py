"""The nine stages in order, and what a failure leaves behind; their contracts have a file of their own."""

import datetime as dt
import itertools
import subprocess
import sys
import time
from types import SimpleNamespace

import pytest

import pipeline
from pipeline import run as run_module
from pipeline.clock import Clock
from pipeline.errors import InputError, KerfbookError, SettingsError
from pipeline.readback.kept_runs import NO_EARLIER
from pipeline.run import STAGES, prepare, read_programme, run_programme
from tests.spoiled.town import COUNT, PROGRAMME, TOWN

_ORDER = ("intake", "locate", "specify", "calibrate", "quantify", "audit", "plan", "order", "publish")


class _Log:
    """Receives progress updates and keeps them."""

    def __init__(self):
        self.stages, self.details = [], []

    def stage(self, name, number, count):
        self.stages.append((name, number, count))

    def detail(self, text, *_counted):
        self.details.append(text)


@pytest.fixture(scope="module")
def layers(tmp_path_factory):
    folder = tmp_path_factory.mktemp("town")
    for name, layer in TOWN.items():
        layer.to_file(folder / f"{name}.gpkg")
    (folder / "programme.toml").write_text(PROGRAMME, encoding="utf-8")
    return folder


@pytest.fixture
def programme(layers):
    """A sound programme of 300 cores on one street; no test changes its files."""
    return layers / "programme.toml"


@pytest.fixture(scope="module")
def audited(layers):
    """One run of it with its outputs and what it reported on the way."""
    log = _Log()
    return run_programme(str(layers / "programme.toml"), str(layers / "out"), progress=log), log


@pytest.fixture(scope="module")
def unwritten(layers, tmp_path_factory):
    """One run of it that writes nothing, of a register said to be shifted: what it reported, and where it was started."""
    folder, log = tmp_path_factory.mktemp("elsewhere"), _Log()
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setattr(run_module, "position_notices", lambda *_, is_only: [f"shifted {is_only}"])
        return run_programme(layers / "programme.toml", None, progress=log), log, folder


def test_the_nine_stages_run_in_the_order_in_which_they_are_listed(audited):
    result, log = audited
    assert STAGES == _ORDER
    assert log.stages == [(name, number, 9) for number, name in enumerate(_ORDER, start=1)]
    assert any(log.details)
    assert [cost.stage for cost in result.costs] == list(_ORDER)
    assert all(cost.seconds >= 0 for cost in result.costs)
    assert result.table["status"].tolist() == ["pending"] * COUNT


def test_the_folder_is_named_by_the_programme_and_its_day(audited, layers):
    assert audited[0].folder == layers / "out" / "town" / "2026-09-30"
    assert audited[0].as_of == dt.date(2026, 9, 30)


def test_a_run_without_a_folder_writes_nothing_and_gives_the_same_answers(audited, unwritten):
    result, log, folder = unwritten
    assert result.folder is None
    assert [name for name, *_ in log.stages] == list(_ORDER[:8])
    assert list(folder.iterdir()) == []
    # nor does it look for runs before it
    assert result.earlier == NO_EARLIER
    assert result.table.equals(audited[0].table)
    assert result.orders.lines.equals(audited[0].orders.lines)


def test_a_shift_of_a_register_is_the_first_notice(unwritten):
    """The terminal prints ten notices, and the sentence on a shift is among them however many there are."""
    assert unwritten[0].inputs.notices[0] == "shifted True"


def test_another_day_may_be_given(programme):
    assert prepare(programme, Clock(None, STAGES), as_of=dt.date(2027, 1, 1)).day == dt.date(2027, 1, 1)


def test_a_programme_without_a_day_is_audited_today_in_its_own_time_zone(layers):
    path = layers / "today.toml"
    text = PROGRAMME.replace("as_of = 2026-09-30", 'timezone = "Pacific/Kiritimati"')
    path.write_text(text, encoding="utf-8")
    # 14 hours ahead of UTC; asked before and after, should midnight pass in between
    before = (dt.datetime.now(dt.UTC) + dt.timedelta(hours=14)).date()
    day = prepare(path, Clock(None, STAGES)).day
    assert day in {before, (dt.datetime.now(dt.UTC) + dt.timedelta(hours=14)).date()}


def test_a_clock_that_jumps_changes_neither_the_day_of_a_run_nor_an_answer(layers, tmp_path, monkeypatch):
    path = layers / "jumping.toml"
    path.write_text(PROGRAMME.replace("as_of = 2026-09-30", "") + "[publish]\noutputs = []\n", encoding="utf-8")
    told = run_programme(path, tmp_path / "told", as_of=dt.date(2026, 10, 5)).folder
    # each look at the clock is 400 days after the one before, or a year earlier
    jumps, back, began = itertools.count(), itertools.count(), time.time()
    looks = SimpleNamespace(
        now=lambda zone: dt.datetime(2026, 10, 5, 12, tzinfo=zone) + dt.timedelta(400 * next(jumps))
    )
    monkeypatch.setattr(run_module, "dt", SimpleNamespace(datetime=looks, date=dt.date))
    monkeypatch.setattr(time, "time", lambda: began - 31_557_600 * next(back))
    found = run_programme(path, tmp_path / "jumped").folder
    assert found.name == told.name == "2026-10-05"
    files = sorted(file.name for file in told.iterdir())
    assert sorted(file.name for file in found.iterdir()) == files
    assert all((found / name).read_bytes() == (told / name).read_bytes() for name in files if name != "run.json")


def test_a_stage_that_fails_stops_the_run_and_leaves_nothing(programme, tmp_path, monkeypatch):
    def fail(*_given, **_more):
        raise InputError("audit: made to fail")

    monkeypatch.setattr(run_module, "audit", fail)
    log = _Log()
    with pytest.raises(InputError, match="made to fail"):
        run_programme(programme, tmp_path / "out", progress=log)
    assert [name for name, *_ in log.stages] == list(_ORDER[:6])
    assert not (tmp_path / "out").exists()


def test_an_unknown_language_is_refused_before_anything_is_read(layers):
    path = layers / "language.toml"
    text = PROGRAMME.replace('name = "Town"', 'name = "Town"\nlanguage = "xx"').replace("cores.gpkg", "nowhere.gpkg")
    path.write_text(text, encoding="utf-8")
    log = _Log()
    with pytest.raises(SettingsError, match="xx"):
        read_programme(path, log)
    assert log.details == []


def test_every_error_of_a_run_is_one_of_ours(tmp_path):
    with pytest.raises(KerfbookError, match=r"programme\.toml"):
        run_programme(tmp_path / "programme.toml", None)


def test_the_package_passes_the_same_call_on(monkeypatch):
    monkeypatch.setattr(run_module, "run_programme", lambda *given, **more: (given, more))
    assert pipeline.run_programme("programme.toml", None, pdf="A4") == (("programme.toml", None), {"pdf": "A4"})


def test_importing_the_package_imports_nothing_heavy():
    command = [sys.executable, "-c", "import pipeline, sys; print({'pandas', 'geopandas'} & set(sys.modules))"]
    assert subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip() == "set()"
