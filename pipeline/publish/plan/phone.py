"""A crew's day for a phone and a calendar: its stops as GPX waypoints and route, and as iCalendar events."""

import datetime as dt
import hashlib
import re
from functools import lru_cache
from typing import Final, NamedTuple
from xml.sax.saxutils import escape

from pipeline.publish.plan.phone_forms import calendar_form, route_form, title_lines
from pipeline.publish.words import title_text

__all__ = ["PhoneDay", "PhoneStop", "as_gpx", "as_ics"]

# a calendar takes no longer text than this without trouble, and a phone shows less
_LONGEST: Final = 300
# a hundredth of a metre
_DIGITS: Final = 7
# what XML cannot hold, and control characters that it can
_NOT_XML: Final = re.compile("[\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
# bytes that a line of a calendar may hold
_LINE: Final = 74
_LINE_END: Final = "\r\n"


class PhoneStop(NamedTuple):
    """A stop: a name, what is to be done in lines, its position in degrees (WGS 84), and minutes from midnight.

    ``key``: what tells the stop from all others of the programme, run after run.
    """

    key: str
    name: str
    lines: tuple[str, ...]
    place: str
    lon: float
    lat: float
    arrival_min: float
    leave_min: float


class PhoneDay(NamedTuple):
    """A crew's day: its title, its date and its stops in order."""

    title: str
    day: dt.date
    stops: tuple[PhoneStop, ...]


def as_gpx(day: PhoneDay) -> str:
    """Return the day as GPX 1.1: a waypoint per stop, and a route through them in order."""
    form, title = route_form(), {"title": escape(_clean(day.title))}
    points = [
        {
            # as the library has a zero
            "lat": _degrees(round(stop.lat, _DIGITS) or 0),
            "lon": _degrees(round(stop.lon, _DIGITS) or 0),
            "name": escape(_clean(stop.name)),
            "about": escape(_clean("; ".join(stop.lines))),
        }
        for stop in day.stops
    ]
    return "".join(
        [
            form.head,
            form.title.filled(title) if title["title"] else "",
            *map(form.point.filled, points),
            form.route.filled(title),
            *map(form.route_point.filled, points),
            form.foot,
        ]
    )


def _degrees(value: float) -> str:
    text = str(value)
    # neither form has powers of ten
    return text if "e" not in text else f"{value:.{_DIGITS}f}".rstrip("0")


def as_ics(day: PhoneDay, zone: str, stamp: dt.date) -> bytes:
    """Return the day as a calendar: an event per stop, with its local times.

    Parameters
    ----------
    day
        The day.
    zone
        IANA time zone of the minutes.
    stamp
        The day of the audit, in place of the time of writing: the same plan gives the same bytes.
    """
    form = calendar_form(zone, day.day, stamp)
    midnight = dt.datetime.combine(day.day, dt.time())
    lines = [title_lines(_clean(day.title)), form.below]
    for stop in day.stops:
        starts, stops = (midnight + dt.timedelta(minutes=round(at)) for at in (stop.arrival_min, stop.leave_min))
        values = {
            "key": hashlib.sha256(stop.key.encode("utf-8", "replace")).hexdigest()[:32],
            "start": f"{starts:%Y%m%dT%H%M%S}",
            "stop": f"{stops:%Y%m%dT%H%M%S}",
            "name": _value(_clean(stop.name)),
            "place": _value(_clean(stop.place)),
            "lat": _degrees(round(stop.lat, _DIGITS)),
            "lon": _degrees(round(stop.lon, _DIGITS)),
            "about": _value("\n".join(map(_clean, stop.lines))),
        }
        lines += [_folded(line.filled(values)) + _LINE_END for line in form.event]
    return "".join([form.head, *lines, form.foot]).encode()


def _value(text: str) -> str:
    """Return a text as a calendar has it (RFC 5545, 3.3.11)."""
    text = text.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
    return text.replace("\n", "\\n")


def _folded(line: str) -> str:
    """Return a line of a calendar in pieces that are short enough, none of which ends amid an escaped character."""
    if len(line.encode()) <= _LINE:
        return line
    data = line.encode()
    pieces, begin = [], 0
    while len(data) - begin > _LINE:
        end = begin + _LINE
        # a letter of several bytes stays whole, and so does an escaped one
        while data[end] & 0b1100_0000 == 0b1000_0000:
            end -= 1
        end -= end - begin > 1 and data[end - 1 : end] in {b"\\", b"^"}
        pieces.append(data[begin:end].decode())
        begin = end
    return f"{_LINE_END} ".join([*pieces, data[begin:].decode()])


@lru_cache(maxsize=4096)
def _clean(text: str) -> str:
    return _NOT_XML.sub(" ", title_text(text, _LONGEST))
