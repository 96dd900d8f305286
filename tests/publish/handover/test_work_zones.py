"""Open cores as a work zone feed."""

import datetime as dt
import json

import pandas as pd

from pipeline.publish.handover.work_zones import draw_work_zones, work_zone_facts

_AS_OF = dt.date(2026, 9, 30)
_ZONE = "America/Toronto"


def _texts(*cells):
    return pd.Series(list(cells), dtype="str")


def _cores(**cells):
    """Return four open cores A to D; D is without an expiry of its permit, and C alone has a planned day."""
    return pd.DataFrame(
        {
            "row": [1, 2, 3, 4],
            "core_id": _texts("A", "B", "C", "D"),
            "copy_of": [None] * 4,
            "state": _texts("open", "plated", "interim", "open"),
            "street": _texts(*["Quay Road"] * 4),
            "lon": [-82.2, -82.2, -82.2, -82.2],
            "lat": [44.8, 44.8, 44.8, 44.8],
            "opened_on": _texts(*["2026-09-16"] * 4),
            "planned_on": _texts(None, None, "2026-10-05", None),
            "permit_expires_on": _texts("2026-10-30", "2026-10-30T17:00-04:00", "2026-10-30", None),
        }
    ).assign(**cells)


def _facts(cores, **more):
    of_feed = work_zone_facts(cores, _AS_OF, _ZONE, "Vale Water", None)
    return {
        "programme": "Vale 2026", "as_of": "2026-09-30", "language": "en", "contact": None, "work_zones": of_feed, **more,
    }  # fmt: skip


def feed(**cells):
    cores = _cores(**cells)
    return json.loads(draw_work_zones(_facts(cores, contact="Street works office"), cores))


def _ends(made):
    return {one["id"]: one["properties"]["end_date"] for one in made["features"]}


def test_the_end_is_the_planned_day_else_the_expiry_of_the_permit_each_to_its_end_in_utc():
    """Toronto is four hours behind UTC in October: the end of the 30th is 04:00 on the 31st."""
    assert _ends(feed()) == {
        "A": "2026-10-31T04:00:00Z", "B": "2026-10-30T21:00:00Z", "C": "2026-10-06T04:00:00Z",
    }  # fmt: skip


def test_a_planned_day_that_has_passed_is_no_end_of_a_core_that_is_still_open():
    made = feed(planned_on=_texts("2026-09-20", "2026-09-30", "2026-09-29", "2026-09-29"))
    # planned for the day of the audit, which has not ended
    assert _ends(made) == {
        "A": "2026-10-31T04:00:00Z", "B": "2026-10-01T04:00:00Z", "C": "2026-10-31T04:00:00Z",
    }  # fmt: skip


def test_what_the_standard_requires_and_a_core_lacks_is_left_out_with_a_count():
    cores = _cores(lon=[None, -82.2, -82.2, -82.2], street=_texts(None, None, "Quay Road", "Quay Road"))
    cores["opened_on"] = _texts("2026-09-16", "2026-09-16", None, "2026-09-16")
    of_feed = work_zone_facts(cores, _AS_OF, _ZONE, "Vale Water", None)
    # a core is counted for the first thing that it lacks
    assert of_feed["left_out"] == {"position": 1, "street": 1, "start": 1, "end": 1}
    assert (of_feed["open"], of_feed["events"]) == (4, 0)


def test_only_open_cores_are_work_zones_and_a_copy_of_a_row_is_not_another():
    made = feed(state=_texts("open", "back", "unknown", "plated"), permit_expires_on=_texts(*["2026-10-30"] * 4))
    assert list(_ends(made)) == ["A", "D"]
    assert list(_ends(feed(copy_of=[None, 1, None, None]))) == ["A", "C"]


def test_cores_that_share_an_id_or_have_none_are_told_apart_by_their_rows():
    made = feed(core_id=_texts("A", "A", None, "D"))
    assert list(_ends(made)) == ["A, row 1", "A, row 2", "row 3"]


def test_nothing_is_marked_as_verified_and_the_feed_names_its_publisher():
    made = feed()
    first = made["features"][0]["properties"]
    assert {name: first[name] for name in first if name.startswith("is_")} == {
        "is_start_date_verified": False, "is_end_date_verified": False,
        "is_start_position_verified": False, "is_end_position_verified": False,
    }  # fmt: skip
    assert first["core_details"]["direction"] == "unknown"
    info = made["feed_info"]
    assert (info["publisher"], info["contact_name"], info["version"]) == ("Vale Water", "Street works office", "4.2")
    # the day of the audit in the programme's time zone: no clock
    assert info["update_date"] == "2026-09-30T04:00:00Z"
    assert "license" not in info


def test_the_licence_is_named_where_the_settings_give_one():
    cores = _cores()
    licence = "https://creativecommons.org/publicdomain/zero/1.0/"
    facts = _facts(cores)
    facts["work_zones"]["licence"] = licence
    assert json.loads(draw_work_zones(facts, cores))["feed_info"]["license"] == licence


def test_hostile_text_stays_text():
    nasty = '</script><img src=x>"\\'
    made = feed(street=_texts(*[nasty] * 4), core_id=_texts(nasty, "B", "C", "D"))
    assert made["features"][0]["id"] == nasty
    assert made["features"][0]["properties"]["core_details"]["road_names"] == [nasty]
