"""Coordinates of the run's CRS in the page, which has no projection library: a polynomial fitted over the extent."""

from typing import Any, Final

import numpy as np
import numpy.typing as npt
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError

__all__ = ["fit_grid"]

Floats = npt.NDArray[np.float64]

# metres: below what a symbol shows; a polynomial further off than the second is not used at all
_WANTED_ERROR_M: Final = 0.02
_MOST_ERROR_M: Final = 0.4
_MOST_DEGREE: Final = 7
# fitted on this many positions each way, and checked on others
_FITTED: Final = 24
_CHECKED: Final = 61
# of the coefficients: tenths of a millimetre
_DIGITS: Final = 4


def fit_grid(crs: str, bounds: list[list[float]]) -> dict[str, Any] | None:
    """Return what turns degrees into the run's CRS, with its largest error; None where no polynomial is close enough.

    Parameters
    ----------
    crs
        The run's projected CRS, in metres.
    bounds
        South-west and north-east corner of the extent in EPSG:4326, latitude first. The fit holds for half as much
        again on every side.

    Returns
    -------
    dict
        ``middle`` and ``half``: longitude and latitude, and half the sides, in degrees; ``powers``: the powers of the
        two, each from -1 to 1; ``east`` and ``north``: coefficients in metres; ``error_m``: the largest error found.
    """
    try:
        to_run = Transformer.from_crs("EPSG:4326", CRS.from_user_input(crs), always_xy=True)
    except CRSError:
        return None
    low, high = np.array(bounds, dtype=np.float64)[:, ::-1]
    middle, half = np.round((low + high) / 2, 6), np.round((high - low), 6)
    # denser towards the edges, where a polynomial strays
    fitted = np.cos(np.pi * (np.arange(_FITTED) + 0.5) / _FITTED)
    checked = np.linspace(-1, 1, _CHECKED)
    for degree in range(1, _MOST_DEGREE + 1):
        powers = [(i, j) for i in range(degree + 1) for j in range(degree + 1 - i)]
        at, there = _places(to_run, fitted, middle, half)
        ways = np.round(np.linalg.lstsq(_terms(at, powers), there, rcond=None)[0], _DIGITS)
        at, there = _places(to_run, checked, middle, half)
        error_m = float(np.hypot(*(_terms(at, powers) @ ways - there).T).max())
        if not np.isfinite(error_m):
            return None
        if error_m < _WANTED_ERROR_M:
            break
    if error_m > _MOST_ERROR_M:
        return None
    return {
        "middle": middle.tolist(),
        "half": half.tolist(),
        "powers": powers,
        "east": ways[:, 0].tolist(),
        "north": ways[:, 1].tolist(),
        # to the centimetre upwards, so that the same inputs give the same text
        "error_m": float(np.ceil(error_m * 100) / 100),
    }


def _places(to_run: Transformer, shares: Floats, middle: Floats, half: Floats) -> tuple[Floats, Floats]:
    u, v = (side.ravel() for side in np.meshgrid(shares, shares))
    east, north = to_run.transform(middle[0] + u * half[0], middle[1] + v * half[1])
    return np.column_stack([u, v]), np.column_stack([east, north])


def _terms(at: Floats, powers: list[tuple[int, int]]) -> Floats:
    return np.column_stack([at[:, 0] ** i * at[:, 1] ** j for i, j in powers])
