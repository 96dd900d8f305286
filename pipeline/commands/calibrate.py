"""The calibration on one page: the stages that it shares with the audit, and its outputs."""

import datetime as dt
from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from pipeline.calibrate import Calibration, Rounded, needs_before_and_after
from pipeline.clock import Clock, Progress
from pipeline.programme.settings import Settings
from pipeline.publish.calibration.records import catalogue_snippet, publish_calibration
from pipeline.run import prepare

__all__ = ["CalibrationResult", "calibrate_programme"]

_STAGES = ("intake", "locate", "specify", "calibrate", "publish")


@dataclass(frozen=True)
class CalibrationResult:
    """The calibration of a programme.

    ``needs``: bags by depth, with the stated and with the calibrated values. ``snippet``: the calibrated values as text
    for the programme file, empty if the records are not sufficient. ``folder``: where the files are, None if none were
    written.
    """

    settings: Settings
    as_of: dt.date
    calibration: Calibration
    needs: pd.DataFrame
    snippet: str
    folder: Path | None = None


def calibrate_programme(
    path: Path | str, out: Path | str | None = None, progress: Progress | None = None, rounded: Rounded | None = None
) -> CalibrationResult:
    """Calibrate the volume model from the records of use of one programme.

    Parameters
    ----------
    path
        The programme file.
    out
        Folder for ``calibration.csv`` and ``calibration.svg``; None writes nothing.
    progress
        Receives progress updates.
    rounded
        How all crews round bags, as in ``pipeline.calibrate.calibrate``.

    Raises
    ------
    SettingsError
        The programme file is wrong.
    InputError
        An input cannot be used.
    OutputError
        ``out`` cannot be written.
    """
    clock = Clock(progress, _STAGES)
    ready = prepare(Path(path), clock, rounded=rounded)
    found = ready.calibration
    snippet = catalogue_snippet(found, ready.day) if found.enough else ""
    result = CalibrationResult(ready.settings, ready.day, found, needs_before_and_after(found), snippet)
    if out is None:
        return result
    with clock.stage("publish"):
        folder = publish_calibration(found, ready.cores, Path(out))
    return replace(result, folder=folder)
