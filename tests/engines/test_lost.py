"""A cluster that loses workers or its scheduler while they work, and finds others, or does not."""

import logging
import subprocess
import sys
import threading
import time
from pathlib import Path

import distributed  # noqa: F401 - it gives its loggers levels when it is imported
import pytest

from pipeline.engines.asked import engine_of
from pipeline.engines.wanted import Wanted
from pipeline.errors import OutputError
from tests.engines import pieces_of_work
from tests.engines.clusters import each, wait_until

pytestmark = [
    # what the client of a lost scheduler leaves behind
    pytest.mark.filterwarnings("ignore"),
]
_ROOT = Path(__file__).parents[2]


def test_a_worker_that_is_killed_in_mid_piece_is_made_good(started, tmp_path):
    cluster = started(2)
    with engine_of("dask", Wanted(cluster.address, scratch=tmp_path)) as engine:
        wait_until(lambda: len(engine._client.scheduler_info()["workers"]) == 2)
        # the worker that first comes to piece 2 kills itself
        made = each(engine, pieces_of_work.killed_once, [(number, str(tmp_path / "killed")) for number in range(8)])
    assert made == list(range(8))
    assert (tmp_path / "killed").exists()
    assert sum(process.poll() is None for process in cluster.processes[1:]) == 1


def test_a_piece_that_kills_every_worker_ends_the_run_with_one_error(tmp_path):
    with engine_of("dask", Wanted(workers=1, scratch=tmp_path)) as engine, pytest.raises(OutputError) as error:
        each(engine, pieces_of_work.killed_always, range(2))
    assert str(error.value) == (
        "Several workers ended one after the other while they worked on the same piece, most likely for lack of memory; "
        "no outputs were written. Give each worker more memory, or make the pieces smaller (--cores-each)."
    )


def test_a_scheduler_that_is_restarted_is_found_again(started, tmp_path):
    cluster = started(1)
    port = cluster.address.rpartition(":")[2]

    def restart():
        wait_until((tmp_path / "begun").exists)
        cluster.scheduler.kill()
        cluster.scheduler.wait()
        cluster.processes[1].kill()
        cluster.start_scheduler(port)
        cluster.start_worker()

    thread = threading.Thread(target=restart)
    thread.start()
    with engine_of("dask", Wanted(cluster.address, scratch=tmp_path)) as engine:
        made = each(engine, pieces_of_work.slow, [(number, str(tmp_path / "begun")) for number in range(10)])
    thread.join()
    assert made == list(range(10))


_RESTARTED = """
import sys
from pathlib import Path
from pipeline.engines.asked import engine_of
from pipeline.engines.wanted import Wanted
from tests.engines import pieces_of_work
address, scratch = sys.argv[1], Path(sys.argv[2])
with engine_of("dask", Wanted(address, scratch=scratch)) as engine:
    things = [(number, str(scratch / "begun")) for number in range(10)]
    print(engine.each(pieces_of_work.slow, things, [1] * 10, lambda *_: None))
"""


def test_a_restart_of_the_scheduler_puts_nothing_on_the_screen(started, tmp_path):
    cluster = started(1)
    run = subprocess.Popen(
        [sys.executable, "-c", _RESTARTED, cluster.address, str(tmp_path)],
        cwd=_ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    cluster.processes.append(run)
    wait_until((tmp_path / "begun").exists)
    cluster.scheduler.kill()
    cluster.scheduler.wait()
    cluster.processes[1].kill()
    # long enough for a try to connect that fails
    time.sleep(2)
    cluster.start_scheduler(cluster.address.rpartition(":")[2])
    cluster.start_worker()
    assert run.communicate(timeout=60) == (f"{list(range(10))}\n", "")


def test_the_loggers_of_the_cluster_are_left_as_they_were(tmp_path):
    names = ("distributed", "distributed.client", "tornado", "asyncio")
    before = [logging.getLogger(name).level for name in names]
    with engine_of("dask", Wanted(workers=1, scratch=tmp_path)):
        assert not any(logging.getLogger(name).isEnabledFor(logging.CRITICAL) for name in names)
    assert [logging.getLogger(name).level for name in names] == before


def test_a_cluster_that_has_lost_all_its_workers_is_an_error(started, tmp_path, monkeypatch):
    monkeypatch.setattr("pipeline.engines.cluster._PATIENCE_S", 2)
    cluster = started(1)
    with engine_of("dask", Wanted(cluster.address, scratch=tmp_path)) as engine:
        things = [(number, str(tmp_path / "killed")) for number in range(4)]
        with pytest.raises(OutputError) as error:
            each(engine, pieces_of_work.killed_once, things)
    assert str(error.value) == (
        f"The cluster at {cluster.address} has had no worker for 2 seconds; no outputs were written. Start workers "
        f"(dask worker {cluster.address} --nthreads 1), and run the audit again."
    )


def test_workers_that_come_back_in_time_go_on_with_the_pieces(started, tmp_path, monkeypatch):
    monkeypatch.setattr("pipeline.engines.cluster._PATIENCE_S", 20)
    cluster = started(1)

    def replace():
        wait_until((tmp_path / "killed").exists)
        cluster.processes[1].wait()
        cluster.start_worker()

    thread = threading.Thread(target=replace)
    thread.start()
    with engine_of("dask", Wanted(cluster.address, scratch=tmp_path)) as engine:
        made = each(engine, pieces_of_work.killed_once, [(number, str(tmp_path / "killed")) for number in range(4)])
    thread.join()
    assert made == list(range(4))


def test_every_worker_of_a_large_cluster_has_pieces_waiting(tmp_path):
    with engine_of("dask", Wanted(workers=7, scratch=tmp_path)) as engine:
        assert engine._most_at_once() == 14


def test_a_scheduler_that_does_not_come_back_is_an_error(started, tmp_path, monkeypatch):
    monkeypatch.setattr("pipeline.engines.cluster._PATIENCE_S", 3)
    cluster = started(1)
    with engine_of("dask", Wanted(cluster.address, scratch=tmp_path)) as engine:
        cluster.scheduler.kill()
        with pytest.raises(
            OutputError, match=r"The connection to the scheduler tcp://.* was lost, and not found again"
        ):
            each(engine, pieces_of_work.process_and_square, range(4))


def test_a_worker_that_stops_answering_is_given_up(started, tmp_path):
    cluster = started(2, scheduler__worker_ttl="2s")
    with engine_of("dask", Wanted(cluster.address, scratch=tmp_path)) as engine:
        wait_until(lambda: len(engine._client.scheduler_info()["workers"]) == 2)
        made = each(engine, pieces_of_work.stopped_once, [(number, str(tmp_path / "stopped")) for number in range(8)])
    assert made == list(range(8))
