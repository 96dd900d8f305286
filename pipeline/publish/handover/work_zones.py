"""Open cores as a work zone feed by the road authorities' own open standard, WZDx 4.2."""

import datetime as dt
import json
from typing import Any, Final

import numpy as np
import pandas as pd

from pipeline.contracts import OPEN_STATES
from pipeline.publish.words import words_of

__all__ = ["WORK_ZONES", "draw_work_zones", "work_zone_facts"]

WORK_ZONES: Final = "work-zones.geojson"
_VERSION: Final = "4.2"
# what an event must have, in the order in which a core is counted as left out for want of it
_REQUIRED: Final = {"position": "lon", "street": "street", "start": "start", "end": "end"}
_DAY: Final = len("2026-09-30")
_UTC: Final = "%Y-%m-%dT%H:%M:%SZ"


def work_zone_facts(
    cores: pd.DataFrame, as_of: dt.date, timezone: str, publisher: str, licence: str | None
) -> dict[str, Any]:
    """Return what the feed needs beside the table of cores, and how many open cores it has and leaves out.

    Parameters
    ----------
    cores
        The table of cores as it is handed over.
    as_of
        Day of the audit.
    timezone
        IANA name of the programme's time zone, for days without a time.
    publisher
        Who publishes the feed.
    licence
        Address of the licence of its data; None for none.
    """
    zones = _zones(cores, as_of, timezone)
    left = pd.Series(data=True, index=zones.index)
    left_out = {}
    for name, column in _REQUIRED.items():
        lacks = left & zones[column].isna()
        left_out[name] = int(lacks.sum())
        left &= ~lacks
    return {
        "timezone": timezone,
        "publisher": publisher,
        "licence": licence,
        "open": len(zones),
        "events": int(left.sum()),
        "left_out": left_out,
    }


def draw_work_zones(facts: dict[str, Any], cores: pd.DataFrame) -> str:
    """Return the feed as GeoJSON.

    Parameters
    ----------
    facts
        What ``handover.json`` holds.
    cores
        What ``cores.csv`` holds.
    """
    of_feed, words = facts["work_zones"], words_of(facts["language"])
    as_of = dt.date.fromisoformat(facts["as_of"])
    updated = _local(pd.Series([facts["as_of"]], dtype="str"), of_feed["timezone"]).dt.strftime(_UTC)[0]
    zones = _zones(cores, as_of, of_feed["timezone"]).dropna(subset=list(_REQUIRED.values()))
    zones = zones.assign(**{name: zones[name].dt.strftime(_UTC) for name in ("start", "end")})
    states = {state: words.plainly(f"handover.work_zone_{state}") for state in OPEN_STATES}
    features = [
        {
            "id": str(zone.id),
            "type": "Feature",
            "properties": {
                "core_details": {
                    "data_source_id": facts["programme"],
                    "event_type": "work-zone",
                    "road_names": [str(zone.street)],
                    "direction": "unknown",
                    "name": words.plainly("handover.work_zone_name", core=str(zone.id)),
                    "description": states[str(zone.state)],
                    "update_date": updated,
                },
                "start_date": str(zone.start),
                "end_date": str(zone.end),
                "is_start_date_verified": False,
                "is_end_date_verified": False,
                "is_start_position_verified": False,
                "is_end_position_verified": False,
                "vehicle_impact": "unknown",
                "location_method": "unknown",
            },
            # the standard's two positions are the start and the end of a work zone
            "geometry": {"type": "MultiPoint", "coordinates": [[float(str(zone.lon)), float(str(zone.lat))]] * 2},
        }
        for zone in zones.itertuples(index=False)
    ]
    source = {"data_source_id": facts["programme"], "organization_name": of_feed["publisher"], "update_date": updated}
    contact = {} if facts["contact"] is None else {"contact_name": facts["contact"]}
    info = {"update_date": updated, "publisher": of_feed["publisher"], **contact, "version": _VERSION}
    if of_feed["licence"] is not None:
        info["license"] = of_feed["licence"]
    feed = {"feed_info": {**info, "data_sources": [source]}, "type": "FeatureCollection", "features": features}
    return json.dumps(feed, ensure_ascii=False, indent=1) + "\n"


def _zones(cores: pd.DataFrame, as_of: dt.date, timezone: str) -> pd.DataFrame:
    """Return the open cores, each once: ``id``, ``state``, ``street``, ``lon``, ``lat``, ``start`` and ``end``.

    The end is the planned day of reinstatement, else the day on which the permit expires, to its last moment; one that
    has passed is none, since the core is still open.
    """
    nothing = pd.Series(None, cores.index, dtype="str")
    zones = cores[cores["copy_of"].isna() & cores.get("state", nothing).isin(OPEN_STATES)]
    row = "row " + zones["row"].astype("str")
    shared = zones["core_id"].isna() | zones["core_id"].duplicated(keep=False)
    ids = zones["core_id"].mask(shared, (zones["core_id"] + ", " + row).fillna(row))
    start, planned, permit = (
        zones.get(name, nothing[zones.index]) for name in ("opened_on", "planned_on", "permit_expires_on")
    )
    today = _local(pd.Series([as_of.isoformat()], dtype="str"), timezone)[0]
    start = _local(start, timezone)
    # a date that the register cannot have known is none
    start = start.where(start.lt(today + pd.Timedelta(days=1)))
    ends = [_local(end, timezone, is_end=True) for end in (planned, permit)]
    ahead = [end.where(end.gt(today) & end.gt(start)) for end in ends]
    return pd.DataFrame(
        {
            "id": ids,
            "state": zones.get("state", nothing[zones.index]),
            "street": zones["street"],
            "lon": zones["lon"],
            "lat": zones["lat"],
            "start": start,
            "end": ahead[0].fillna(ahead[1]),
        }
    )


def _local(texts: pd.Series, timezone: str, *, is_end: bool = False) -> pd.Series:
    """Return instants in UTC of dates by ISO 8601; a day alone is its first moment in the time zone, or its end."""
    is_day = texts.str.len().eq(_DAY)
    days = pd.to_datetime(texts.where(is_day), format="%Y-%m-%d")
    if is_end:
        days += pd.Timedelta(days=1)
    first = days.dt.tz_localize(timezone, ambiguous=np.ones(len(days), dtype=bool), nonexistent="shift_forward")
    timed = pd.to_datetime(texts.mask(is_day), format="ISO8601", utc=True)
    found: pd.Series = first.dt.tz_convert("UTC").fillna(timed)
    return found
