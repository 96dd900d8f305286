"""A rehearsal with counts written by hand."""

import datetime as dt

import pandas as pd

from pipeline.programme.settings import Settings
from pipeline.rehearse.kinds import KINDS
from pipeline.rehearse.result import Rehearsal, by_kind
from pipeline.rehearse.score import tally_sizes

HOSTILE = '=1+1<script>alert(1)</script>"\x1b[2J'


def _faults():
    """20 slips of 12 m, of which 5 are found, 10 of 2 km, all found; 6 ids with letters that nobody finds."""
    kinds = ["digits-exchanged-x"] * 30 + ["letter-in-id"] * 6
    outcomes = ["found"] * 5 + ["missed"] * 14 + ["noticed"] + ["found"] * 10 + ["missed"] * 6
    moved = [12.0] * 20 + [2000.0] * 10 + [0.0] * 6
    return pd.DataFrame(
        {
            "row": range(1, 37), "core_id": HOSTILE, "kind": kinds, "written": "1 \N{RIGHTWARDS ARROW} 2",
            "outcome": outcomes, "found_by": "", "noticed_by": "", "moved_m": moved, "blamed": [3, *[0] * 35], "audit": 1,
        }
    )  # fmt: skip


def rehearsal(accuracy_m=5.0, name=HOSTILE):
    """Return a rehearsal whose counts were written by hand."""
    faults = _faults()
    lacks = {kind.name: ["bags_used"] if "bags_used" in kind.spoils else [] for kind in KINDS}
    settings = Settings.model_validate(
        {"programme": {"name": name}, "cores": {"path": "cores.csv"}, "roads": {"path": "roads.gpkg"}}
    )
    return Rehearsal(
        settings=settings, as_of=dt.date(2026, 9, 30), seed=4, rows=1234, audits=2, faults=faults,
        kinds=by_kind(faults, KINDS, lacks), sizes=tally_sizes(faults, KINDS),
        remedies=pd.DataFrame({"input": ["street"], "faults": [7], "rules": ["street-differs"]}),
        narrower=pd.DataFrame({"rule": ["depth-implausible"], "low_mm": [80.0], "high_mm": [1430.0], "faults": [3], "cores": [12]}),
        accuracy_m=accuracy_m, accuracy_from="programme", inaccurate=2,
    )  # fmt: skip
