"""The cells of an invented register of cores, as crews and clerks write them, without any trouble in them."""

import datetime as dt
import math
from dataclasses import dataclass, field

import numpy as np
from town_map import SPELLINGS

__all__ = ["AS_OF", "COLUMNS", "SHADES", "Cells", "Core", "fill_cells"]

AS_OF = dt.date(2026, 9, 30)
COLUMNS = (
    "id", "lon", "lat", "acc_m", "how", "dia", "depth", "road", "surf", "cut_date", "plated", "backfill", "done",
    "reopened", "shade", "bags", "water", "temp", "bedding", "flush", "sag", "cover", "condition", "permit",
    "permit_to", "planned", "interim", "notice", "inspected", "crew", "remarks",
)  # fmt: skip

Cells = dict[str, str]


@dataclass
class Core:
    """One row of the register while it is made.

    ``x``, ``y``: metres in the CRS of the roads. ``room``: metres to the nearest edge or street beyond which the answer
    would differ. ``rules``: the findings it is to have. ``extra``: cells beyond the last column. ``by_hand``: the cells
    of a core placed by hand, in which no other trouble is planted.
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


# text, millimetres, weight in the draw
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
SHADES = {"asphalt": "dark", "composite": "dark", "concrete": "pale", "concrete footway": "pale"}
# mean temperature of a working day, March to September
_DEGREES = {3: 9, 4: 11, 5: 15, 6: 20, 7: 24, 8: 23, 9: 18}
# degrees Celsius below which the grout needs more than an hour before traffic
_COOL = 12
# metres, radius that holds 95 % of the errors: the programme file's figure for the method, best, worst; then the weight
_METHODS = {"rtk": (0.5, 0.3, 0.6, 45), "handset": (3.0, 0.6, 1.5, 40), "phone": (10.0, 4.0, 9.0, 15)}
_WITHOUT_METHOD = 5.0
# the error may be this much wider than the room: 19 in 20 stay within two opposite edges
_REACH = 1.2
# side of the squares that crews work in, and the first day of their round
_PART_M = 350
_FIRST_MONDAY = dt.date(2026, 10, 5)
# days that work on a hole may take before it is covered, days a plate may stay, with an interim reinstatement after
# them, and days after completion by which an inspection is due
_AT_WORK_DAYS = 5
_PLATE_DAYS = 20
_INSPECTED_BY_DAYS = 182
_SHORT = (("Street", "St"), ("Avenue", "Ave."), ("Road", "Rd"), ("Lane", "Ln"), ("Close", "Cl"))
_REMARKS = (
    "near kerb, school traffic 8 to 9", "below parking bay", "beside tree", "service saddle renewed",
    "wheel track", "bus stop, work after 20:00", "steep grade", "valve box 1 m north",
)  # fmt: skip


def _pick(rng: np.random.Generator, choices: tuple[tuple[str, float, int], ...]) -> tuple[str, float]:
    """Draw one size: its text and its millimetres."""
    shares = np.array([share for _, _, share in choices], dtype=float)
    text, millimetres, _ = choices[int(rng.choice(len(choices), p=shares / shares.sum()))]
    return text, millimetres


def _bags(diameter_mm: float, depth_mm: float) -> float:
    """Return the bags, to a tenth, for a 9 mm kerf, a 38 mm pilot hole and a 12.7 mm bed: 10.2 L per bag, 20 % over."""
    kerf = math.pi * (diameter_mm - 9) * 9 * depth_mm
    pilot_and_bed = math.pi / 4 * (38**2 * depth_mm + 12.7 * diameter_mm**2)
    litres = 1.2 * (kerf + pilot_and_bed) / 1e6
    return round(litres / 10.2, 1)


def _as_typed(rng: np.random.Generator, text: str) -> str:
    """Return a text as typed: one in eight has a stray space or another case."""
    return (
        str(rng.choice((f" {text}", f"{text} ", text.upper(), text.lower()))) if text and rng.random() < 0.125 else text
    )


def _position_cells(rng: np.random.Generator, room: float) -> Cells:
    """Return the method and the error of a position, small enough that its answers stay certain."""
    shares = np.array([share for *_, share in _METHODS.values()], dtype=float)
    how = str(rng.choice(list(_METHODS), p=shares / shares.sum()))
    # a better instrument where there is little room
    while how != "rtk" and _METHODS[how][1] > _REACH * room:
        how = "handset" if how == "phone" else "rtk"
    without, best, worst, _ = _METHODS[how]
    accuracy = rng.uniform(best, max(best, min(worst, _REACH * room)))
    if rng.random() < 0.3 and without <= _REACH * room:
        return {"acc_m": "", "how": "" if rng.random() < 0.3 and room * _REACH >= _WITHOUT_METHOD else how}
    # rounded down
    return {"acc_m": f"{math.floor(accuracy * 10 + 1e-6) / 10:.1f}", "how": how}


def _shortened(rng: np.random.Generator, street: str) -> str:
    """Return a street name as written: one in eight is shortened."""
    if rng.random() < 0.125:
        for long, short in _SHORT:
            street = street.replace(long, short)
    return street


def fill_cells(core: Core, rng: np.random.Generator, number: int, lon: float, lat: float) -> None:
    """Write the cells of one core without any trouble in them.

    Parameters
    ----------
    core
        Its surface, and whether it is reinstated, decide what is written.
    rng
        Draws everything that varies.
    number
        The number in its id.
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
    # every third core was inspected; no number is drawn, so that the rest stays as it is
    core.cells["condition"] = ("sound", "", "")[number % 3]
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
    # each crew works in one part of the town on its weekday, in one of four weeks
    part = round(core.x / _PART_M) + 2 * round(core.y / _PART_M)
    core.planned = _FIRST_MONDAY + dt.timedelta(days=7 * int(rng.integers(0, 4)) + part % 5)
    core.cells["crew"] = f"Crew {'ABCDE'[part % 5]}"
    core.cells["planned"] = core.planned.strftime(date)
    is_recorded, days = rng.random() < 0.85, (AS_OF - backfilled).days
    core.cells["backfill"] = backfilled.strftime(date) if is_recorded else ""
    if is_recorded or days > _AT_WORK_DAYS:
        core.cells["plated" if days <= _PLATE_DAYS else "interim"] = backfilled.strftime(date)


def _done_cells(surface: str, done: dt.date, date: str, bags: float, rng: np.random.Generator) -> Cells:
    """Return what is recorded of a reinstatement; ``date`` is the style in which this row's dates are written."""
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
    is_inspected = (AS_OF - done).days > _INSPECTED_BY_DAYS or rng.random() < 0.4
    return {
        "notice": notice.strftime(date) if notice <= AS_OF else "",
        "inspected": inspected.strftime(date) if is_inspected and inspected <= AS_OF else "",
        "sag": str(rng.choice(4, p=(0.5, 0.3, 0.15, 0.05))) if is_inspected else "",
        "done": start,
        "reopened": end,
        "shade": _as_typed(rng, SHADES.get(surface, "dark")),
        "bags": written.replace(".", ",") if rng.random() < 0.1 else written,
        "water": f"{2 * bags:g}",
        "temp": str(degrees),
        "bedding": "25",
        "flush": str(rng.choice(4, p=(0.4, 0.35, 0.2, 0.05))),
    }
