"""Cores and findings packed into the columns that the map page reads.

Positions become Web-Mercator integers, 2**30 to the width of the world (3.7 cm at the equator): for drawing
only, never for measuring. Cores with a position are in Morton order, so that every map tile is a few runs of rows.
"""

import json
from itertools import chain
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.contracts import AUDIT_FRAME, STATUSES
from pipeline.errors import ContractError
from pipeline.publish.acceptance import accepted_until
from pipeline.publish.map.packing import (
    Ints,
    Packed,
    as_days,
    bundle,
    distinct_rows,
    pack_ids,
    pack_ints,
    pack_numbers,
    pack_texts,
)
from pipeline.publish.urgent_first import finding_ranks

__all__ = [
    "HAZARD",
    "SECOND_CHOICES",
    "UNKNOWN_STATE_RULES",
    "UNSURE_RULES",
    "count_statuses",
    "mercator",
    "pack_cards",
    "pack_drawing",
    "page_order",
    "position_step",
    "to_json",
]

Floats = npt.NDArray[np.float64]

# a core with one of these findings is drawn hollow: its street, surface or district is uncertain
UNSURE_RULES: Final = ("road-uncertain", "surface-uncertain", "district-uncertain")
# of a core with one of these findings nobody knows whether it is open or reinstated
UNKNOWN_STATE_RULES: Final = ("reinstatement-date-unreadable",)
WORLD: Final = 2**30
# with more cores than this, positions keep every fourth integer: off by 8 cm at most instead of 2 cm, so that the file
# can be mailed
MANY: Final = 500_000
MANY_STEP: Final = 4
# degrees of latitude: the edge of the square Web Mercator map; a core nearer a pole is drawn on the edge
MERCATOR_LIMIT: Final = 85.05

# columns that depend on one another: each group is written once per distinct row
GROUPS: Final[dict[str, tuple[str, ...]]] = {
    "segment": ("segment_id", "street", "district", "surface", "surface_from", "shade", "bedding"),
    "runner_up": ("runner_up_id", "runner_up_street"),
    "need": (
        "diameter_mm",
        "depth_mm",
        "grout_l",
        "grout_kg",
        "bags",
        "water_l_needed",
        "gravel_kg",
        "core_kg",
    ),
    "surface_next": ("surface_next", "surface_confidence", "surface_next_confidence"),
    "confidence": ("segment_confidence", "runner_up_confidence"),
    # day and crew of the plan: in the map of a run alone
    "plan": ("planned",),
}
# columns that the map shows beside the table's, each with the column of the table that it is handed over with
SECOND_CHOICES: Final = {
    "runner_up_street": "runner_up_id",
    "runner_up_confidence": "runner_up_id",
    "surface_next": "surface_confidence",
    "surface_next_confidence": "surface_confidence",
}
ALONE: Final = ("side", "chainage_m", "offset_m", "state", "urgency")
# a core with this urgency is marked on the map
HAZARD: Final = "hazard"
IDS: Final = ("segment_id", "runner_up_id")
DIGITS: Final = {
    name: AUDIT_FRAME[name].shown_digits
    for name in (*chain(*GROUPS.values()), *ALONE)
    if name in AUDIT_FRAME and AUDIT_FRAME[name].kind == "number"
}

# so that JSON cannot end its script element, open a comment in it, or break an old script parser's line
ESCAPES = {ord(c): f"\\u{ord(c):04x}" for c in "<>&\u2028\u2029"}


def to_json(value: object) -> str:
    """Return JSON that is safe between script tags.

    Raises
    ------
    ValueError
        A number is not finite.
    """
    return json.dumps(value, allow_nan=False, separators=(",", ":")).translate(ESCAPES)


def mercator(lon: Floats, lat: Floats) -> tuple[Ints, Ints]:
    """Return the drawing integers of positions in degrees (EPSG:4326)."""
    sine = np.sin(np.radians(np.clip(lat, -MERCATOR_LIMIT, MERCATOR_LIMIT)))
    x = (lon + 180) / 360
    y = 0.5 - np.arctanh(sine) / (2 * np.pi)
    return _to_world(x), _to_world(y)


def _to_world(share: Floats) -> Ints:
    return np.clip(np.rint(share * WORLD), 0, WORLD - 1).astype(np.int64)


def _spread(values: Ints) -> npt.NDArray[np.uint64]:
    spread = values.astype(np.uint64)
    for shift, mask in (
        (16, 0x0000FFFF0000FFFF),
        (8, 0x00FF00FF00FF00FF),
        (4, 0x0F0F0F0F0F0F0F0F),
        (2, 0x3333333333333333),
        (1, 0x5555555555555555),
    ):
        spread = (spread | (spread << np.uint64(shift))) & np.uint64(mask)
    return spread


def page_order(cores: pd.DataFrame) -> tuple[Ints, int]:
    """Return the positions of the rows of ``cores`` in the page's order, and how many have coordinates.

    Those with coordinates come first, in Morton order, ties in the order of the register; the others follow.
    """
    lon, lat = floats(cores["lon"]), floats(cores["lat"])
    is_placed = np.isfinite(lon) & np.isfinite(lat)
    placed = np.flatnonzero(is_placed)
    x, y = mercator(lon[placed], lat[placed])
    morton = np.argsort(_spread(x) | (_spread(y) << np.uint64(1)), kind="stable")
    return np.concatenate([placed[morton], np.flatnonzero(~is_placed)]), placed.size


def position_step(placed: int) -> int:
    """Return the spacing of the drawing integers that positions are kept to."""
    return MANY_STEP if placed > MANY else 1


def pack_drawing(cores: pd.DataFrame, findings: pd.DataFrame, order: Ints, placed: int) -> str:
    """Return what draws the cores: position, status, whether street, surface or district is uncertain, and hazards.

    Raises
    ------
    ContractError
        A status is unknown.
    """
    rows = cores[["row", "lon", "lat", "status"]].iloc[order]
    hazard = cores["urgency"].eq(HAZARD).to_numpy()[order] if "urgency" in cores else np.zeros(len(order), dtype=bool)
    x, y = mercator(floats(rows["lon"])[:placed], floats(rows["lat"])[:placed])
    step = position_step(placed)
    status = pd.Index(STATUSES).get_indexer(pd.Index(rows["status"]))
    if (status < 0).any():
        strange = sorted(set(rows["status"][status < 0].map(str)))
        raise ContractError(f"map: status {strange} found in the cores, one of {list(STATUSES)} expected.")
    unsure = rows["row"].isin(findings["row"][findings["rule"].isin(UNSURE_RULES)]).to_numpy()
    return bundle(
        {
            # truncated, not rounded, or some would leave their square and the Morton order
            "x": pack_ints(x // step, times=step, shift=step // 2),
            "y": pack_ints(y // step, times=step, shift=step // 2),
            "status": pack_ints(status.astype(np.int64)),
            "unsure": pack_ints(unsure.astype(np.int64)),
            "hazard": pack_ints(hazard.astype(np.int64)),
        }
    )


def pack_cards(cores: pd.DataFrame, findings: pd.DataFrame, order: Ints) -> str:
    """Return what cards, filter and table show of the cores, in the page's order; absent columns are left out.

    Raises
    ------
    ContractError
        A finding is about a row that is not in the cores.
    """
    rows = cores.iloc[order]
    row = rows["row"].to_numpy(dtype=np.int64)
    columns, number = pack_ids("core_id", rows["core_id"])
    # of a register whose ids are numbered like its rows, the row costs nothing
    columns["row"] = pack_ints(row) if number is None else pack_ints(row - number, plus="core_id number")
    by_row = np.argsort(row, kind="stable")
    for group, every in GROUPS.items():
        names = [name for name in every if name in cores]
        if not names:
            continue
        codes, table = distinct_rows(_rounded(cores[names]), order)
        columns[group] = pack_ints(codes)
        for name in names:
            columns |= _in_group(_pack(table, name), group)
    for name in ALONE:
        if name in rows:
            columns |= _pack(rows, name)
    columns |= _pack_days(rows, by_row)
    columns |= _pack_findings(rows["row"], findings)
    return bundle(columns)


def _pack_days(rows: pd.DataFrame, by_row: Ints) -> dict[str, Packed]:
    columns = {}
    # registers are mostly kept by date: in their order a day is a small step from the day before
    opened = as_days(rows["opened_on"]) if "opened_on" in rows else None
    if opened is not None:
        columns["opened_on"] = pack_numbers(pd.Series(opened[by_row]), 0, by_row=True)
    if "reinstated_at" in rows:
        reinstated = as_days(rows["reinstated_at"])
        columns["reinstated_at"] = (
            pack_numbers(pd.Series(reinstated), 0)
            if opened is None
            else pack_numbers(pd.Series(reinstated - np.nan_to_num(opened)), 0, since="opened_on")
        )
    return columns


def _rounded(frame: pd.DataFrame) -> pd.DataFrame:
    return frame.assign(**{name: np.round(floats(frame[name]), DIGITS[name]) for name in frame if name in DIGITS})


def _pack(frame: pd.DataFrame, name: str) -> dict[str, Packed]:
    if name in IDS:
        return pack_ids(name, frame[name])[0]
    return {name: pack_numbers(frame[name], DIGITS[name]) if name in DIGITS else pack_texts(frame[name])}


def _in_group(columns: dict[str, Packed], group: str) -> dict[str, Packed]:
    for packed in columns.values():
        packed.how["group"] = group
    return columns


def _pack_findings(rows: pd.Series, findings: pd.DataFrame) -> dict[str, Packed]:
    core = pd.Index(rows).get_indexer(pd.Index(findings["row"]))
    if (core < 0).any():
        strange = findings["row"][core < 0].iloc[0]
        raise ContractError(f"map: a finding is about row {strange}, which is not in the cores.")
    ranks = finding_ranks(findings)
    keys = [ranks[name].to_numpy() for name in ("severity", "urgency", "accepted")]
    by_core = np.lexsort((np.arange(len(findings)), *keys, core))
    ordered = findings.iloc[by_core]
    columns = {
        "finding_core": pack_ints(core[by_core].astype(np.int64)),
        "finding_severity": pack_texts(ordered["severity"]),
        "finding_rule": pack_texts(ordered["rule"]),
        "finding_message": pack_texts(ordered["message"]),
    }
    if "urgency" in ordered:
        columns["finding_urgency"] = pack_texts(ordered["urgency"])
    until = accepted_until(ordered)
    if until.notna().any():
        columns["finding_accepted"] = pack_texts(until)
    return columns


def count_statuses(cores: pd.DataFrame) -> list[int]:
    """Return how many cores have each status, in the order of ``STATUSES``."""
    counts = cores["status"].value_counts()
    return [int(counts.get(status, 0)) for status in STATUSES]


def floats(column: pd.Series) -> Floats:
    """Return a column of numbers with NaN where it is missing."""
    return column.to_numpy(dtype=np.float64, na_value=np.nan)
