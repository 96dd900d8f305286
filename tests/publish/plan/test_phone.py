"""Tests of a crew's day for a phone and a calendar."""

import datetime as dt
import xml.etree.ElementTree as ET
from zoneinfo import ZoneInfo

import gpxpy
import icalendar
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.publish.plan.phone import PhoneDay, PhoneStop, as_gpx, as_ics

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
