"""Answers that a person writes: a time zone, a CRS or a header has to exist."""

from zoneinfo import available_timezones

from pyproj import CRS
from pyproj.exceptions import CRSError

from pipeline.propose.questions import one_line

__all__ = ["problem_with"]


def problem_with(key: str, text: str, allowed: tuple[str, ...] = ()) -> str:
    """Return what is wrong with a written answer, as a sentence; empty if nothing is known to be wrong.

    ``allowed``: the headers of the file, where the answer is one of them.
    """
    if allowed and text not in allowed:
        return f'"{text}" is no header of the file; expected one of: {", ".join(map(one_line, allowed))}.'
    if key == "timezone" and text not in available_timezones():
        return f'"{text}" is not an IANA time zone; expected one such as "America/Toronto".'
    if key == "crs":
        try:
            CRS.from_user_input(text)
        except CRSError:
            return f'"{text}" is not a known CRS; expected a code such as "EPSG:32617".'
    return ""
