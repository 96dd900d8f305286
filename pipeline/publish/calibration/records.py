"""The outputs of a calibration: the records used, their chart, and the values for the programme file."""

import datetime as dt
from math import ceil, floor
from pathlib import Path
from typing import Final

import pandas as pd

from pipeline.calibrate import Calibration, Estimate
from pipeline.publish.calibration.chart import calibration_chart
from pipeline.publish.folder import lay_files
from pipeline.publish.tables import rounded, write_csv
from pipeline.wording import counted

__all__ = ["catalogue_snippet", "publish_calibration"]

# the ends of an interval are rounded outwards to a hundredth of a millimetre
_PER_MM: Final = 100


def publish_calibration(calibration: Calibration, cores: pd.DataFrame, folder: Path) -> Path:
    """Write ``calibration.csv`` and ``calibration.svg``.

    Parameters
    ----------
    calibration
        The calibration.
    cores
        N rows with ``row``, ``core_id`` and ``water_l``; their index includes that of the records used.
    folder
        The folder for the two files; created if it does not exist.

    Raises
    ------
    OutputError
        The folder cannot be written to.
    """
    named = cores[["row", "core_id", "water_l"]].join(calibration.records, how="right")
    columns = [
        "row", "core_id", "hole_mm", "depth_mm", "bags_used", "water_l", "grout_used_l", "from_l", "to_l", "fitted_l",
        "residual_l", "is_outlier",
    ]  # fmt: skip
    with lay_files(folder) as draft:
        write_csv(rounded(pd.DataFrame(named[columns])), draft / "calibration.csv")
        chart = calibration_chart(calibration)
        (draft / "calibration.svg").write_text(chart, encoding="utf-8", newline="\n")
    return folder


def catalogue_snippet(calibration: Calibration, as_of: dt.date) -> str:
    """Return the calibrated values as text for the programme file; the records must be sufficient."""
    records = len(calibration.records) - calibration.outliers
    origin = f"calibrated from {counted(records, 'record')} of use, as of {as_of.isoformat()}"
    given = f"pilot hole {calibration.pilot_mm:g} mm and overfill {calibration.overfill:.0%} taken as exact"
    origin_low = f"{origin}, 95% interval, whose low end allows for {calibration.most_waste:.0%} of waste"
    pilot = f"{calibration.pilot_mm:g} mm"
    return "\n".join(
        [
            *_table("kerf", *_mm(calibration.kerf), f"{origin_low}; {given}"),
            "",
            "# the gap and the grout in the bed together: records cannot distinguish them",
            *_table("gap", *_mm(calibration.bed), f"{origin_low}; {given}"),
            "",
            *_table("bed_fill", "0 %", "0 %", "0 %", f"{origin}: included in the gap"),
            "",
            "# another pilot hole means another kerf: calibrate again after changing it",
            *_table("pilot_hole", pilot, pilot, pilot, f"{origin}: taken as exact"),
        ]
    )


def _mm(estimate: Estimate) -> tuple[str, str, str]:
    low, high = floor(_PER_MM * estimate.low_mm) / _PER_MM, ceil(_PER_MM * estimate.high_mm) / _PER_MM
    return f"{estimate.mm:.2f} mm", f"{low:.2f} mm", f"{high:.2f} mm"


def _table(name: str, value: str, low: str, high: str, source: str) -> list[str]:
    return [
        f"[catalogue.materials.geometry.{name}]",
        f'value = "{value}"',
        f'low = "{low}"',
        f'high = "{high}"',
        f'source = "{source}"',
    ]
