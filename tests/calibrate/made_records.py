"""Records of use made from a known kerf and bed, for the tests of the calibration."""

from math import pi

import numpy as np
import pandas as pd

from pipeline.calibrate import grout_used_l
from pipeline.programme.catalogue import load_catalogue

__all__ = ["BAG_L", "CATALOGUE", "records", "void_l"]

CATALOGUE = load_catalogue({}, "test")

_GROUT = CATALOGUE.materials.grout

BAG_L = 22 / 2.15


def void_l(hole, depth, kerf=9.0, bed=12.7, pilot=38.1):
    """Litres of ring, pilot hole and bed, by hand; all in millimetres."""
    return (pi * (hole - kerf) * kerf * depth + pi / 4 * pilot**2 * depth + pi / 4 * hole**2 * bed) / 1e6


def records(count=60, kerf=9.0, bed=12.7, step=0.05, shallow=100, deep=430, noise=0.04, hole=457.2):
    """Records of one diameter, depths evenly spread, scatter of 4 %, written to the nearest ``step``."""
    depth = np.linspace(shallow, deep, count)
    bags = 1.2 * void_l(hole, depth, kerf, bed) / BAG_L * (1 + noise * np.random.default_rng(3).standard_normal(count))
    bags = np.round(bags / step) * step
    cores = pd.DataFrame({"hole_mm": hole, "depth_mm": depth, "bedding": "pea gravel", "bags_used": bags})
    used = grout_used_l(cores["bags_used"], pd.Series(np.nan, cores.index), _GROUT)
    return cores.assign(grout_used_l=used, crew="", is_usable=True)
