"""Make the registers of three invented contractors in Harbour Vale: the same bytes on every run.

Usage: python make_registers.py [FOLDER]   (without a folder, the files are written beside this script)
"""

import dataclasses
import sys
from pathlib import Path

import numpy as np
from accounts import Account, write_account
from drawn_cores import INCH_MM, Core, draw_cores, draw_sites
from write_day_book import write_day_book
from write_monthly_lists import write_monthly_lists
from write_workbook import write_workbook

_HERE = Path(__file__).parent
# cores cut per month of 2026
_HARBOUR_CUTTERS = {3: 7, 4: 8, 5: 9, 6: 9, 7: 9, 8: 9, 9: 9}
_VALE_REINSTATEMENT = {7: 20, 8: 20, 9: 20}
_NORTH_GANG = {4: 8, 5: 9, 6: 9, 7: 10, 8: 10, 9: 11}
_INCHES = ((18, 0.7), (17.5, 0.1), (24, 0.1), (12, 0.1))
_DEPTH_INCHES = (6, 8, 8.5, 10, 12)
# of the first register, counted from 1: handed over to the third; in both of them; numbers that the third uses as well
_HANDED_OVER = (46, 50)
_TOLD_TWICE = 40
_CLASHING = (5, 19, 28, 37)


def _by_inches(cores: list[Core], rng: np.random.Generator) -> None:
    """Give cores sizes in whole and half inches."""
    inches, shares = zip(*_INCHES, strict=True)
    for core in cores:
        core.diameter_mm = float(rng.choice(inches, p=shares)) * INCH_MM
        core.depth_mm = float(rng.choice(_DEPTH_INCHES)) * INCH_MM


def _shared_cores(first: list[Core], third: list[Core]) -> dict[int, str]:
    """Hand two cores over, tell one twice and let numbers clash; return the trick of each core of the third register.

    The third register's list gains the shared cores, in the order of its days, and some of its own cores take the
    numbers of other cores of the first register. The key is the position in that list.
    """
    by_identity: dict[int, str] = {}
    for own, number in zip(third[6::11], _CLASHING, strict=False):
        own.core_id = first[number - 1].core_id
        by_identity[id(own)] = "id of another core in harbour_cutters"
    for number in _HANDED_OVER:
        opener = first[number - 1]
        later = dataclasses.replace(opener, done=opener.opened.replace(month=9, day=8 + number % 3))
        opener.done = None
        third.append(later)
        by_identity[id(later)] = "handed over from harbour_cutters"
    again = dataclasses.replace(first[_TOLD_TWICE - 1])
    third.append(again)
    by_identity[id(again)] = "also in harbour_cutters"
    third.sort(key=lambda core: core.done if core.core_id.startswith("HC") and core.done else core.opened)
    return {position: by_identity[id(core)] for position, core in enumerate(third) if id(core) in by_identity}


def main() -> None:
    """Make all files from one seed."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else _HERE
    (folder / "vale_reinstatement").mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(20260930)
    months = (_HARBOUR_CUTTERS, _VALE_REINSTATEMENT, _NORTH_GANG)
    counts = [sum(by_month.values()) for by_month in months]
    sites = draw_sites(_HERE.parent / "roads.gpkg", rng, sum(counts))
    first = draw_cores(sites, rng, 1, _HARBOUR_CUTTERS, "HC-{n:04d}")
    second = draw_cores(sites[counts[0] :], rng, 1 + counts[0], _VALE_REINSTATEMENT, "VR-26{month:02d}-{m:02d}")
    third = draw_cores(sites[sum(counts[:2]) :], rng, 1 + sum(counts[:2]), _NORTH_GANG, "NG-{n:03d}")
    _by_inches(first, rng)
    tricks = _shared_cores(first, third)
    shared = {_TOLD_TWICE - 1: "also in north_gang"} | {n - 1: "handed over to north_gang" for n in _HANDED_OVER}

    account = Account()
    write_workbook(folder, first, shared, account)
    write_monthly_lists(folder, second, account)
    write_day_book(folder, third, tricks, account)
    write_account(folder, account)
    real = len({told.core for told in account.cores})
    print(f"{real} cores in {len(account.cores)} rows, {len(account.others)} rows without a core -> {folder}")


if __name__ == "__main__":
    main()
