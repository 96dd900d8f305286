"""The register as it was a month before the audit: the same cores, with only what was known on that day."""

import csv
import datetime as dt
from pathlib import Path

import numpy as np
from register_cells import COLUMNS, Cells, Core

__all__ = ["DAY", "write_month_before"]

DAY = dt.date(2026, 8, 31)
_STYLES = ("%Y-%m-%d", "%d/%m/%Y", "%d.%m.%Y")
_LENGTH = len("2026-08-31")
# blank where they lie after the day; what is written with a date is blank with it
_DATES = ("plated", "backfill", "interim", "notice", "done", "reopened", "inspected")
_WITH = {"done": ("reopened", "shade", "bags", "water", "temp", "bedding", "flush", "notice"), "inspected": ("sag",)}
# cores whose cells were different then: permit extended since, position surveyed anew, size measured since, step ground
# down since
_PERMITS, _MOVED, _UNMEASURED, _STEPS = 6, 4, 3, 3
# degrees, about 4 m to the north
_FARTHER_NORTH = 0.000036
# two orders of rows: that of the cores that were different, and that of the register
_SEED = 20260831


def write_month_before(folder: Path, cores: list[Core]) -> int:
    """Write ``cores.csv`` as it was on DAY, in another order of rows, and return its number of rows."""
    rng = np.random.default_rng(_SEED)
    rows = [(core, _as_on_day(core.cells)) for core in cores if not _is_later(core.cells["cut_date"])]
    _write_what_differed([rows[at] for at in rng.permutation(len(rows))])
    folder.mkdir(exist_ok=True)
    with (folder / "cores.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        for at in rng.permutation(len(rows)):
            core, cells = rows[at]
            writer.writerow([*(cells[column] for column in COLUMNS), *core.extra])
    return len(rows)


def _date(text: str) -> tuple[dt.date, str] | None:
    """Return the day of a cell and the style it is written in; None for what is no date."""
    for style in _STYLES:
        try:
            return dt.datetime.strptime(text.strip()[:_LENGTH], style).replace(tzinfo=dt.UTC).date(), style
        except ValueError:
            continue
    return None


def _is_later(text: str) -> bool:
    read = _date(text)
    return read is not None and read[0] > DAY


def _as_on_day(cells: Cells) -> Cells:
    """Return the cells of a core as they were on DAY."""
    then = dict(cells)
    if _is_later(cells["done"]):
        # it was booked for the day on which it was done
        then["planned"] = cells["done"].strip()[:_LENGTH]
    elif cells["planned"]:
        # the round of October was booked in September
        then["planned"] = ""
    for column in _DATES:
        if _is_later(cells[column]):
            then |= dict.fromkeys((column, *_WITH.get(column, ())), "")
    return then


def _write_what_differed(rows: list[tuple[Core, Cells]]) -> None:
    """Change the cells of a few sound cores to what they were on DAY."""
    sound = [cells for core, cells in rows if not core.rules and not core.by_hand]
    is_open = [cells for cells in sound if not cells["done"]]
    is_done = [cells for cells in sound if cells["done"] and cells["flush"]]
    # an interim reinstatement that was entered as the permanent one
    wrong = next(cells for cells in is_open if cells["interim"])
    wrong |= {"done": wrong["interim"], "interim": ""}
    with_permit = [cells for cells in is_open + is_done if _date(cells["permit_to"]) and cells is not wrong]
    for cells in with_permit[:_PERMITS]:
        day, style = _date(cells["permit_to"]) or (DAY, _STYLES[0])
        cells["permit_to"] = (day - dt.timedelta(days=21)).strftime(style)
    changing = iter(cells for cells in is_done if all(cells is not other for other in with_permit[:_PERMITS]))
    for _ in range(_MOVED):
        cells = next(changing)
        cells |= {"lat": f"{float(cells['lat']) + _FARTHER_NORTH:.7f}", "acc_m": "", "how": "phone"}
    for _ in range(_UNMEASURED):
        next(changing)["dia"] = ""
    for _ in range(_STEPS):
        next(changing)["flush"] = "9"
