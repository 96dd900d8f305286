"""A cluster of real processes, some of which end, stop or lose their disk while they work."""

import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import psutil
import pytest

from pipeline.engines.asked import engine_of
from pipeline.engines.wanted import Wanted
from pipeline.errors import OutputError, SettingsError
from tests.engines import pieces_of_work

pytestmark = [
    # what the client of a lost scheduler leaves behind
    pytest.mark.filterwarnings("ignore"),
]
_ROOT = Path(__file__).parents[2]


class _Cluster:
    """A scheduler and workers that were started by hand, as on several machines."""

    def __init__(self, folder, port="0", **settings):
        self.folder, self.processes, self.settings, self.root = folder, [], settings, _ROOT
        self.address = self.start_scheduler(port)

    def _start(self, *words, before=()):
        environment = os.environ | {"PYTHONPATH": str(self.root)} | {
            f"DASK_DISTRIBUTED__{name.upper()}": value for name, value in self.settings.items()
        }  # fmt: skip
        process = subprocess.Popen(
            [*before, sys.executable, "-m", "dask", *words],
            env=environment, cwd=self.folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
        )  # fmt: skip
        self.processes.append(process)
        return process

    def start_scheduler(self, port):
        file = self.folder / f"scheduler-{len(self.processes)}.json"
        words = ["--host", "127.0.0.1", "--no-dashboard", "--no-show", "--port"]
        self.scheduler = self._start("scheduler", *words, port, "--scheduler-file", str(file))
        _wait_until(file.exists)
        _wait_until(lambda: '"address"' in file.read_text())
        return file.read_text().split('"address": "')[1].split('"')[0]

    def start_worker(self, *before):
        words = ["--nthreads", "1", "--no-nanny", "--no-dashboard", "--host", "127.0.0.1"]
        return self._start("worker", self.address, *words, before=before)

    def end(self):
        for process in self.processes:
            with_children = [*psutil.Process(process.pid).children(recursive=True)] if process.poll() is None else []
            for one in [*with_children, process]:
                one.kill()
            process.wait()


def _wait_until(is_so, seconds=60):
    until = time.monotonic() + seconds
    while not is_so():
        assert time.monotonic() < until
        time.sleep(0.05)


@pytest.fixture
def started(tmp_path):
    clusters = []

    def start(workers, *before, **settings):
        clusters.append(_Cluster(tmp_path, **settings))
        for _ in range(workers):
            clusters[-1].start_worker(*before)
        return clusters[-1]

    yield start
    for cluster in clusters:
        cluster.end()


def _each(engine, work, things):
    told = {}
    things = list(things)
    made = engine.each(work, iter(things), [1] * len(things), told.__setitem__)
    assert told == dict.fromkeys(range(len(things)), 1)
    return made


def test_a_cluster_of_this_machine_starts_and_ends_with_the_run(tmp_path):
    with engine_of("dask", Wanted(workers=2, scratch=tmp_path, cores_each=3)) as engine:
        assert [len(cell) for cell in engine.cells(np.arange(8.0), np.zeros(8))] == [2, 2, 2, 2]
        made = _each(engine, pieces_of_work.process_and_square, range(9))
        assert [square for _, square in made] == [number**2 for number in range(9)]
        workers = {process for process, _ in made}
        assert os.getpid() not in workers
        assert len(workers) == 2
        # nobody else reads the pieces, and nothing is left of those that are done
        (folder,) = tmp_path.iterdir()
        assert folder.stat().st_mode & 0o077 == 0
        assert [path.name for path in folder.iterdir()] == ["probe"]
    assert list(tmp_path.iterdir()) == []
    _wait_until(lambda: not any(psutil.pid_exists(process) for process in workers))


def test_an_error_of_the_work_is_passed_on(tmp_path):
    with engine_of("dask", Wanted(workers=1, scratch=tmp_path)) as engine:
        with pytest.raises(SettingsError, match="piece 3 is wrong"):
            _each(engine, pieces_of_work.wrong_at_three, range(9))
        with pytest.raises(ZeroDivisionError):
            _each(engine, pieces_of_work.divided, [1, 0])
        # the cluster goes on
        assert _each(engine, pieces_of_work.divided, [1, 2]) == [1, 0.5]


def test_a_worker_that_is_killed_in_mid_piece_is_made_good(started, tmp_path):
    cluster = started(2)
    with engine_of("dask", Wanted(cluster.address, scratch=tmp_path)) as engine:
        _wait_until(lambda: len(engine._client.scheduler_info()["workers"]) == 2)
        # the worker that first comes to piece 2 kills itself
        made = _each(engine, pieces_of_work.killed_once, [(number, str(tmp_path / "killed")) for number in range(8)])
    assert made == list(range(8))
    assert (tmp_path / "killed").exists()
    assert sum(process.poll() is None for process in cluster.processes[1:]) == 1


def test_a_piece_that_kills_every_worker_ends_the_run_with_one_error(tmp_path):
    with engine_of("dask", Wanted(workers=1, scratch=tmp_path)) as engine, pytest.raises(OutputError) as error:
        _each(engine, pieces_of_work.killed_always, range(2))
    assert str(error.value) == (
        "Several workers ended one after the other while they worked on the same piece, most likely for lack of memory; "
        "no outputs were written. Give each worker more memory, or make the pieces smaller (--cores-each)."
    )


def test_a_scheduler_that_is_restarted_is_found_again(started, tmp_path):
    cluster = started(1)
    port = cluster.address.rpartition(":")[2]

    def restart():
        _wait_until((tmp_path / "begun").exists)
        cluster.scheduler.kill()
        cluster.scheduler.wait()
        cluster.processes[1].kill()
        cluster.start_scheduler(port)
        cluster.start_worker()

    thread = threading.Thread(target=restart)
    thread.start()
    with engine_of("dask", Wanted(cluster.address, scratch=tmp_path)) as engine:
        made = _each(engine, pieces_of_work.slow, [(number, str(tmp_path / "begun")) for number in range(10)])
    thread.join()
    assert made == list(range(10))


def test_a_scheduler_that_does_not_come_back_is_an_error(started, tmp_path, monkeypatch):
    monkeypatch.setattr("pipeline.engines.cluster._PATIENCE_S", 3)
    cluster = started(1)
    with engine_of("dask", Wanted(cluster.address, scratch=tmp_path)) as engine:
        cluster.scheduler.kill()
        with pytest.raises(
            OutputError, match=r"The connection to the scheduler tcp://.* was lost, and not found again"
        ):
            _each(engine, pieces_of_work.process_and_square, range(4))


def test_a_worker_that_stops_answering_is_given_up(started, tmp_path):
    cluster = started(2, scheduler__worker_ttl="2s")
    with engine_of("dask", Wanted(cluster.address, scratch=tmp_path)) as engine:
        _wait_until(lambda: len(engine._client.scheduler_info()["workers"]) == 2)
        made = _each(engine, pieces_of_work.stopped_once, [(number, str(tmp_path / "stopped")) for number in range(8)])
    assert made == list(range(8))


def test_a_full_disk_of_a_worker_is_an_error_that_names_the_folder(started, tmp_path):
    if shutil.which("prlimit") is None:
        pytest.skip("prlimit is not installed")
    cluster = started(1, "prlimit", "--fsize=100000")
    with engine_of("dask", Wanted(cluster.address, scratch=tmp_path)) as engine:
        assert _each(engine, pieces_of_work.megabytes, [0]) == [b""]
        with pytest.raises(
            OutputError, match=r"A worker of the cluster cannot read or write its piece .*\(--scratch\)"
        ):
            _each(engine, pieces_of_work.megabytes, [1])


def test_a_folder_that_vanishes_is_an_error(tmp_path):
    with engine_of("dask", Wanted(workers=1, scratch=tmp_path)) as engine, pytest.raises(OutputError) as error:
        _each(engine, pieces_of_work.without_folder, [(number, str(engine._folder)) for number in range(9)])
    assert "no outputs were written" in str(error.value)


def test_an_address_where_nothing_answers_is_an_error(monkeypatch):
    monkeypatch.setattr("pipeline.engines.connection._CONNECT_S", 1)
    with (
        pytest.raises(SettingsError, match=r"--scheduler tcp://127\.0\.0\.1:9: no scheduler answers there"),
        engine_of("dask", Wanted("tcp://127.0.0.1:9")),
    ):
        pass


def test_a_scheduler_without_workers_is_an_error(started, tmp_path, monkeypatch):
    monkeypatch.setattr("pipeline.engines.connection._CONNECT_S", 2)
    cluster = started(0)
    with (
        pytest.raises(SettingsError, match=r"the scheduler has no workers\. Start some: dask worker tcp://"),
        engine_of("dask", Wanted(cluster.address, scratch=tmp_path)),
    ):
        pass


def test_workers_with_other_versions_are_refused(started, tmp_path, monkeypatch):
    ours = {"numpy": "0.1", "kerfbook": "0.1.0"}
    monkeypatch.setattr("pipeline.engines.connection.build_of", lambda: ours)
    cluster = started(1)
    expected = r"would not give the same answers as this machine: it has .*numpy 2\.\S+ \(here 0\.1\)"
    with pytest.raises(SettingsError, match=expected), engine_of("dask", Wanted(cluster.address, scratch=tmp_path)):
        pass


def test_a_worker_that_joins_later_with_other_versions_does_nothing(tmp_path):
    with engine_of("dask", Wanted(workers=1, scratch=tmp_path)) as engine:
        engine._build = {**engine._build, "numpy": "0.1"}
        with pytest.raises(
            SettingsError, match=r"it has numpy 2\.\S+ \(here 0\.1\)\. Install the same versions on both"
        ):
            _each(engine, pieces_of_work.divided, [1, 2])


def test_a_worker_without_the_program_is_refused(started, tmp_path):
    cluster = started(0)
    cluster.root = tmp_path / "elsewhere"
    (cluster.root / "pipeline").mkdir(parents=True)
    (cluster.root / "pipeline" / "__init__.py").touch()
    cluster.start_worker()
    with pytest.raises(SettingsError) as error, engine_of("dask", Wanted(cluster.address, scratch=tmp_path)):
        pass
    assert "A worker of the cluster cannot run this program" in str(error.value)
    assert str(error.value).endswith("Install the same version of Kerfbook for all workers as on this machine.")


def test_a_worker_that_cannot_read_the_folder_is_refused(started, tmp_path):
    if os.getuid() or shutil.which("setpriv") is None:
        pytest.skip("another user is needed")
    tmp_path.chmod(0o777)
    cluster = started(1, "setpriv", "--reuid=65534", "--clear-groups")
    with (
        pytest.raises(SettingsError, match=r"cannot read .*\(--scratch\)"),
        engine_of("dask", Wanted(cluster.address, scratch=tmp_path)),
    ):
        pass


def test_ctrl_c_leaves_no_process_and_no_folder(tmp_path):
    script = (
        "from pathlib import Path\n"
        "from pipeline.engines.asked import engine_of\n"
        "from pipeline.engines.wanted import Wanted\n"
        "from tests.engines import pieces_of_work\n"
        "if __name__ == '__main__':\n"
        f"    with engine_of('dask', Wanted(workers=2, scratch=Path({str(tmp_path)!r}))) as engine:\n"
        f"        things = [(number, {str(tmp_path / 'begun')!r}) for number in range(500)]\n"
        "        engine.each(pieces_of_work.slow, things, [1] * 500, lambda *_: None)\n"
    )
    path = tmp_path / "run.py"
    path.write_text(script)
    environment = os.environ | {"PYTHONPATH": str(_ROOT)}
    process = subprocess.Popen(
        [sys.executable, str(path)], env=environment, start_new_session=True, stderr=subprocess.PIPE
    )
    _wait_until((tmp_path / "begun").exists)
    children = psutil.Process(process.pid).children(recursive=True)
    # as a terminal does it: to all processes of the group
    os.killpg(process.pid, signal.SIGINT)
    try:
        _, said = process.communicate(timeout=60)
    finally:
        process.kill()
        process.wait()
    assert process.returncode != 0
    assert b"KeyboardInterrupt" in said
    _wait_until(lambda: not any(child.is_running() for child in children))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["begun", "run.py"]
