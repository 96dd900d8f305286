"""Fixtures that many tests share."""

import datetime as dt
import os
import signal
import threading
from pathlib import Path

import pytest
from hypothesis import settings

from pipeline.run import run_programme
from tests import postgres
from tests.later_demo import audit_later
from tests.shared_runs import changed_since, made_once, shared_folder
from tests.small_town import write_town

_DATA = Path(__file__).parents[1] / "sample_data"
# folders of tests, the longest first; "" is this one
_LONGEST = ("browser", "", "reference", "commands", "publish", "spoiled", "sample_data")

# on a busy machine an example may take any time, and that breaks no law
settings.register_profile("any machine", deadline=None)
settings.load_profile("any machine")


def pytest_configure():
    """Take stops as a terminal gives them, also where the tests were started in the background of a script or by nohup.

    Such a shell has them ignored, and what the tests start would ignore them too.
    """
    if threading.current_thread() is threading.main_thread():
        for stop, handler in ((signal.SIGINT, signal.default_int_handler), (signal.SIGHUP, signal.SIG_DFL)):
            if signal.getsignal(stop) is signal.SIG_IGN:
                signal.signal(stop, handler)


def pytest_collection_modifyitems(items):
    """Put the files first whose tests take longest, so that no worker begins one when the others have nothing left.

    Those that open pages come first, then those with whole runs; files of many short tests fill up the end.
    """
    items.sort(key=_place)


def _place(item):
    *folders, _ = item.path.relative_to(Path(__file__).parent).parts
    folder = folders[0] if folders else ""
    return _LONGEST.index(folder) if folder in _LONGEST else len(_LONGEST)


@pytest.fixture(autouse=True)
def _wide_terminal(monkeypatch):
    """Let what a command prints be equally wide in every terminal and process."""
    monkeypatch.setenv("COLUMNS", "100")


@pytest.fixture(scope="session")
def shared(tmp_path_factory):
    """The folder of what is made once per session; no test may have changed any of it at the end."""
    folder = shared_folder(tmp_path_factory.getbasetemp())
    yield folder
    assert changed_since(folder) == []


@pytest.fixture(scope="session")
def demo(shared):
    """The demo town's run of 30 September, the first that is kept; no test changes the result or its folder."""
    return made_once(shared, "demo", lambda folder: run_programme(_DATA / "programme.toml", folder))


@pytest.fixture(scope="session")
def demo_months(shared):
    """Two runs of the demo kept in one folder, 30 days apart, the register the same: to be read, not changed."""

    def make(folder):
        first = run_programme(_DATA / "programme.toml", folder, dt.date(2026, 8, 31))
        return first, run_programme(_DATA / "programme.toml", folder)

    return made_once(shared, "demo-months", make)


@pytest.fixture(scope="session")
def later_demo(demo, shared):
    """The demo after five days of work: folder of the run before, run after, and core ids by what was done to them."""
    return made_once(shared, "later-demo", lambda folder: audit_later(demo, folder))


@pytest.fixture(scope="session")
def small_town(shared):
    """The small town's programme file and its run, kept in the folder ``out`` beside it: to be read, not changed."""

    def make(folder):
        programme = write_town(folder)
        return programme, run_programme(programme, folder / "out")

    return made_once(shared, "small-town", make)


@pytest.fixture(scope="session")
def run_folder(small_town):
    """The folder of a run of the small town, with its pack: to be read, not changed."""
    return small_town[1].folder


@pytest.fixture(scope="session")
def postgres_server():
    """A real PostgreSQL with PostGIS, one per worker that has tests of it: it starts in about two seconds."""
    if postgres.binaries() is None:
        pytest.skip("PostgreSQL with PostGIS is not installed")
    with postgres.running() as server:
        yield server


@pytest.fixture
def postgis(postgres_server, monkeypatch, tmp_path_factory):
    """A fresh database with PostGIS; libpq finds user and password in the environment, and nothing else of this machine."""
    home = tmp_path_factory.mktemp("home")
    for name in [name for name in os.environ if name.startswith("PG")]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("PGPASSFILE", str(home / "pgpass"))
    monkeypatch.setenv("PGSERVICEFILE", str(home / "pg_service.conf"))
    with postgres_server.fresh() as made:
        for name, value in made.environment.items():
            monkeypatch.setenv(name, value)
        yield made


@pytest.fixture
def database(postgis):
    """The same by another name, where no other database is meant."""
    return postgis
