"""A scheduler and workers that are started by hand, and what the tests of them share."""

import os
import subprocess
import sys
import time
from pathlib import Path

import psutil

_ROOT = Path(__file__).parents[2]


class StartedCluster:
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
        wait_until(file.exists)
        wait_until(lambda: '"address"' in file.read_text())
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


def wait_until(is_so, seconds=60):
    until = time.monotonic() + seconds
    while not is_so():
        assert time.monotonic() < until
        time.sleep(0.05)


def each(engine, work, things):
    told = {}
    things = list(things)
    made = engine.each(work, iter(things), [1] * len(things), told.__setitem__)
    assert told == dict.fromkeys(range(len(things)), 1)
    return made
