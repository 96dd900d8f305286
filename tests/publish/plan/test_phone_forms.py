"""Tests of the forms of a crew's day."""

import datetime as dt

import icalendar
import pytest

from pipeline.publish.plan.phone_forms import calendar_form, route_form, title_lines

_VALUES = {
    "title": "North crew", "name": "1. HV-1", "about": "Reinstate", "place": "Quay Road", "key": "k", "lat": "44.8",
    "lon": "-82.2", "start": "20261005T070000", "stop": "20261005T080000",
}  # fmt: skip


def test_every_blank_of_a_route_is_filled_in_and_what_is_filled_in_is_not_looked_at_again():
    form = route_form()
    text = form.point.filled(_VALUES | {"name": "blank-about", "about": "-11.5"})
    assert text.split("\n")[1:] == [
        '  <wpt lat="44.8" lon="-82.2">',
        "    <name>blank-about</name>",
        "    <desc>-11.5</desc>",
        "  </wpt>",
    ]
    assert form.title.filled(_VALUES).split("\n")[1:] == [
        "  <metadata>",
        "    <name>North crew</name>",
        "  </metadata>",
    ]


@pytest.mark.parametrize(
    ("zone", "start", "zones"),
    [("America/Toronto", "DTSTART;TZID=America/Toronto:20261005T070000", 1), ("UTC", "DTSTART:20261005T070000Z", 0)],
)
def test_the_form_of_a_calendar_has_the_lines_of_an_event_and_its_time_zone(zone, start, zones):
    form = calendar_form(zone, dt.date(2026, 10, 5), dt.date(2026, 9, 30))
    event = [line.filled(_VALUES) for line in form.event]
    assert event[0] == "BEGIN:VEVENT"
    assert start in event
    assert "GEO:44.8;-82.2" in event
    assert event[-1] == "END:VEVENT"
    whole = form.head + title_lines("North crew") + form.below + "\r\n".join(event) + "\r\n" + form.foot
    calendar = icalendar.Calendar.from_ical(whole)
    assert len(calendar.walk("VTIMEZONE")) == zones
    assert str(calendar["name"]) == "North crew"
