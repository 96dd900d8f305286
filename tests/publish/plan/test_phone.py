"""Tests of a crew's day for a phone and a calendar."""

import datetime as dt
import hashlib
import re
import xml.etree.ElementTree as ET
from zoneinfo import ZoneInfo

import gpxpy
import icalendar
import pytest
from gpxpy.gpx import GPX, GPXRoute, GPXRoutePoint, GPXWaypoint
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.publish.plan.phone import PhoneDay, PhoneStop, as_gpx, as_ics
from pipeline.publish.words import title_text

_DAY = dt.date(2026, 10, 5)


def _stop(number=1, name="1. HV-1", lines=("Reinstate",), place="Quay Road"):
    return PhoneStop(f"town {number}", name, lines, place, -82.1956691, 44.8012345, 420.4, 507.0)


def _day(*stops, title="North crew, 5 Oct 2026"):
    return PhoneDay(title, _DAY, stops or (_stop(),))


def test_waypoints_and_route_hold_the_stops_in_order():
    gpx = gpxpy.parse(as_gpx(_day(_stop(1, "1. HV-9"), _stop(2, "2. HV-1"))))
    assert [point.name for point in gpx.waypoints] == ["1. HV-9", "2. HV-1"]
    assert [point.name for point in gpx.routes[0].points] == ["1. HV-9", "2. HV-1"]
    assert (gpx.waypoints[0].latitude, gpx.waypoints[0].longitude) == (44.8012345, -82.1956691)
    assert gpx.time is None


def test_an_event_has_its_local_time_its_place_and_no_clock():
    calendar = icalendar.Calendar.from_ical(as_ics(_day(), "America/Toronto", dt.date(2026, 9, 30)))
    (event,) = calendar.walk("VEVENT")
    zone = ZoneInfo("America/Toronto")
    assert event["dtstart"].dt == dt.datetime(2026, 10, 5, 7, 0, tzinfo=zone)
    assert event["dtend"].dt == dt.datetime(2026, 10, 5, 8, 27, tzinfo=zone)
    # four hours behind UTC in summer
    assert event["dtstart"].dt.utcoffset() == dt.timedelta(hours=-4)
    assert event["dtstamp"].dt == dt.datetime(2026, 9, 30, tzinfo=dt.UTC)
    assert event["summary"] == "1. HV-1"
    assert event["location"] == "Quay Road"
    assert event["geo"].to_ical() == "44.8012345;-82.1956691"
    assert len(calendar.walk("VTIMEZONE")) == 1


def test_a_position_beside_the_meridian_is_written_without_powers_of_ten():
    text = as_ics(_day(_stop()._replace(lat=51.4779, lon=0.00005)), "Europe/London", _DAY).decode()
    assert "\r\nGEO:51.4779;0.00005\r\n" in text


def test_a_backslash_before_an_n_is_no_end_of_a_line():
    text = as_ics(_day(_stop(1, "A\\N12")), "UTC", _DAY).decode()
    assert "\r\nSUMMARY:A\\\\N12\r\n" in text


def test_events_keep_their_identity_when_their_time_changes_and_no_two_share_one():
    def ids(*stops):
        calendar = icalendar.Calendar.from_ical(as_ics(_day(*stops), "UTC", _DAY))
        return [str(event["uid"]) for event in calendar.walk("VEVENT")]

    one, two = ids(_stop(1), _stop(2))
    assert one != two
    assert ids(_stop(1)._replace(arrival_min=600.0, leave_min=660.0)) == [one]


@given(st.text(st.characters(codec=None, exclude_categories=[]), max_size=60))
@pytest.mark.filterwarnings("error")
def test_any_text_is_text_and_nothing_else(text):
    day = _day(_stop(1, text, (text, "=1+1"), text), title=text)
    root = ET.fromstring(as_gpx(day))
    assert {part.tag.rpartition("}")[2] for part in root.iter()} <= {
        "gpx", "metadata", "name", "wpt", "desc", "rte", "rtept",
    }  # fmt: skip
    calendar = icalendar.Calendar.from_ical(as_ics(day, "UTC", _DAY))
    assert len(calendar.walk("VEVENT")) == 1


def test_the_same_day_gives_the_same_bytes():
    assert as_ics(_day(), "Europe/Paris", _DAY) == as_ics(_day(), "Europe/Paris", _DAY)
    assert as_gpx(_day()) == as_gpx(_day())


def _plain_clean(text):
    return "".join(
        " " if "\x7f" <= letter <= "\x9f" or "\ud800" <= letter <= "\udfff" or letter in "\ufffe\uffff" else letter
        for letter in title_text(text, 300)
    )


def _plain_gpx(day):
    """Return the day as the library writes it."""
    gpx = GPX()
    gpx.creator, gpx.name = "Kerfbook", _plain_clean(day.title)
    route = GPXRoute(name=_plain_clean(day.title))
    for stop in day.stops:
        about = _plain_clean("; ".join(stop.lines))
        name, lat, lon = _plain_clean(stop.name), round(stop.lat, 7), round(stop.lon, 7)
        gpx.waypoints.append(GPXWaypoint(lat, lon, name=name, description=about))
        route.points.append(GPXRoutePoint(lat, lon, name=name))
    gpx.routes.append(route)
    return str(gpx.to_xml(version="1.1"))


def _plain_ics(day, zone, stamp):
    """Return the day as the library writes it."""
    calendar = icalendar.Calendar()
    calendar.add("prodid", "-//Kerfbook//Kerfbook//EN")
    calendar.add("version", "2.0")
    calendar.add("name", _plain_clean(day.title))
    for stop in day.stops:
        starts, stops = (
            dt.datetime.combine(day.day, dt.time(), ZoneInfo(zone)) + dt.timedelta(minutes=round(minutes))
            for minutes in (stop.arrival_min, stop.leave_min)
        )
        event = icalendar.Event()
        event.add("uid", f"{hashlib.sha256(stop.key.encode('utf-8', 'replace')).hexdigest()[:32]}@kerfbook")
        event.add("dtstamp", dt.datetime.combine(stamp, dt.time(), dt.UTC))
        event.add("dtstart", starts)
        event.add("dtend", stops)
        event.add("summary", _plain_clean(stop.name))
        event.add("location", _plain_clean(stop.place))
        event.add("geo", (round(stop.lat, 7), round(stop.lon, 7)))
        event.add("description", "\n".join(map(_plain_clean, stop.lines)))
        calendar.add_component(event)
    calendar.add_missing_timezones(day.day, day.day + dt.timedelta(days=1))
    # RFC 5545 (3.3.7) has no powers of ten, in which the library writes what is near zero
    return re.sub(rb"(?<=\nGEO:)[^\r]+", _without_powers_of_ten, bytes(calendar.to_ical()))


def _without_powers_of_ten(position):
    return re.sub(rb"-?[\d.]+e-\d+", lambda number: (b"%.7f" % float(number[0])).rstrip(b"0"), position[0])


_TEXTS = st.text(
    st.sampled_from(list("aN ,;:^<>&\"'éß道🚧blank-lt"))
    | st.just("\\")
    | st.characters(codec=None, exclude_categories=[]),
    max_size=400,
).filter(lambda text: "\\N" not in text)  # which the library takes for the end of a line
_MINUTES = st.floats(0, 2000, allow_subnormal=False)


@settings(max_examples=150)
@given(
    st.lists(
        st.builds(
            PhoneStop, _TEXTS, _TEXTS, st.lists(_TEXTS, max_size=4).map(tuple), _TEXTS,
            st.floats(-180, 180) | st.sampled_from([0.00001, -0.00001]), st.floats(-90, 90), _MINUTES, _MINUTES,
        ),
        min_size=1,
        max_size=3,
    ),
    _TEXTS,
    st.sampled_from(["UTC", "America/Toronto", "Europe/Paris", "Asia/Kathmandu"]),
    st.dates(dt.date(2000, 1, 1), dt.date(2060, 1, 1)),
)  # fmt: skip
@pytest.mark.filterwarnings("ignore")
def test_a_day_is_written_as_the_libraries_write_it(stops, title, zone, day):
    planned = PhoneDay(title, day, tuple(stops))
    assert as_gpx(planned) == _plain_gpx(planned)
    assert as_ics(planned, zone, _DAY) == _plain_ics(planned, zone, _DAY)
