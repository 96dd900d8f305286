"""A cluster that is connected to, or started for one run, and the checks that its workers give the same answers."""

import logging
import os
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import Final

import dask
from distributed import Client, LocalCluster

from pipeline.engines.cluster import TRIES, Cluster, connect
from pipeline.engines.pieces import save_piece, scratch_in
from pipeline.engines.wanted import Wanted
from pipeline.engines.worker import Build, build_of, other_build, probe
from pipeline.errors import SettingsError

__all__ = ["cluster_of"]

# how long the first connection may take, and the end of one
_CONNECT_S: Final = 30.0
_CLOSE_S: Final = 5.0
# whose messages are not shown: what they mend by themselves is nothing that a reader has to act on, and what cannot be
# mended is an error of ours
_LOUD: Final = ("distributed", "tornado", "asyncio")
# a worker that does not answer for so long is given up
_SILENT_S: Final = 60


@contextmanager
def cluster_of(wanted: Wanted) -> Iterator[Cluster]:
    """Connect to a cluster, or start one that ends with the block.

    Raises
    ------
    SettingsError
        There is no scheduler at the address, or its workers cannot be used.
    OutputError
        The folder for the pieces cannot be written.
    """
    with scratch_in(wanted.scratch) as folder, _silenced(), _connected(wanted) as client:
        _refuse_unusable_workers(client, folder, wanted)
        cluster = Cluster(client, folder, wanted.cores_each, wanted.scheduler)
        try:
            yield cluster
        finally:
            cluster.close()


@contextmanager
def _silenced() -> Iterator[None]:
    """Show nothing of what the libraries of the cluster log: a lost scheduler has them write tracebacks."""
    known = {name: logging.getLogger(name) for name in (*_LOUD, *logging.root.manager.loggerDict)}
    # loggers below, such as distributed.client, may have a level of their own
    loud = [
        logger
        for name, logger in known.items()
        if name in _LOUD or (name.partition(".")[0] in _LOUD and logger.level != logging.NOTSET)
    ]
    levels = [logger.level for logger in loud]
    for logger in loud:
        logger.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        for logger, level in zip(loud, levels, strict=True):
            logger.setLevel(level)


@contextmanager
def _connected(wanted: Wanted) -> Iterator[Client]:
    if wanted.scheduler is not None:
        try:
            client = connect(wanted.scheduler, _CONNECT_S)
        # of addresses that ask for a certificate or for another library: TypeError and ImportError
        except (OSError, TimeoutError, ValueError, TypeError, ImportError) as error:
            raise SettingsError(
                f"--scheduler {wanted.scheduler}: no scheduler answers there ({error}). Give the address that it "
                "prints when it starts, such as tcp://10.0.0.5:8786."
            ) from error
        try:
            yield client
        finally:
            _close(client)
        return
    settings = {
        "distributed.scheduler.allowed-failures": TRIES - 1,
        "distributed.scheduler.worker-ttl": f"{_SILENT_S} s",
    }
    with dask.config.set(settings), ExitStack() as ending:
        cluster = _local_cluster(wanted.workers)
        ending.callback(_close, cluster)
        client = connect(cluster, _CONNECT_S)
        ending.callback(_close, client)
        yield client


def _close(one: Client | LocalCluster) -> None:
    """End a connection or a cluster; one whose workers were interrupted too may not answer any more."""
    with suppress(Exception):
        one.close(timeout=_CLOSE_S)


def _local_cluster(workers: int | None) -> LocalCluster:
    return LocalCluster(
        n_workers=workers or os.cpu_count() or 1,
        threads_per_worker=1,
        # nobody else on the machine may send work
        security=True,
        host="127.0.0.1",
        dashboard_address=None,
        # else a port that is the same for every run
        scheduler_kwargs={"dashboard_address": "127.0.0.1:0"},
        # of its workers too
        silence_logs=logging.CRITICAL,
    )


def _refuse_unusable_workers(client: Client, folder: Path, wanted: Wanted) -> None:
    """Check that each worker reads the folder for pieces, and works with the same program and libraries as we do."""
    with suppress(TimeoutError):
        client.wait_for_workers(1, timeout=_CONNECT_S)
    save_piece(folder / "probe", folder.name)
    try:
        found: dict[str, Build | None] = client.run(probe, str(folder / "probe"))
    except Exception as error:  # whatever a worker without this program raises
        raise SettingsError(
            f"A worker of the cluster cannot run this program ({error}). Install the same version of Kerfbook for all "
            "workers as on this machine."
        ) from error
    if not found:
        raise SettingsError(
            f"--scheduler {wanted.scheduler}: the scheduler has no workers. Start some: dask worker "
            f"{wanted.scheduler} --nthreads 1."
        )
    ours = build_of()
    for worker, build in sorted(found.items()):
        if build is None:
            raise SettingsError(
                f"The worker {worker} cannot read {folder}. Name a folder that this machine and all workers share "
                "(--scratch)."
            )
        if build != ours:
            raise SettingsError(other_build(worker, build, ours))
