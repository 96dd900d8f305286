"""A cluster of real processes, some of which end, stop or lose their disk while they work."""

import os
import shutil
import signal
import subprocess
import sys
import warnings
from pathlib import Path

import numpy as np
import psutil
import pytest

from pipeline.engines.asked import engine_of
from pipeline.engines.wanted import Wanted
from pipeline.errors import OutputError, SettingsError
from tests.engines import pieces_of_work
from tests.engines.clusters import each, wait_until

pytestmark = [
    # what the client of a lost scheduler leaves behind
    pytest.mark.filterwarnings("ignore"),
]
_ROOT = Path(__file__).parents[2]


def test_a_cluster_of_this_machine_starts_and_ends_with_the_run(tmp_path):
    with engine_of("dask", Wanted(workers=2, scratch=tmp_path, cores_each=3)) as engine:
        assert [len(cell) for cell in engine.cells(np.arange(8.0), np.zeros(8))] == [2, 2, 2, 2]
        made = each(engine, pieces_of_work.process_and_square, range(9))
        assert [square for _, square in made] == [number**2 for number in range(9)]
        workers = {process for process, _ in made}
        assert os.getpid() not in workers
        assert len(workers) == 2
        # nobody else reads the pieces, and nothing is left of those that are done
        (folder,) = (path for path in tmp_path.iterdir() if path.is_dir())
        assert folder.stat().st_mode & 0o077 == 0
        assert [path.name for path in folder.iterdir()] == ["probe"]
    assert list(tmp_path.iterdir()) == []
    wait_until(lambda: not any(psutil.pid_exists(process) for process in workers))


def test_two_clusters_of_this_machine_run_side_by_side(tmp_path):
    """Neither takes a port that the other wants, which would be a warning."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", UserWarning)
        wanted = Wanted(workers=1, scratch=tmp_path)
        with engine_of("dask", wanted) as first, engine_of("dask", wanted) as second:
            assert _both(first) == _both(second) == [0, 1]


def _both(engine):
    return [square for _, square in each(engine, pieces_of_work.process_and_square, range(2))]


def test_an_error_of_the_work_is_passed_on(tmp_path):
    with engine_of("dask", Wanted(workers=1, scratch=tmp_path)) as engine:
        with pytest.raises(SettingsError, match="piece 3 is wrong"):
            each(engine, pieces_of_work.wrong_at_three, range(9))
        with pytest.raises(ZeroDivisionError):
            each(engine, pieces_of_work.divided, [1, 0])
        # the cluster goes on
        assert each(engine, pieces_of_work.divided, [1, 2]) == [1, 0.5]


def test_a_full_disk_of_a_worker_is_an_error_that_names_the_folder(started, tmp_path):
    if shutil.which("prlimit") is None:
        pytest.skip("prlimit is not installed")
    cluster = started(1, "prlimit", "--fsize=100000")
    with engine_of("dask", Wanted(cluster.address, scratch=tmp_path)) as engine:
        assert each(engine, pieces_of_work.megabytes, [0]) == [b""]
        with pytest.raises(
            OutputError, match=r"A worker of the cluster cannot read or write its piece .*\(--scratch\)"
        ):
            each(engine, pieces_of_work.megabytes, [1])


def test_a_folder_that_vanishes_is_an_error(tmp_path):
    with engine_of("dask", Wanted(workers=1, scratch=tmp_path)) as engine, pytest.raises(OutputError) as error:
        each(engine, pieces_of_work.without_folder, [(number, str(engine._folder)) for number in range(9)])
    assert "no outputs were written" in str(error.value)


def test_an_address_where_nothing_answers_is_an_error(monkeypatch):
    monkeypatch.setattr("pipeline.engines.connection._CONNECT_S", 1)
    with (
        pytest.raises(SettingsError, match=r"--scheduler tcp://127\.0\.0\.1:9: no scheduler answers there"),
        engine_of("dask", Wanted("tcp://127.0.0.1:9")),
    ):
        pass


def test_an_address_that_asks_for_a_certificate_is_an_error_where_there_is_none():
    with (
        pytest.raises(SettingsError, match=r"--scheduler tls://127\.0\.0\.1:9: no scheduler answers there"),
        engine_of("dask", Wanted("tls://127.0.0.1:9")),
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
            each(engine, pieces_of_work.divided, [1, 2])


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
    wait_until((tmp_path / "begun").exists)
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
    wait_until(lambda: not any(child.is_running() for child in children))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["begun", "run.py"]
