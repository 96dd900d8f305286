"""The forms of a crew's day for a phone and a calendar: the libraries write one day of one stop, with blanks.

Filling in a form for each stop takes a small part of the time that the libraries need for every stop.
"""

import datetime as dt
import re
from collections.abc import Mapping
from functools import lru_cache
from itertools import pairwise
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

import icalendar
from gpxpy.gpx import GPX, GPXRoute, GPXRoutePoint, GPXWaypoint

__all__ = ["CalendarForm", "Form", "RouteForm", "calendar_form", "route_form", "title_lines"]

_NAME: Final = "Kerfbook"
# what stands in the blanks, and numbers and instants that the libraries write
_BLANK: Final = re.compile(
    r"blank-(\w+)|(?P<lat>-11\.5)|(?P<lon>-22\.5)|(?P<start>\d{8}T120203)|(?P<stop>\d{8}T150506)"
)
_TITLE, _NAME_OF_STOP, _ABOUT, _PLACE, _KEY = "blank-title", "blank-name", "blank-about", "blank-place", "blank-key"
_LAT, _LON = -11.5, -22.5
_START, _STOP = dt.time(12, 2, 3), dt.time(15, 5, 6)
_BEGIN, _END = "BEGIN:VEVENT\r\n", "END:VEVENT\r\n"


class Form(NamedTuple):
    """A text in pieces: at the odd places the names of its blanks."""

    pieces: tuple[str, ...]

    def filled(self, values: Mapping[str, str]) -> str:
        """Return the text; what is filled in is not looked at again."""
        return "".join(values[piece] if place % 2 else piece for place, piece in enumerate(self.pieces))


class RouteForm(NamedTuple):
    """A GPX file: what is above its title, the title, a waypoint, what is below, a point of the route, and the foot."""

    head: str
    title: Form
    point: Form
    route: Form
    route_point: Form
    foot: str


class CalendarForm(NamedTuple):
    """A calendar: its lines above its title, those below, those of an event, and those after them.

    The lines of an event are without line ends, and not folded.
    """

    head: str
    below: str
    event: tuple[Form, ...]
    foot: str


def _form(text: str) -> Form:
    pieces, since = [], 0
    for found in _BLANK.finditer(text):
        pieces += [text[since : found.start()], found[1] or str(found.lastgroup)]
        since = found.end()
    return Form((*pieces, text[since:]))


@lru_cache(maxsize=1)
def route_form() -> RouteForm:
    """Return the form of a GPX file (GPX 1.1)."""
    gpx = GPX()
    gpx.creator, gpx.name = _NAME, _TITLE
    gpx.waypoints.append(GPXWaypoint(_LAT, _LON, name=_NAME_OF_STOP, description=_ABOUT))
    route = GPXRoute(name=_TITLE)
    route.points.append(GPXRoutePoint(_LAT, _LON, name=_NAME_OF_STOP))
    gpx.routes.append(route)
    text = str(gpx.to_xml(version="1.1"))
    begins = [text.index(f"\n{tag}") for tag in ("  <metadata>", "  <wpt", "  <rte>", "    <rtept", "  </rte>")]
    title, point, between, route_point = (_form(text[begin:end]) for begin, end in pairwise(begins))
    return RouteForm(text[: begins[0]], title, point, between, route_point, text[begins[-1] :])


def title_lines(title: str) -> str:
    """Return the lines with the title of a calendar."""
    calendar = icalendar.Calendar()
    calendar.add("name", title)
    text: str = calendar.to_ical().decode()
    return text.removeprefix("BEGIN:VCALENDAR\r\n").removesuffix("END:VCALENDAR\r\n")


@lru_cache(maxsize=256)
def calendar_form(zone: str, day: dt.date, stamp: dt.date) -> CalendarForm:
    """Return the form of a calendar of a day.

    Parameters
    ----------
    zone
        IANA time zone of the times.
    day
        The day.
    stamp
        What is given as the day of writing.
    """
    calendar = icalendar.Calendar()
    calendar.add("prodid", f"-//{_NAME}//{_NAME}//EN")
    calendar.add("version", "2.0")
    calendar.add("name", _TITLE)
    event = icalendar.Event()
    event.add("uid", f"{_KEY}@kerfbook")
    event.add("dtstamp", dt.datetime.combine(stamp, dt.time(), dt.UTC))
    event.add("dtstart", dt.datetime.combine(day, _START, ZoneInfo(zone)))
    event.add("dtend", dt.datetime.combine(day, _STOP, ZoneInfo(zone)))
    event.add("summary", _NAME_OF_STOP)
    event.add("location", _PLACE)
    event.add("geo", (_LAT, _LON))
    event.add("description", _ABOUT)
    calendar.add_component(event)
    calendar.add_missing_timezones(day, day + dt.timedelta(days=1))
    text = calendar.to_ical().decode()
    above, _, below = text.partition(title_lines(_TITLE))
    between, _, rest = below.partition(_BEGIN)
    event_lines, _, foot = rest.partition(_END)
    lines = (_BEGIN + event_lines + _END).removesuffix("\r\n").split("\r\n")
    return CalendarForm(above, between, tuple(map(_form, lines)), foot)
