"""The calibrated volume model: what was fitted, its confidence intervals, and what it shares with the stated model."""

from dataclasses import dataclass
from math import pi
from typing import Final

import numpy as np
import pandas as pd

from pipeline.programme.catalogue import Catalogue
from pipeline.programme.materials import Grout
from pipeline.quantify import annulus_l, bags_for, disc_l, pilot_hole_l

__all__ = [
    "Z95",
    "Calibration",
    "Estimate",
    "bag_l",
    "bags_by_habit",
    "bed_mm",
    "needs_before_and_after",
    "void_l",
]

# standard errors on either side of the mean that contain 95 %
Z95: Final = 1.959964
_MM3_PER_L: Final = 100.0**3
_MM_PER_INCH: Final = 25.4
# the table of needs is for an 18 in hole of these depths
_SHOWN_HOLE_MM: Final = 18 * _MM_PER_INCH
_SHOWN_DEPTHS_IN: Final = (6.0, 8.5, 12.0, 17.0)


@dataclass(frozen=True)
class Estimate:
    """A fitted length in millimetres with its 95 % interval, the stated value and its plausible range."""

    mm: float
    low_mm: float
    high_mm: float
    stated_mm: float
    least_mm: float
    most_mm: float

    @property
    def is_plausible(self) -> bool:
        """Whether it is within the plausible range."""
        return self.least_mm <= self.mm <= self.most_mm


@dataclass(frozen=True)
class Calibration:
    """What the records of use say about the volume model.

    ``kerf``, ``bed``: the two lengths that records determine; NaN where there are too few. ``covariance``: of the two,
    mm². ``scatter``: of a record about the model, as a share of its litres, without rounding and mistakes. ``records``:
    the M records used, on the cores' index: ``hole_mm``, ``depth_mm``, ``bags_used``, ``grout_used_l``, ``from_l`` and
    ``to_l`` (the interval that the record stands for), ``fitted_l`` (overfill included), ``residual_l`` (middle of the
    interval less fitted) and ``is_outlier``. ``by_diameter``: one row per inch of diameter, most records first:
    ``hole_mm``, ``records``, ``outliers``, ``residual_l`` (median), ``spread_l`` (robust). ``step_bags``: the step
    that half of the records are made in at least. ``crews``: how each rounds, as in ``read_records``, and
    ``beside_fit``: how much more it used than the fit, as a share (median). ``by_habit``:
    kerf and bed with their intervals if all records were rounded ``up``, to the ``nearest`` or ``down``; without rows
    where there are too few. ``most_waste``: the share of waste that the lower ends of the intervals of ``kerf`` and
    ``bed`` allow for; ``covariance`` does not include it, since bags to order include what is thrown away.
    ``uneven_share``: by how much some cores took more than the model, on average over all, beyond the even scatter; 0
    where the records do not show it. ``reasons``: why the records are not sufficient, if they are not.
    """

    kerf: Estimate
    bed: Estimate
    covariance: tuple[tuple[float, float], tuple[float, float]]
    scatter: float
    records: pd.DataFrame
    by_diameter: pd.DataFrame
    step_bags: float
    crews: pd.DataFrame
    by_habit: pd.DataFrame
    bag_l: float
    pilot_mm: float
    overfill: float
    widens: int
    most_waste: float
    uneven_share: float
    reasons: tuple[str, ...]

    @property
    def enough(self) -> bool:
        """Whether the records are sufficient to replace the stated values."""
        return not self.reasons

    @property
    def kerf_and_bed(self) -> tuple[float, float, tuple[tuple[float, float], tuple[float, float]]] | None:
        """Kerf and bed in millimetres, with their covariance in mm²; None where the records are not sufficient."""
        return (self.kerf.mm, self.bed.mm, self.covariance) if self.enough else None

    @property
    def is_stated(self) -> bool:
        """Whether it rests on a way of rounding that was stated, and that an audit therefore does not know."""
        return bool((self.crews["is_used"] & self.crews["known_from"].eq("stated")).any())

    @property
    def outliers(self) -> int:
        """How many records were excluded as mistakes."""
        return int(self.records["is_outlier"].sum())

    def lines_l(self, hole: pd.Series, depth_mm: pd.Series) -> pd.DataFrame:
        """Return the litres to mix for N holes: ``stated``, ``fitted`` and its 95 % ``low`` and ``high``."""
        stated = void_l(hole, depth_mm, self.kerf.stated_mm, self.pilot_mm, pd.Series(self.bed.stated_mm, hole.index))
        void = self.void_l(hole, depth_mm)
        reach = Z95 * void["se_l"]
        lines = {
            "stated": stated,
            "fitted": void["grout_net_l"],
            "low": void["grout_net_l"] - reach,
            "high": void["grout_net_l"] + reach,
        }
        return (1 + self.overfill) * pd.DataFrame(lines)

    def void_l(self, hole: pd.Series, depth_mm: pd.Series) -> pd.DataFrame:
        """Return the void of N holes by the calibrated model, ``grout_net_l``, and its standard error ``se_l``.

        If the core was measured, ``hole`` is its diameter plus two stated kerfs. In millimetres.
        """
        kerf, bed = self.kerf.mm, self.bed.mm
        wide = hole + self.widens * (kerf - self.kerf.stated_mm)
        by_kerf = pi * ((self.widens - 1) * kerf + wide - kerf) * depth_mm + pi / 2 * wide * self.widens * bed
        by_bed = pi / 4 * wide**2
        (kk, kb), (_, bb) = self.covariance
        variance = by_kerf**2 * kk + 2 * by_kerf * by_bed * kb + by_bed**2 * bb
        return pd.DataFrame(
            {
                "grout_net_l": void_l(wide, depth_mm, kerf, self.pilot_mm, pd.Series(bed, hole.index)),
                "se_l": np.sqrt(variance) / _MM3_PER_L,
            }
        )


def void_l(
    hole: pd.Series, depth_mm: pd.Series, kerf_mm: float | pd.Series, pilot_mm: float, bed_mm: pd.Series
) -> pd.Series:
    """Return the litres of kerf, pilot hole and bed."""
    return annulus_l(hole, depth_mm, kerf_mm) + pilot_hole_l(depth_mm, pilot_mm) + disc_l(hole, bed_mm)


def bag_l(grout: Grout) -> float:
    """Return the litres that a bag yields with the stated water."""
    return 1 / float(bags_for(pd.Series([1.0]), grout).iloc[0])


def bed_mm(specified: pd.DataFrame, catalogue: Catalogue, gap_mm: float, bed_fill: float) -> pd.Series:
    """Return the effective thickness of the grout in the bed; missing without a bed."""
    beds = catalogue.materials.bedding
    thickness = {name: gap_mm + bed_fill * bed.voids.value * bed.thickness.value for name, bed in beds.items()}
    return specified["bedding"].map(thickness).astype(float)


def needs_before_and_after(calibration: Calibration) -> pd.DataFrame:
    """Return the bags for a hole of 18 in by depth, overfill included.

    Returns
    -------
    pandas.DataFrame
        ``depth_in``, ``bags_stated``, ``bags_calibrated``, ``bags_low``, ``bags_high`` (the ends of its
        95 % interval).
    """
    depth_in = pd.Series(_SHOWN_DEPTHS_IN)
    litres = calibration.lines_l(pd.Series(_SHOWN_HOLE_MM, depth_in.index), depth_in * _MM_PER_INCH)
    names = {"stated": "bags_stated", "fitted": "bags_calibrated", "low": "bags_low", "high": "bags_high"}
    bags = (litres / calibration.bag_l).rename(columns=names)
    bags.insert(0, "depth_in", depth_in)
    return bags


def bags_by_habit(calibration: Calibration) -> pd.Series:
    """Return the bags for a hole of 18 in, 12 in deep, overfill included, if all records were rounded in one way."""
    ways = calibration.by_habit
    wide = _SHOWN_HOLE_MM + calibration.widens * (ways["kerf_mm"] - calibration.kerf.stated_mm)
    deep = pd.Series(12 * _MM_PER_INCH, ways.index)
    void = void_l(wide, deep, ways["kerf_mm"], calibration.pilot_mm, ways["bed_mm"])
    bags: pd.Series = (1 + calibration.overfill) * void / calibration.bag_l
    return bags
