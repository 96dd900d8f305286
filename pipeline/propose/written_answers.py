"""Answers that a person writes: a time zone or a CRS has to exist."""

from zoneinfo import available_timezones

from pyproj import CRS
from pyproj.exceptions import CRSError

__all__ = ["problem_with"]


def problem_with(key: str, text: str) -> str:
    """Return what is wrong with a written answer, as a sentence; empty if nothing is known to be wrong."""
    if key == "timezone" and text not in available_timezones():
        return f'"{text}" is not an IANA time zone; expected one such as "America/Toronto".'
    if key == "crs":
        try:
            CRS.from_user_input(text)
        except CRSError:
            return f'"{text}" is not a known CRS; expected a code such as "EPSG:32617".'
    return ""
