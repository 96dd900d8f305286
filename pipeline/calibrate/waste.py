"""Grout that was mixed and thrown away: records of use cannot distinguish it from void, so the intervals allow for it.

A waste of 6 % makes kerf and bed 6 % larger and nothing else: the records are equally likely with and without it. How
much waste varies from core to core is part of the scatter (see ``uneven``), and how much it differs between crews is
allowed for where their habits are judged and shown as each crew's use against the fit; its mean is known only from
elsewhere. So the calibrated values are those without waste, and the lower ends of their intervals those with the most
waste that the catalogue allows, or with the uneven share, if that is larger. Orders go by the values, without any
waste taken off: what crews throw away has to be ordered too.
"""

from math import sqrt

__all__ = ["with_waste_mm"]


def with_waste_mm(
    kerf_mm: float, bed_mm: float, waste: float, hole_mm: float, pilot_mm: float, stated_kerf_mm: float, widens: int
) -> tuple[float, float]:
    """Return the kerf and the bed that, with waste, take the grout that these take without.

    Parameters
    ----------
    kerf_mm, bed_mm
        As fitted without waste.
    waste
        The share of the grout needed that is mixed beyond it and thrown away, besides the overfill.
    hole_mm
        A usual hole.
    pilot_mm, stated_kerf_mm, widens
        As in ``Records``.
    """
    # a hole of diameter D has a ring of pi (D - k) k, of diameter c + 2 k one of pi (c + k) k
    base = hole_mm - widens * stated_kerf_mm
    sign = 1 if widens else -1
    pilot = pilot_mm**2 / 4
    ring = (base + sign * kerf_mm) * kerf_mm
    less = max((ring + pilot) / (1 + waste) - pilot, 0.0)
    kerf = sign * (sqrt(max(base**2 + 4 * sign * less, 0.0)) - base) / 2
    hole, was = (base + widens * one for one in (kerf, kerf_mm))
    bed = bed_mm / (1 + waste) * (was / hole) ** 2
    return kerf, bed
