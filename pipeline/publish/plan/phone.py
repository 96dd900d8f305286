"""A crew's day for a phone and a calendar: its stops as GPX waypoints and route, and as iCalendar events."""

import datetime as dt
import hashlib
import re
from collections.abc import Iterable
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

import icalendar
from gpxpy.gpx import GPX, GPXRoute, GPXRoutePoint, GPXWaypoint

from pipeline.publish.words import title_text

__all__ = ["PhoneDay", "PhoneStop", "as_gpx", "as_ics"]

_NAME: Final = "Kerfbook"
# a calendar takes no longer text than this without trouble, and a phone shows less
_LONGEST: Final = 300
# a hundredth of a metre
_DIGITS: Final = 7
# what XML cannot hold, and control characters that it can
_NOT_XML: Final = re.compile("[\x7f-\x9f\ud800-\udfff\ufffe\uffff]")


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
    gpx = GPX()
    gpx.creator = _NAME
    gpx.name = _clean(day.title)
    route = GPXRoute(name=_clean(day.title))
    for stop in day.stops:
        about = _clean("; ".join(stop.lines))
        name, lat, lon = _clean(stop.name), round(stop.lat, _DIGITS), round(stop.lon, _DIGITS)
        gpx.waypoints.append(GPXWaypoint(lat, lon, name=name, description=about))
        route.points.append(GPXRoutePoint(lat, lon, name=name))
    gpx.routes.append(route)
    return str(gpx.to_xml(version="1.1"))


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
    calendar = icalendar.Calendar()
    calendar.add("prodid", f"-//{_NAME}//{_NAME}//EN")
    calendar.add("version", "2.0")
    calendar.add("name", _clean(day.title))
    stamped = dt.datetime.combine(stamp, dt.time(), dt.UTC)
    for stop in day.stops:
        event = icalendar.Event()
        event.add("uid", f"{hashlib.sha256(stop.key.encode('utf-8', 'replace')).hexdigest()[:32]}@kerfbook")
        event.add("dtstamp", stamped)
        event.add("dtstart", _instant(day.day, stop.arrival_min, zone))
        event.add("dtend", _instant(day.day, stop.leave_min, zone))
        event.add("summary", _clean(stop.name))
        event.add("location", _clean(stop.place))
        event.add("geo", (round(stop.lat, _DIGITS), round(stop.lon, _DIGITS)))
        event.add("description", "\n".join(_cleaned(stop.lines)))
        calendar.add_component(event)
    calendar.add_missing_timezones(day.day, day.day + dt.timedelta(days=1))
    return bytes(calendar.to_ical())


def _instant(day: dt.date, minutes: float, zone: str) -> dt.datetime:
    whole = dt.timedelta(minutes=round(minutes))
    return dt.datetime.combine(day, dt.time(), ZoneInfo(zone)) + whole


def _cleaned(lines: Iterable[str]) -> list[str]:
    return [_clean(line) for line in lines]


def _clean(text: str) -> str:
    return _NOT_XML.sub(" ", title_text(text, _LONGEST))
