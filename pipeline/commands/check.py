"""The inputs of a programme read and validated, with nothing written."""

from pathlib import Path

from pipeline.clock import Clock, Progress
from pipeline.intake import Inputs
from pipeline.run import read_programme

__all__ = ["check_inputs"]


def check_inputs(path: Path, progress: Progress | None = None) -> Inputs:
    """Return the inputs of a programme as they were understood.

    Parameters
    ----------
    path
        The programme file.
    progress
        Receives progress updates.

    Raises
    ------
    SettingsError
        The programme file is wrong.
    InputError
        An input cannot be used.
    """
    clock = Clock(progress, ("intake",))
    with clock.stage("intake"):
        _, _, _, inputs = read_programme(path, clock.progress)
    return inputs
