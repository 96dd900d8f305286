"""Small runs for the tests of comparisons."""

import numpy as np
import pandas as pd

from pipeline.history import Side

__all__ = ["CORE", "FLAG", "run_of"]

CORE = {
    "core_id": "A", "diameter_mm": 450.0, "depth_mm": 200.0, "status": "pending", "findings": "", "segment_id": "S1",
    "street": "Mill Street", "surface": "asphalt", "district": "Old Market", "shade": "dark", "bags": 0.75,
    "lon": -82.19, "lat": 44.80, "state": "open", "urgency": None,
    "permit": "P-1 to 2026-11-30", "done": None, "fails": "", "copy_of": None,
}  # fmt: skip

_NAMES_OF_TEXT = (
    "core_id",
    "status",
    "findings",
    "segment_id",
    "street",
    "surface",
    "district",
    "shade",
    "state",
    "urgency",
    "permit",
    "done",
    "fails",
)


def run_of(*cores):
    """A run of the cores given, each like CORE except for the values given; ``fails`` are the slugs that flag it."""
    kinds = {name: "str" if name in _NAMES_OF_TEXT else "float64" for name in CORE}
    table = pd.DataFrame([CORE | core for core in cores], columns=list(CORE)).astype(kinds)
    table.insert(0, "row", np.arange(1, len(table) + 1))
    found = [
        {"row": str(row), "rule": slug, "severity": "fail" if slug in fails.split(";") else "check"}
        for row, slugs, fails in zip(table["row"], table["findings"], table["fails"])
        for slug in slugs.split(";")
        if slug
    ]
    findings = pd.DataFrame(found, columns=["row", "rule", "severity"], dtype="str")
    return Side(table.drop(columns=["done", "fails"]), findings, table["done"])


FLAG = {"status": "flagged", "findings": "off-network", "fails": "off-network"}
