"""The troubles planted in the cells of the register: which rule, in which cores, by which cells."""

from collections.abc import Callable

from register_cells import SHADES, Cells, Core

__all__ = ["TROUBLES"]


def _wrong_surface(core: Core) -> Cells:
    """Return the word for a surface of another kind."""
    return {"surf": {"asphalt": "concrete", "composite": "tarmac"}.get(core.surface, "asphalt")}


def _wrong_shade(core: Core) -> Cells:
    """Return the shade that does not match."""
    return {"shade": "pale" if SHADES[core.surface] == "dark" else "dark"}


def _in_degrees_and_minutes(core: Core) -> Cells:
    """Return the position in degrees, minutes and seconds."""
    cells = {}
    for column, letter in (("lon", "W"), ("lat", "N")):
        # whole thousandths of a second, so that no 60.000" is written
        seconds, thousandths = divmod(round(abs(float(core.cells[column])) * 3_600_000), 1000)
        degrees, minutes = seconds // 3600, seconds // 60 % 60
        cells[column] = f"{degrees}°{minutes:02d}'{seconds % 60:02d}.{thousandths:03d}\"{letter}"
    return cells


def _with_comma(core: Core) -> Cells:
    """Return the position with decimal commas."""
    return {column: core.cells[column].replace(".", ",") for column in ("lon", "lat")}


def _swapped(core: Core) -> Cells:
    """Return the position with longitude and latitude exchanged."""
    return {"lon": core.cells["lat"], "lat": core.cells["lon"]}


def _without_sign(core: Core) -> Cells:
    """Return the position without its minus sign."""
    return {"lon": core.cells["lon"].removeprefix("-")}


def _in_metres(core: Core) -> Cells:
    """Return the position in metres of the roads' CRS."""
    return {"lon": f"{core.x:.2f}", "lat": f"{core.y:.2f}"}


def _with_few_digits(core: Core) -> Cells:
    """Return the longitude with four decimals, which is a step of 8 m."""
    return {"lon": f"{float(core.cells['lon']):.4f}"}


# emptied where a date is moved, so that one wrong date gives one finding
_OTHER_DATES = dict.fromkeys(("plated", "interim", "backfill", "reopened", "permit_to", "notice", "inspected"), "")
# a hole whose void is easy to work out, so that the figures beside it mean something
_SIZED = {"dia": "18 in", "depth": "8 in", "bags": "0.6", "water": "1.2"}
# one core each: the rule it breaches, or several with a blank between them ("" where nothing is wrong and it only looks
# so), which cores may take it ("any", "pending", "reinstated"; of these last, "county" on a main road and "town"
# elsewhere), and the cells written into it
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
    ("date-unreadable", "pending", {"backfill": "09/22/2026"}),
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
        ("open-too-long open-uncovered", "pending", _OTHER_DATES | {"cut_date": text})
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
        {"cut_date": "2026-09-05", "plated": "2026-09-06", "backfill": "2026-09-06", "permit_to": "2026-11-05"}
        | {"interim": ""},
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
    ("position-rounded", "any", _with_few_digits),
    ("core-unsound", "pending", {"condition": "open cracks"}),
    ("core-unsound", "reinstated", {"condition": "delaminated"}),
    ("core-condition-unreadable", "any", {"condition": "see photo"}),
    *[
        ("open-uncovered", "pending", _OTHER_DATES | {"cut_date": cut_date, "backfill": backfill})
        for cut_date, backfill in (("2026-09-11", "2026-09-12"), ("20/09/2026", ""))
    ],
]
