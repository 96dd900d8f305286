"""Findings, cores and decisions, small enough to read at a glance."""

import pandas as pd

from pipeline.contracts.decisions import ENTRY_TEXTS
from pipeline.intake.corrections import CORRECTED

URGENCIES = {"open-too-long": "overdue", "flush-out-of-tolerance": "hazard", "position-rounded": "record"}

CORES = pd.DataFrame(
    [
        (1, "HV 1", "works", "Quay Road", "Quay Rd", "North"),
        (2, "HV 2", "works", None, "Mill  Lane", "North"),
        (3, "HV 3", "paving", "Mill Lane", None, "South"),
    ],
    columns=["row", "core_id", "register", "street_matched", "street", "district"],
)
# rows 1 to 3 each have the note; core 1 is a hazard too, and core 2 has been open too long
FINDINGS = pd.DataFrame(
    [
        (1, "flush-out-of-tolerance", "F1", "step 9"),
        (1, "position-rounded", "F2", "step 11"),
        (2, "open-too-long", "F3", "day 1"),
        (2, "position-rounded", "F4", "step 11"),
        (3, "position-rounded", "F5", "step 11"),
    ],
    columns=["row", "rule", "fingerprint", "evidence_mark"],
)


def entry(**cells):
    """Return one entry that holds; days as texts."""
    return {
        "decision": "accept",
        "decided_by": "J. Okafor",
        "reason": "seen on site",
        "decided_on": "2026-09-01",
    } | cells


def entries(*rows):
    """Return entries as intake hands them on, those of one file from line 2 on."""
    frame = pd.DataFrame(rows).reindex(
        columns=["file", "line", *ENTRY_TEXTS, "decided_on", "until", "day_first", "standing", "problem"]
    )
    texts = [*ENTRY_TEXTS, "standing", "problem"]
    frame[texts] = frame[texts].astype("str")
    for name in ("decided_on", "until"):
        frame[f"{name}_text"] = frame[name].astype("str")
        frame[name] = pd.to_datetime(frame[name])
    return frame.assign(file="decisions.csv", line=range(2, len(frame) + 2), standing=frame["standing"].fillna("holds"))


def corrected(*rows):
    """Return cells that entries correct."""
    return pd.DataFrame([dict(zip(CORRECTED, row)) for row in rows], columns=list(CORRECTED))
