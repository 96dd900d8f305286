"""What each row of the three registers holds, written down while the registers are made: a core, or no core and why."""

import csv
import dataclasses
import datetime as dt
from dataclasses import dataclass, field
from pathlib import Path

from drawn_cores import Core

__all__ = ["Account", "NoCore", "Told", "told_of", "write_account"]


@dataclass(frozen=True)
class Told:
    """What one row of a register tells of a core, in the units of ``truth.csv``; empty where the row tells nothing.

    ``core``: the number of the real core. ``place``: the row of the sheet, or the line of the text on which it begins,
    counted from 1. ``lon``, ``lat``: where the core really is. ``position_within_m``: how far off the row's own
    writing may put it. ``tricks``: what is unusual about the row.
    """

    core: int
    register: str
    file: str
    sheet: str
    place: int
    core_id: str
    lon: str = ""
    lat: str = ""
    position_within_m: str = ""
    diameter_mm: str = ""
    depth_mm: str = ""
    opened_on: str = ""
    reinstated_at: str = ""
    temperature_c: str = ""
    water_l: str = ""
    bags_used: str = ""
    tricks: str = ""


@dataclass(frozen=True)
class NoCore:
    """A row that holds no core, and why."""

    register: str
    file: str
    sheet: str
    place: int
    why: str
    text: str = ""


@dataclass
class Account:
    """Every row of the registers, as a core or as no core."""

    cores: list[Told] = field(default_factory=list)
    others: list[NoCore] = field(default_factory=list)


def told_of(core: Core, within_m: float, tricks: list[str], reinstated_at: str | None = None) -> dict[str, str]:
    """Return what every register tells of a core: place, size, days and bags.

    ``reinstated_at``: in place of the day, where the register gives the time as well.
    """
    done = core.done.isoformat() if isinstance(core.done, dt.date) else ""
    return {
        "lon": f"{core.site.lon:.7f}",
        "lat": f"{core.site.lat:.7f}",
        "position_within_m": f"{within_m:.2f}",
        "diameter_mm": f"{core.diameter_mm:.2f}",
        "depth_mm": f"{core.depth_mm:.2f}",
        "opened_on": core.opened.isoformat(),
        "reinstated_at": reinstated_at or done,
        "bags_used": f"{core.bags:.1f}" if core.done else "",
        "tricks": ";".join(sorted(set(tricks))),
    }


def write_account(folder: Path, account: Account) -> None:
    """Write ``truth.csv`` and ``not_cores.csv``."""
    for name, kind, rows in (("truth.csv", Told, account.cores), ("not_cores.csv", NoCore, account.others)):
        with (folder / name).open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow([column.name for column in dataclasses.fields(kind)])
            writer.writerows(dataclasses.astuple(row) for row in rows)
