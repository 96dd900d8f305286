"""Which engine is asked for."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Literal

from pipeline.engines.engine import Engine
from pipeline.engines.here import HERE
from pipeline.engines.wanted import Wanted
from pipeline.errors import SettingsError

__all__ = ["EngineName", "engine_of", "refuse_options_without_cluster"]

EngineName = Literal["local", "dask"]


def refuse_options_without_cluster(name: EngineName, wanted: Wanted, cores_each: int | None) -> None:
    """Refuse what has no effect on the engine that is asked for; ``cores_each`` as it was given, None for nothing.

    Raises
    ------
    SettingsError
        Which option it is.
    """
    given = {
        "--scheduler": wanted.scheduler,
        "--workers": wanted.workers,
        "--cores-each": cores_each,
        "--scratch": wanted.scratch,
    }
    for option, value in given.items():
        if name == "local" and value is not None:
            raise SettingsError(f"{option} is an option of --engine dask: add that, or leave it out.")
    if wanted.scheduler is not None and wanted.workers is not None:
        raise SettingsError(
            "--workers says how many processes start on this machine; a cluster with --scheduler has its own. Leave "
            "one out."
        )


@contextmanager
def engine_of(name: EngineName, wanted: Wanted) -> Iterator[Engine]:
    """Return the engine that is asked for; a cluster that is started for it ends with the block.

    Raises
    ------
    SettingsError
        The extra ``cluster`` is not installed, there is no scheduler at the address, or its workers cannot be used.
    OutputError
        The folder for the pieces cannot be written.
    """
    if name == "local":
        yield HERE
        return
    try:
        from pipeline.engines.connection import cluster_of  # noqa: PLC0415 - an extra, and slow to load
    except ImportError as error:
        raise SettingsError(
            "--engine dask: the package distributed is not installed. Install it with .venv/bin/pip install "
            "'.[cluster]'."
        ) from error
    with cluster_of(wanted) as cluster:
        yield cluster
