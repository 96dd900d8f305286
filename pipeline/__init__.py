"""Kerfbook audits the pavement cores of a utility's programme and maps the result."""

from typing import TYPE_CHECKING, Any

from pipeline.version import __version__

if TYPE_CHECKING:
    from pipeline.results import RunResult

__all__ = ["__version__", "run_programme"]


def run_programme(*args: Any, **kwargs: Any) -> "RunResult":  # noqa: ANN401 - one signature, kept in run.py
    """Audit one programme and return its frames; see :func:`pipeline.run.run_programme`."""
    from pipeline.run import run_programme as run

    return run(*args, **kwargs)
