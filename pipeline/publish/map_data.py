"""Frames packed into the JSON columns that the map page reads.

Positions become Web-Mercator integers, 2**30 to the width of the world (3.7 cm at the equator): for drawing
only, never for measuring. Placed cores stand in Morton order, so that every map tile is a few runs of rows.
"""

import json
from typing import Any

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.errors import ContractError
from pipeline.order import NO_DISTRICT

__all__ = [
    "STATUSES",
    "pack_cores",
    "pack_district_rows",
    "pack_roads",
    "pack_unplaced",
    "page_order",
    "shown_text",
    "to_json",
]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

STATUSES = ("flagged", "pending", "reinstated")
SEVERITIES = ("fail", "check", "note")
WORLD = 2**30
# Web Mercator is square only up to here; a core nearer a pole is drawn on the edge.
MERCATOR_LIMIT = 85.05
# A register cell can hold a whole file; the tables keep all of it, the page shows its beginning.
TEXT_LIMIT = 400
# Half a metre in degrees of latitude: finer than any line on the page is wide.
ROAD_TOLERANCE = 5e-6

CARD_TEXTS = (
    "core_id",
    "segment_id",
    "street",
    "side",
    "surface",
    "surface_from",
    "runner_up_id",
    "runner_up_street",
    "surface_next",
    "district",
    "shade",
    "bedding",
    "opened_on",
    "reinstated_at",
)
CARD_NUMBERS = {
    "diameter_mm": 1,
    "depth_mm": 1,
    "chainage_m": 1,
    "offset_m": 1,
    "grout_l": 1,
    "grout_kg": 1,
    "bags": 2,
    "water_l_needed": 1,
    "gravel_kg": 1,
    "segment_confidence": 3,
    "runner_up_confidence": 3,
    "surface_confidence": 3,
    "surface_next_confidence": 3,
}
ORDER_COLUMNS = ("period", "item", "unit", "needed", "order", "reserve", "packs")

# JSON that cannot end its script element, open a comment in it, or break an old script parser's line.
ESCAPES = {ord(c): f"\\u{ord(c):04x}" for c in "<>&\u2028\u2029"}


def to_json(value: object) -> str:
    """Return JSON that is safe between script tags; a number that is not finite raises ``ValueError``."""
    return json.dumps(value, allow_nan=False, separators=(",", ":")).translate(ESCAPES)


def shown_text(value: object) -> str:
    """Return a text as the page shows it: whole up to the limit, else its beginning and its length."""
    text = str(value)
    if len(text) <= TEXT_LIMIT:
        return text
    return f"{text[:TEXT_LIMIT]}… ({len(text):,} characters in all)"


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
    """Return the rows of ``cores`` (by place) in the page's order, and how many of them are placed.

    The placed ones come first, in Morton order, ties by their place in the register; the unplaced follow.
    """
    lon, lat = _floats(cores["lon"]), _floats(cores["lat"])
    is_placed = np.isfinite(lon) & np.isfinite(lat)
    placed = np.flatnonzero(is_placed)
    x, y = mercator(lon[placed], lat[placed])
    morton = np.argsort(_spread(x) | (_spread(y) << np.uint64(1)), kind="stable")
    return np.concatenate([placed[morton], np.flatnonzero(~is_placed)]), placed.size


def pack_cores(
    cores: pd.DataFrame, findings: pd.DataFrame, order: Ints, placed: int
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return what draws the cores (position, status) and what their cards say, both in the page's order."""
    rows = cores.iloc[order]
    x, y = mercator(_floats(rows["lon"])[:placed], _floats(rows["lat"])[:placed])
    status = pd.Index(STATUSES).get_indexer(pd.Index(rows["status"]))
    if (status < 0).any():
        strange = sorted(set(rows["status"][status < 0].map(str)))
        msg = f"cores: status {strange} found, one of {list(STATUSES)} expected."
        raise ContractError(msg)
    drawing = {"x": _deltas(x), "y": _deltas(y), "status": "".join(map(str, status))}
    cards = {
        "row": rows["row"].astype(int).tolist(),
        "text": {name: _pack_text(rows[name]) for name in CARD_TEXTS},
        "number": {name: _pack_number(rows[name], digits) for name, digits in CARD_NUMBERS.items()},
        "findings": _pack_findings(rows["row"], findings),
    }
    return drawing, cards


def _pack_findings(rows: pd.Series, findings: pd.DataFrame) -> dict[str, Any]:
    place = pd.Index(rows).get_indexer(pd.Index(findings["row"]))
    if (place < 0).any():
        strange = findings["row"][place < 0].iloc[0]
        msg = f"findings: row {strange} is not in the cores; every finding is about one of their rows."
        raise ContractError(msg)
    rank = pd.Index(SEVERITIES).get_indexer(pd.Index(findings["severity"]))
    by_core = np.lexsort((np.arange(len(findings)), rank, place))
    sorted_findings = findings.iloc[by_core]
    return {
        "core": _deltas(place[by_core].astype(np.int64)),
        "severity": _pack_text(sorted_findings["severity"]),
        "rule": _pack_text(sorted_findings["rule"]),
        "message": _pack_text(sorted_findings["message"]),
    }


def pack_unplaced(cores: pd.DataFrame, order: Ints, placed: int) -> list[int]:
    """Return how many of the unplaced cores have each status, in the order of ``STATUSES``."""
    return _count_statuses(cores.iloc[order[placed:]])


def _count_statuses(cores: pd.DataFrame) -> list[int]:
    counts = cores["status"].value_counts()
    return [int(counts.get(status, 0)) for status in STATUSES]


def pack_roads(segments: gpd.GeoDataFrame) -> tuple[dict[str, Any], Floats]:
    """Return the road segments for drawing, and their vertices in degrees (n x 2) for the first view."""
    geometry = np.asarray(segments.geometry.array, dtype=object)
    parts, owner = shapely.get_parts(shapely.simplify(geometry, ROAD_TOLERANCE), return_index=True)
    is_line = (shapely.get_type_id(parts) == shapely.GeometryType.LINESTRING) & ~shapely.is_empty(parts)
    is_line &= np.isfinite(shapely.bounds(parts)).all(axis=1)
    parts, owner = parts[is_line], owner[is_line]
    vertices = shapely.get_coordinates(parts)
    x, y = mercator(vertices[:, 0], vertices[:, 1])
    lines = segments.iloc[owner]
    roads = {
        "vertices": shapely.get_num_coordinates(parts).tolist(),
        "x": _deltas(x),
        "y": _deltas(y),
        "id": _pack_text(lines["segment_id"]),
        "street": _pack_text(lines["street"]),
        "surface": _pack_text(lines["surface"]),
    }
    return roads, vertices


def pack_district_rows(
    cores: pd.DataFrame, orders: pd.DataFrame, places: dict[str, dict[str, Any]]
) -> list[dict[str, Any]]:
    """Return one entry a district: its counts by status, its order lines, its place; "no district" last."""
    served = orders["district"].mask(orders["district"] == NO_DISTRICT)
    written = [column.dropna().map(str) for column in (cores["district"], served)]
    names: list[str | None] = sorted({*places, *written[0], *written[1]})
    if cores["district"].isna().any() or served.isna().any():
        names.append(None)
    counts = pd.crosstab(cores["district"].astype("str").fillna(""), cores["status"])
    counts = counts.reindex(columns=list(STATUSES), fill_value=0)
    counted = dict(zip(counts.index, counts.to_numpy().tolist(), strict=True))
    lines: dict[str | None, list[list[Any]]] = {}
    for name, record in zip(served, orders[list(ORDER_COLUMNS)].itertuples(index=False, name=None), strict=True):
        lines.setdefault(None if pd.isna(name) else str(name), []).append([_cell(value) for value in record])
    return [
        {
            "name": None if name is None else shown_text(name),
            "counts": counted.get(name or "", [0, 0, 0]),
            "orders": lines.get(name, []),
            **places.get(name or "", {}),
        }
        for name in names
    ]


def _cell(value: object) -> str | float | None:
    if isinstance(value, (int, float, np.integer, np.floating)):
        return round(float(value), 2) if np.isfinite(value) else None
    return None if pd.isna(value) else shown_text(value)  # type: ignore[call-overload]


def _floats(column: pd.Series) -> Floats:
    return column.to_numpy(dtype=np.float64, na_value=np.nan)


def _deltas(values: Ints) -> list[int]:
    return [int(v) for v in np.diff(values, prepend=0)]


def _pack_text(column: pd.Series) -> dict[str, Any]:
    codes, words = pd.factorize(column)
    return _pack([shown_text(word) for word in words], codes)


def _pack_number(column: pd.Series, digits: int) -> dict[str, Any]:
    rounded = np.round(_floats(column), digits)
    codes, numbers = pd.factorize(np.where(np.isfinite(rounded), rounded, np.nan))
    return _pack([int(n) if n == int(n) else float(n) for n in numbers], codes)


def _pack(words: list[Any], codes: npt.NDArray[np.intp]) -> dict[str, Any]:
    """Repeated values as a list of words and one code a row (-1 is missing), others as they stand."""
    if len(words) * 2 > len(codes):
        lookup = np.array([*words, None], dtype=object)
        return {"plain": lookup[codes].tolist()}
    return {"words": words, "codes": codes.tolist()}
