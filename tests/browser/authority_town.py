"""The small town as a road authority is handed it: two authorities, works, permits, and what changed since last time."""

import datetime as dt
from pathlib import Path

import geopandas as gpd
import pandas as pd
import shapely

from tests.browser.town import EAST, MIDDLE, STREET, WEST, cores, findings, saved, view

# row: authority, district, street, state, urgency (of a finding), permit and the day it expires
TABLE = [
    ("Vale County", "Old Harbour", "Capstan Street", "open", "hazard", "P-1", "2026-11-24"),
    ("Vale County", "Old Harbour", "Capstan Street", "plated", "overdue", "P-2", "2026-11-25"),
    ("Vale County", "Old Harbour", "Dory Lane", "interim", None, "P-2", "2026-11-25"),
    ("Port Trust", "Saltmarsh", "Dory Lane", "open", "hazard", "P-3", None),
    ("Port Trust", "Saltmarsh", "Dory Lane", "back", "quality", None, None),
    (None, None, None, "unknown", None, None, None),
]
STATUS = {"back": "reinstated", "unknown": "flagged"}
RULE = {"hazard": "open-uncovered", "overdue": "permit-expired", "quality": "flush-out-of-tolerance"}


def authority_cores() -> pd.DataFrame:
    rows = []
    for n, (_, district, street, state, _, _, _) in enumerate(TABLE):
        placed = {} if street is None else {"lon": WEST + 0.001 * (n + 1), "lat": STREET}
        done = {"reinstated_at": "2026-11-02"} if state == "back" else {}
        segment = None if street is None else f"HV-{1 + (street == 'Dory Lane')}"
        rows.append(
            {"status": STATUS.get(state, "pending"), "district": district, "street": street, "segment_id": segment}
            | placed
            | done
        )
    columns = {
        "road_authority": 0,
        "state": 3,
        "urgency": 4,
        "permit_no": 5,
        "permit_expires_on": 6,
    }
    return cores(*rows).assign(**{name: [row[at] for row in TABLE] for name, at in columns.items()})


def authority_town(folder: Path, **changes: object) -> Path:
    found = [(n, RULE[row[4]], "fail", "A sentence.") for n, row in enumerate(TABLE, start=1) if row[4]]
    works = gpd.GeoDataFrame(
        {
            "works_id": ["W1", "W2"],
            "kind": ["planned", "protected"],
            "name": ["Resurfacing of Dory Lane", None],
            "on": ["2027-03-01", None],
            "until": [None, "2027-06-30"],
        },
        geometry=[shapely.box(MIDDLE, STREET, EAST, STREET + 0.001), shapely.box(WEST, STREET, MIDDLE, STREET + 0.001)],
        crs=4326,
    )
    usual = {
        "cores": authority_cores(),
        "findings": findings(*found).assign(urgency=[row[4] for row in TABLE if row[4]]),
        "unplaced": 1,
        "reader": "authority",
        "since": dt.date(2026, 10, 25),
        "changes": pd.DataFrame({"row": [1, 4, 5, 5], "change": ["opened", "opened", "closed", "cleared finding"]}),
        "works": works,
        "in_works": pd.DataFrame({"row": [3, 4, 5, 1], "works_id": ["W1", "W1", "W1", "W2"]}),
        "short_words": {"street": "st", "lane": "ln"},
    }
    return saved(folder, view(**(usual | changes)))
