"""The day book of the North Gang: text with bars between the cells, and each position in one cell."""

import math
from collections.abc import Callable
from pathlib import Path

from accounts import Account, NoCore, Told, told_of
from drawn_cores import GALLON_L, INCH_MM, Core, Site

__all__ = ["write_day_book"]

REGISTER, FILE = "north_gang", "north_gang.txt"
_COLUMNS = ("Core", "Where", "Street", "Ø", "Deep", "Cut", "Done", "Air", "Water", "Bags", "Notes")
_TITLES = ("NORTH GANG DAY BOOK 2026", "")
# text, millimetres
_DIAMETERS = (
    ("18 in", 457.2), ('18"', 457.2), ("45 cm", 450.0), ("460 mm", 460.0), ("17 1/2 in", 444.5),
    ("1 ft 6 in", 457.2), ("2 ft", 609.6),
)  # fmt: skip
_DEPTHS = (("8 in", 203.2), ("20 cm", 200.0), ('7 1/2"', 190.5), ("10 in", 254.0), ("150 mm", 150.0), ("1 ft", 304.8))
# positions in the list of cores whose line is written twice, and by how many lines later; three decimals only
_COPIED = {8: 1, 17: 4, 25: 2, 39: 1, 52: 3}
_THREE_DECIMALS = {4, 22, 31, 47}
_DATES = ("{0:%m}/{0:%d}/{0:%Y}", "{0.day} {0:%b} {0:%Y}", "{0:%B} {0.day}, {0:%Y}")
# metres on the ground of one degree of latitude, and of longitude at the equator
_DEGREE_M = 111_320


def _sexagesimal(degrees: float, *, with_seconds: bool) -> str:
    """Return degrees, minutes and seconds to a hundredth, or degrees and minutes to four decimals; without a sign."""
    if with_seconds:
        hundredths = round(abs(degrees) * 360_000)
        minutes, seconds = divmod(hundredths, 6000)
        return f"{minutes // 60}°{minutes % 60:02d}'{seconds / 100:05.2f}\""
    ten_thousandths = round(abs(degrees) * 600_000)
    whole, minutes = divmod(ten_thousandths, 600_000)
    return f"{whole}°{minutes / 10_000:07.4f}'"


# how a position is written, its step in degrees, and what the writing is called
_WRITINGS: tuple[tuple[Callable[[Site], str], float, str], ...] = (
    (lambda at: f"{at.lat:.6f}, {at.lon:.6f}", 1e-6, "pair"),
    (
        lambda at: f"{_sexagesimal(at.lat, with_seconds=True)}N {_sexagesimal(at.lon, with_seconds=True)}W",
        0.01 / 3600,
        "degrees minutes seconds",
    ),
    (lambda at: f"POINT ({at.lon:.6f} {at.lat:.6f})", 1e-6, "point text"),
    (lambda at: f"{at.lat:.5f}; {at.lon:.5f}", 1e-5, "semicolon"),
    (
        lambda at: f"{_sexagesimal(at.lat, with_seconds=False)} N, {_sexagesimal(at.lon, with_seconds=False)} W",
        0.0001 / 60,
        "degrees and minutes",
    ),
    (lambda at: f"{at.lat:.5f}°N, {abs(at.lon):.5f}°W", 1e-5, "degree signs"),
    (lambda at: f"{at.lat:.5f} {at.lon:.5f}".replace(".", ","), 1e-5, "decimal comma pair"),
)
_ROUGH = (lambda at: f"{at.lat:.3f}, {at.lon:.3f}", 1e-3, "three decimals")


def write_day_book(folder: Path, cores: list[Core], shared: dict[int, str], account: Account) -> None:
    """Write the day book and account for each of its lines.

    Parameters
    ----------
    folder
        Where it is written.
    cores
        In the order of the book.
    shared
        What cores have to do with another register, by position in ``cores``.
    account
        Gains the lines.
    """
    lines: list[str] = []

    def add_other(why: str, text: str) -> None:
        account.others.append(NoCore(REGISTER, FILE, "", len(lines) + 1, why, text.replace("|", " | ")))
        lines.append(text)

    for title in _TITLES:
        add_other("title" if title else "blank", title)
    add_other("header", "|".join(_COLUMNS))
    add_other("rule line", "|".join("-" * len(name) for name in _COLUMNS))
    pending: dict[int, list[tuple[str, dict[str, str], Core]]] = {}
    month = 0
    for number, core in enumerate(cores):
        day = core.done if core.done and "handed over" in shared.get(number, "") else core.opened
        if month and day.month != month:
            add_other("blank", "")
        month = day.month
        line, told = _write_core(number, core, shared.get(number, ""))
        for text, held, of in [(line, told, core), *pending.pop(number, [])]:
            at = len(lines) + 1
            account.cores.append(Told(of.number, REGISTER, FILE, "", at, of.core_id, **held))
            lines.append(text)
        if number in _COPIED:
            tricks = ";".join(sorted({"exact copy", *told["tricks"].split(";")} - {""}))
            pending.setdefault(number + _COPIED[number], []).append((line, told | {"tricks": tricks}, core))
    add_other("blank", "")
    add_other("footer or note", "End of list, 30 Sep 2026")
    # with the mark that a plain editor puts before UTF-8
    (folder / FILE).write_bytes("\n".join([*lines, ""]).encode("utf-8-sig"))


def _write_core(number: int, core: Core, shared: str) -> tuple[str, dict[str, str]]:
    """Return the line of one core, and what it tells."""
    write, step, writing = _ROUGH if number in _THREE_DECIMALS else _WRITINGS[number % len(_WRITINGS)]
    is_own = not shared or shared.startswith("id of another")
    if is_own:
        diameter, core.diameter_mm = _DIAMETERS[(2 * number) % len(_DIAMETERS)]
        depth, core.depth_mm = _DEPTHS[(5 * number + 1) % len(_DEPTHS)]
    else:
        diameter, depth = f"{core.diameter_mm / INCH_MM:g} in", f"{core.depth_mm / INCH_MM:g} in"
    is_handed_over = shared.startswith("handed over")
    date = _DATES[number % len(_DATES)]
    # half a step each way, and the seven decimals of truth.csv
    within_m = math.hypot(1, math.cos(math.radians(core.site.lat))) * _DEGREE_M * step / 2 + 0.02
    told = told_of(core, within_m, [writing] + [shared] * bool(shared))
    cells = {
        "Core": core.core_id,
        "Where": write(core.site),
        "Street": core.site.street,
        "Ø": diameter,
        "Deep": depth,
        "Cut": "" if is_handed_over else date.format(core.opened),
        "Done": date.format(core.done) if core.done else "",
        "Bags": f"{core.bags:.1f}" if core.done else "",
        "Notes": "opened by the cutters" if is_handed_over else "",
    }
    if is_handed_over:
        told["opened_on"] = ""
    if core.done:
        cells["Air"], told["temperature_c"] = _air(number, core.fahrenheit, is_own=is_own)
        cells["Water"], told["water_l"] = _water(number, core.bags, is_own=is_own)
    padded = [f"{cells.get(column, '')} " if number % 3 else cells.get(column, "") for column in _COLUMNS]
    return "|".join(padded), told


def _air(number: int, fahrenheit: int, *, is_own: bool) -> tuple[str, str]:
    """Return the temperature as written and in degrees Celsius."""
    if number % 2 and is_own:
        celsius = round((fahrenheit - 32) / 1.8)
        return f"{celsius} °C" if number % 4 == 1 else f"{celsius}C", f"{celsius:.2f}"
    return f"{fahrenheit} F" if number % 4 else f"{fahrenheit}°F", f"{(fahrenheit - 32) / 1.8:.2f}"


def _water(number: int, bags: float, *, is_own: bool) -> tuple[str, str]:
    """Return the water as written and in litres."""
    if number % 3 == 0 or not is_own:
        gallons = round(2 * bags / GALLON_L, 2)
        return f"{gallons:.2f} US gal", f"{gallons * GALLON_L:.3f}"
    litres = round(2 * bags, 1)
    return (f"{litres:.1f} L", f"{litres:.3f}") if number % 3 == 1 else (f"{litres * 1000:.0f} mL", f"{litres:.3f}")
