"""Kerfbook audits every pavement core of a utility's programme and maps the result."""

from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pipeline.run import RunResult

__all__ = ["__version__", "run_programme"]

try:
    __version__ = version("kerfbook")
except PackageNotFoundError:  # a checkout that was never installed
    __version__ = "0+unknown"


def run_programme(*args: Any, **kwargs: Any) -> "RunResult":  # noqa: ANN401 - one signature, kept in run.py
    """Audit one programme and return its frames; see :func:`pipeline.run.run_programme`."""
    from pipeline.run import run_programme as run

    return run(*args, **kwargs)
