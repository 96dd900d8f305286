"""Cells of an invented register of cores, as crews and clerks write them, and the troubles planted in it."""

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from town_map import SPELLINGS

__all__ = ["AS_OF", "COLUMNS", "TROUBLES", "Cells", "Core", "fill_cells"]

AS_OF = dt.date(2026, 9, 30)
COLUMNS = (
    "id", "lon", "lat", "acc_m", "how", "dia", "depth", "road", "surf", "cut_date", "plated", "backfill", "done",
    "reopened", "shade", "bags", "water", "temp", "bedding", "flush", "sag", "cover", "permit", "permit_to", "planned",
    "interim", "notice", "inspected", "crew", "remarks",
)  # fmt: skip

Cells = dict[str, str]


@dataclass
class Core:
    """One row of the register while it is made; x and y are metres in the CRS of the roads.

    ``room``: metres from the nearest edge or street at which the answer would be another. ``by_hand``: cells of
    a core that was placed by hand, which no other trouble may befall.
    """

    x: float
    y: float
    street: str
    surface: str
    is_done: bool
    room: float = 0
    rules: list[str] = field(default_factory=list)
    cells: Cells = field(default_factory=dict)
    extra: list[str] = field(default_factory=list)
    by_hand: Cells = field(default_factory=dict)
    diameter_mm: float = 0
    planned: dt.date | None = None


# text, millimetres, share of the cores
_DIAMETERS = (
    ("18 in", 457.2, 34), ("457", 457, 26), ('18"', 457.2, 10), ("450 mm", 450, 8), ('17 1/2"', 444.5, 4),
    ("1'6\"", 457.2, 3), ("45cm", 450, 3), ("0,46 m", 460, 2), ("Ø450 mm", 450, 3), ("600 mm", 600, 4),
    ("24 in", 609.6, 3),
)  # fmt: skip
_DEPTHS = {
    "asphalt": (
        ("6 in", 152.4, 20), ("150", 150, 20), ("8 in", 203.2, 15), ("200", 200, 12), ('8.5"', 215.9, 8),
        ("10 in", 254, 8), ("300 mm", 300, 5), ("15cm", 150, 5), ("0,2 m", 200, 4), ("100 mm", 100, 3),
    ),
    "composite": (
        ("12 in", 304.8, 30), ("300", 300, 20), ("350 mm", 350, 15), ("1 ft 2 in", 355.6, 12),
        ('14"', 355.6, 10), ("16 in", 406.4, 8), ("430 mm", 430, 5),
    ),
    "concrete": (
        ("8 in", 203.2, 35), ("200 mm", 200, 25), ('9"', 228.6, 20), ("250", 250, 15), ("7 1/2 in", 190.5, 5),
    ),
    "concrete footway": (("4 in", 101.6, 40), ("100 mm", 100, 20), ("125", 125, 20), ('5"', 127, 20)),
}  # fmt: skip
_SHADES = {"asphalt": "dark", "composite": "dark", "concrete": "pale", "concrete footway": "pale"}
# mean temperature of a working day, March to September
_DEGREES = {3: 9, 4: 11, 5: 15, 6: 20, 7: 24, 8: 23, 9: 18}
# below this grout takes longer than an hour before traffic
_COOL = 12
# radius that holds 95 % of the errors, metres: without a figure (as the programme file says), best, worst; share
_METHODS = {"rtk": (0.5, 0.3, 0.6, 45), "handset": (3.0, 0.6, 1.5, 40), "phone": (10.0, 4.0, 9.0, 15)}
_WITHOUT_METHOD = 5.0
# so much wider than its room may the error be: nineteen in twenty stay within two opposite edges
_REACH = 1.2
# side of the squares that crews go round in, and the first day of their round
_PART_M = 350
_FIRST_MONDAY = dt.date(2026, 10, 5)
# how long a plate may lie, and how soon after completion someone has to look, in days
_PLATE_DAYS = 20
_INSPECTED_BY_DAYS = 182
_SHORT = (("Street", "St"), ("Avenue", "Ave."), ("Road", "Rd"), ("Lane", "Ln"), ("Close", "Cl"))
_REMARKS = (
    "near kerb, school traffic 8 to 9", "below parking bay", "beside tree", "service saddle renewed",
    "wheel track", "bus stop, work after 20:00", "steep grade", "valve box 1 m north",
)  # fmt: skip


def _pick(rng: np.random.Generator, choices: tuple[tuple[str, float, int], ...]) -> tuple[str, float]:
    shares = np.array([share for _, _, share in choices], dtype=float)
    text, millimetres, _ = choices[int(rng.choice(len(choices), p=shares / shares.sum()))]
    return text, millimetres


def _bags(diameter_mm: float, depth_mm: float) -> float:
    """Bags to a tenth that fill a 9 mm kerf, a 38 mm pilot hole and 12.7 mm of bed, 10.2 L a bag, a fifth over."""
    kerf = math.pi * (diameter_mm - 9) * 9 * depth_mm
    pilot_and_bed = math.pi / 4 * (38**2 * depth_mm + 12.7 * diameter_mm**2)
    litres = 1.2 * (kerf + pilot_and_bed) / 1e6
    return round(litres / 10.2, 1)


def _as_typed(rng: np.random.Generator, text: str) -> str:
    """One text in eight with a stray space or in another case."""
    return (
        str(rng.choice((f" {text}", f"{text} ", text.upper(), text.lower()))) if text and rng.random() < 0.125 else text
    )


def _position_cells(rng: np.random.Generator, room: float) -> Cells:
    """How the position was taken, and its error; nothing that would leave the core in doubt."""
    shares = np.array([share for *_, share in _METHODS.values()], dtype=float)
    how = str(rng.choice(list(_METHODS), p=shares / shares.sum()))
    # the better instrument where the place asks for it
    while how != "rtk" and _METHODS[how][1] > _REACH * room:
        how = "handset" if how == "phone" else "rtk"
    without, best, worst, _ = _METHODS[how]
    accuracy = rng.uniform(best, max(best, min(worst, _REACH * room)))
    if rng.random() < 0.3 and without <= _REACH * room:
        return {"acc_m": "", "how": "" if rng.random() < 0.3 and room * _REACH >= _WITHOUT_METHOD else how}
    # rounded down
    return {"acc_m": f"{math.floor(accuracy * 10 + 1e-6) / 10:.1f}", "how": how}


def _shortened(rng: np.random.Generator, street: str) -> str:
    """One name in eight as people shorten it."""
    if rng.random() < 0.125:
        for long, short in _SHORT:
            street = street.replace(long, short)
    return street


def fill_cells(core: Core, rng: np.random.Generator, number: int, lon: float, lat: float) -> None:
    """Write the cells of one core without any trouble in them.

    Parameters
    ----------
    core
        Its surface and whether it is reinstated decide what is written.
    rng
        Source of all variety.
    number
        Number in the id.
    lon, lat
        Degrees in EPSG:4326.
    """
    diameter, diameter_mm = _pick(rng, _DIAMETERS)
    depth, depth_mm = _pick(rng, _DEPTHS.get(core.surface, _DEPTHS["asphalt"]))
    core.diameter_mm = diameter_mm
    surface = str(rng.choice(SPELLINGS[core.surface])) if rng.random() < 0.6 else ""
    texts = {
        "id": f"HV-{number:04d}",
        "road": _shortened(rng, core.street),
        "surf": surface,
        "crew": f"Crew {rng.choice(list('ABCDE'))}",
    }
    core.cells = dict.fromkeys(COLUMNS, "")
    core.cells |= {"lon": f"{lon:.7f}", "lat": f"{lat:.7f}", "dia": diameter, "depth": depth}
    core.cells |= {column: _as_typed(rng, text) for column, text in texts.items()}
    core.cells |= _position_cells(rng, core.room) | core.by_hand
    if rng.random() < 0.15:
        core.cells["remarks"] = str(rng.choice(_REMARKS))
    date = rng.choice(("%Y-%m-%d", "%d/%m/%Y", "%d.%m.%Y"), p=(0.8, 0.12, 0.08))
    opened = AS_OF - dt.timedelta(days=int(rng.integers(8, 212) if core.is_done else rng.integers(2, 31)))
    backfilled = opened + dt.timedelta(days=int(rng.integers(0, 2)))
    core.cells["cut_date"] = opened.strftime(date)
    core.cells["cover"] = f"{rng.choice((0.8, 0.9, 1.0, 1.1, 1.2, 1.6))}" if rng.random() < 0.8 else ""
    if rng.random() < 0.9:
        core.cells["permit"] = f"HV-P-26-{rng.integers(1000, 9999)}"
        core.cells["permit_to"] = (opened + dt.timedelta(days=int(rng.integers(45, 75)))).strftime(date)
    if core.is_done:
        done = backfilled + dt.timedelta(days=int(rng.integers(0, 5)))
        core.cells |= _done_cells(core.surface, done, date, _bags(diameter_mm, depth_mm), rng)
        core.cells["plated"] = backfilled.strftime(date) if done > backfilled else ""
        core.cells["backfill"] = backfilled.strftime(date)
        return
    # a crew goes round one part of the town on its weekday, in one of four weeks
    part = round(core.x / _PART_M) + 2 * round(core.y / _PART_M)
    core.planned = _FIRST_MONDAY + dt.timedelta(days=7 * int(rng.integers(0, 4)) + part % 5)
    core.cells["crew"] = f"Crew {'ABCDE'[part % 5]}"
    core.cells["planned"] = core.planned.strftime(date)
    if rng.random() < 0.85:
        core.cells["backfill"] = backfilled.strftime(date)
        core.cells["plated"] = backfilled.strftime(date) if (AS_OF - backfilled).days <= _PLATE_DAYS else ""


def _done_cells(surface: str, done: dt.date, date: str, bags: float, rng: np.random.Generator) -> Cells:
    start, end = done.strftime(date), done.strftime(date)
    degrees = int(_DEGREES[done.month] + rng.integers(-4, 6))
    if date == "%Y-%m-%d" and rng.random() < 0.5:
        hour, minute = rng.integers(8, 16), rng.integers(0, 60)
        start, end = (
            f"{start} {hour:02d}:{minute:02d}",
            f"{end} {hour + (3 if degrees < _COOL else 1):02d}:{minute:02d}",
        )
    written = f"{bags:g}"
    notice = done + dt.timedelta(days=int(rng.integers(1, 10)))
    inspected = done + dt.timedelta(days=int(rng.integers(20, 150)))
    looked = (AS_OF - done).days > _INSPECTED_BY_DAYS or rng.random() < 0.4
    return {
        "notice": notice.strftime(date) if notice <= AS_OF else "",
        "inspected": inspected.strftime(date) if looked and inspected <= AS_OF else "",
        "sag": str(rng.choice(4, p=(0.5, 0.3, 0.15, 0.05))) if looked else "",
        "done": start,
        "reopened": end,
        "shade": _as_typed(rng, _SHADES.get(surface, "dark")),
        "bags": written.replace(".", ",") if rng.random() < 0.1 else written,
        "water": f"{2 * bags:g}",
        "temp": str(degrees),
        "bedding": "25",
        "flush": str(rng.choice(4, p=(0.4, 0.35, 0.2, 0.05))),
    }


def _wrong_surface(core: Core) -> Cells:
    return {"surf": {"asphalt": "concrete", "composite": "tarmac"}.get(core.surface, "asphalt")}


def _wrong_shade(core: Core) -> Cells:
    return {"shade": "pale" if _SHADES[core.surface] == "dark" else "dark"}


def _in_degrees_and_minutes(core: Core) -> Cells:
    cells = {}
    for column, letter in (("lon", "W"), ("lat", "N")):
        # whole thousandths of a second, so that no 60.000" is written
        seconds, thousandths = divmod(round(abs(float(core.cells[column])) * 3_600_000), 1000)
        degrees, minutes = seconds // 3600, seconds // 60 % 60
        cells[column] = f"{degrees}°{minutes:02d}'{seconds % 60:02d}.{thousandths:03d}\"{letter}"
    return cells


def _with_comma(core: Core) -> Cells:
    return {column: core.cells[column].replace(".", ",") for column in ("lon", "lat")}


def _swapped(core: Core) -> Cells:
    return {"lon": core.cells["lat"], "lat": core.cells["lon"]}


def _without_sign(core: Core) -> Cells:
    return {"lon": core.cells["lon"].removeprefix("-")}


def _in_metres(core: Core) -> Cells:
    return {"lon": f"{core.x:.2f}", "lat": f"{core.y:.2f}"}


# emptied where a date is moved, so that one wrong date makes one finding
_OTHER_DATES = dict.fromkeys(("plated", "backfill", "reopened", "permit_to", "notice", "inspected"), "")
# a hole whose void everyone can work out, so that the figures beside it mean something
_SIZED = {"dia": "18 in", "depth": "8 in", "bags": "0.6", "water": "1.2"}
# rule ("" for a trap that is none), which cores can carry it ("any", "pending", "reinstated", of those "county" on a
# main road or "town" on another), the cells that carry it: one core each
TROUBLES: list[tuple[str, str, Cells | Callable[[Core], Cells]]] = [
    *[("position-missing", "any", {"lon": "", "lat": ""})] * 2,
    ("position-unreadable", "any", {"lon": "see sketch", "lat": "see sketch"}),
    ("position-unreadable", "any", {"lon": "-82.2O1"}),
    ("position-zero", "any", {"lon": "0", "lat": "0"}),
    ("position-zero", "any", {"lon": "0.0000000", "lat": "0.0000000"}),
    ("position-out-of-range", "any", {"lon": "-182.2012"}),
    ("position-out-of-range", "any", {"lat": "94.8021"}),
    *[("position-projected", "any", _in_metres)] * 2,
    *[("position-sign-lost", "any", _without_sign)] * 2,
    *[("position-swapped", "any", _swapped)] * 3,
    *[("position-decimal-comma", "any", _with_comma)] * 3,
    *[("position-dms", "any", _in_degrees_and_minutes)] * 2,
    *[("id-missing", "any", {"id": text}) for text in ("", "  ")],
    *[("diameter-missing", "any", {"dia": text}) for text in ("", "", " ")],
    *[("diameter-unreadable", "any", {"dia": text}) for text in ("about 18", "18-20 in", "large")],
    *[("diameter-implausible", "any", {"dia": text}) for text in ("18", "4570")],
    *[("depth-missing", "any", {"depth": text}) for text in ("", "", " ")],
    *[("depth-unreadable", "any", {"depth": text}) for text in ("6 or 8 in", "150-200 mm", "deep")],
    *[("depth-implausible", "any", {"depth": text}) for text in ("6", "2500")],
    *[("pavement-thin", "any", {"depth": text}) for text in ("80", "3 in")],
    ("pavement-thin", "pending", {"depth": "9cm"}),
    *[("surface-differs", "any", _wrong_surface)] * 5,
    *[("shade-differs", "reinstated", _wrong_shade)] * 3,
    *[("shade-unreadable", "reinstated", {"shade": text}) for text in ("medium", "as last time")],
    ("date-unreadable", "reinstated", {"cut_date": "31/02/2026"}),
    ("date-unreadable", "reinstated", {"reopened": "same day"}),
    ("date-unreadable", "pending", {"plated": "", "backfill": "09/22/2026"}),
    ("date-unreadable", "pending", {"planned": "mid October"}),
    ("date-unreadable", "pending", {"permit_to": "until revoked"}),
    *[
        (
            "reinstatement-date-unreadable",
            "reinstated",
            _OTHER_DATES | {"cut_date": "2026-09-14", "done": text},
        )
        for text in ("done", "31/09/2026")
    ],
    *[("date-implausible", "reinstated", {"cut_date": text}) for text in ("1926-07-14", "1900-01-01")],
    ("date-in-future", "pending", _OTHER_DATES | {"cut_date": "2026-10-14", "planned": "2026-10-26"}),
    ("date-in-future", "reinstated", _OTHER_DATES | {"cut_date": "2026-09-21", "done": "2026-12-23"}),
    (
        "dates-out-of-order",
        "reinstated",
        _OTHER_DATES | {"cut_date": "2026-06-18", "done": "2026-06-08", "notice": "2026-06-12"},
    ),
    (
        "dates-out-of-order",
        "reinstated",
        _OTHER_DATES
        | {"cut_date": "20.07.2026", "backfill": "02.07.2026", "done": "22.07.2026", "notice": "24.07.2026"},
    ),
    *[
        ("open-too-long", "pending", _OTHER_DATES | {"cut_date": text})
        for text in ("2026-08-30", "12/08/2026", "2026-06-03", "2025-11-20")
    ],
    *[
        ("value-unreadable", "reinstated", {column: text})
        for column, text in (("bags", "half"), ("water", "full bucket"), ("temp", "warm"), ("flush", "ok"))
    ],
    *[
        ("grout-short", "reinstated", _SIZED | {"bags": bags, "water": water})
        for bags, water in (("0.25", "0.5"), ("0,2", "0.4"))
    ],
    ("grout-long", "reinstated", _SIZED | {"bags": "2.5", "water": "5.0"}),
    *[("water-ratio-off", "reinstated", _SIZED | {"water": water}) for water in ("1.6", "0.8")],
    ("air-temperature-outside", "reinstated", {"temp": "35"}),
    (
        "air-temperature-outside",
        "reinstated",
        _OTHER_DATES | {"cut_date": "2026-04-07", "done": "2026-04-09", "notice": "2026-04-13", "temp": "2"},
    ),
    *[("bedding-off", "reinstated", {"bedding": bedding}) for bedding in ("10", "45")],
    *[("flush-out-of-tolerance", "reinstated", {"flush": flush}) for flush in ("8", "-7")],
    ("flush-out-of-tolerance", "county", {"flush": "4"}),
    ("", "town", {"flush": "4"}),
    ("surface-depression", "reinstated", _SIZED | {"sag": "15", "flush": "0"}),
    ("", "reinstated", _SIZED | {"sag": "12", "flush": "1"}),
    ("depression-with-step", "town", _SIZED | {"sag": "11", "flush": "3.5"}),
    (
        "plated-too-long",
        "pending",
        {"cut_date": "2026-09-05", "plated": "2026-09-06", "backfill": "2026-09-06", "permit_to": "2026-11-05"},
    ),
    ("interim-too-old", "pending", _OTHER_DATES | {"cut_date": "2026-02-20", "interim": "2026-03-02"}),
    ("", "pending", _OTHER_DATES | {"cut_date": "2026-06-20", "interim": "2026-06-22"}),
    *[("permit-expired", "pending", {"permit_to": text}) for text in ("2026-09-29", "15/09/2026")],
    (
        "reinstated-without-permit",
        "reinstated",
        _OTHER_DATES
        | {"cut_date": "2026-06-08", "done": "2026-06-30", "notice": "2026-07-03", "permit_to": "2026-06-22"},
    ),
    *[
        (
            "reopened-too-soon",
            "reinstated",
            _OTHER_DATES
            | {"cut_date": "2026-04-13", "notice": "2026-04-17", "temp": "7"}
            | {"done": f"2026-04-14 {start}", "reopened": f"2026-04-14 {end}"},
        )
        for start, end in (("10:05", "10:45"), ("14:30", "15:40"))
    ],
    *[
        ("notice-late", "reinstated", _OTHER_DATES | {"cut_date": "2026-07-27", "done": "2026-07-29", "notice": notice})
        for notice in ("2026-09-02", "")
    ],
    (
        "guarantee-ending",
        "reinstated",
        _OTHER_DATES
        | {"cut_date": "2024-10-07", "done": "2024-10-11", "notice": "2024-10-15", "inspected": "2025-02-03"}
        | {"permit_to": "2024-11-20", "cover": "0.9"},
    ),
    (
        "inspection-missed",
        "reinstated",
        _OTHER_DATES | {"cut_date": "2026-03-09", "done": "2026-03-11", "notice": "2026-03-16"},
    ),
]
