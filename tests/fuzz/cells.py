"""Cells made up from the parts of which people's cells are made, and what holds for every reading of any cell."""

import time

import numpy as np
import pandas as pd
from pyproj import CRS

from pipeline.contracts import is_missing
from pipeline.intake.cells.coordinates import read_column
from pipeline.intake.cells.date_order import count_orders
from pipeline.intake.cells.dates import read_dates
from pipeline.intake.cells.header_units import header_unit
from pipeline.intake.cells.measures import read_measures
from pipeline.intake.cells.numbers import read_numbers
from pipeline.intake.cells.one_cell_positions import split_positions
from pipeline.intake.cells.positions import paired, read_coordinates
from pipeline.intake.cells.serial_dates import could_be_serial
from pipeline.units import DIMENSION_OF_UNIT, SPELLINGS

# whole cells, as registers have them, to be spoiled
_SOUND = (
    "18 in", '17 1/2"', "1'8\"", "450 mm", "0,59 m", "Ø450 mm", "450", "1.234,5", "12 345,67", "0.6", "1/2 gal", "-0", "1e5", "72 °F",
    "2026-09-30", "30/09/2026 14:05", "Sep 3, 2026 2:05 pm", "3 September 2026", "2026-09-30T14:05:10Z", "45930.58", "20260930",
    "-82.2", "44°48'00\"N", "82 12.5 W", "44.8, -82.2", "POINT (-82.2 44.8)", "N44.8 W82.2", "478100 4963002", "17T 478100 4963002",
    "until revoked", "n/a", "-", "", " ", "#REF!", "NaN", "inf", "1e999", "None", "TRUE",
)  # fmt: skip
_PARTS = (
    *"0123456789", *".,;:/\\'\"-+()[]°′″’“”ºøØ%#@&|_=~", " ", "  ", "\t", "\n", "\r", "\xa0", "\u2009", "\u202f", "\u200b", "\ufeff",
    "\x00", "\x1b[31m", "\u202e", "\u0660", "\uff11", "²", "½", "¼", "⅞", "一", "é", "İ", "ß", "ﬀ", "𝟙", "\U0001f4a9",
    "N", "S", "E", "W", "POINT", "T", "Z", "+00:00", "-2400", "am", "PM", "in", "ft", "mm", "cm", "m", "gal", "qt", "L", "kg", "°F",
    "e", "E", "e-308", "1e308", "9" * 20, "0" * 40, "1/0", "0/0", "29", "31", "02", "00", "99", "1900", "2199", "9999", "0000",
    "jan", "Sept", "december", "st", "th", "24:00", "12:60", "23:59:59.999", "dia", "diam.", "ø:",
)  # fmt: skip
_ZONES = ("America/Toronto", "Africa/Cairo", "America/Santiago", "UTC", "Pacific/Apia")
_DEGREES, _METRES = CRS.from_epsg(4326), CRS.from_epsg(32617)


def made_up_cells(rng, count):
    """Return that many cells: sound ones, spoiled ones, and ones that nobody would write."""
    cells = []
    for _ in range(count):
        cell = _SOUND[rng.integers(len(_SOUND))] if rng.random() < 0.7 else ""
        for _ in range(int(rng.integers(5))):
            at = int(rng.integers(len(cell) + 1))
            part = _PARTS[rng.integers(len(_PARTS))]
            cut = int(rng.integers(3))
            cell = cell[:at] + part + cell[at + cut :]
        if rng.random() < 0.001:
            cell *= int(rng.integers(2, 200))
        cells.append(cell)
    return cells


def check_cells(cells, number):
    """Read cells in every way, and hold the readings to what they promise; ``number`` chooses among the settings."""
    text = pd.Series(cells, dtype="str")
    # a row label says nothing of a place
    text.index = pd.RangeIndex(7, 7 + len(text))
    units = sorted(DIMENSION_OF_UNIT)
    decimal = (None, ".", ",")[number % 3]
    unit = units[number % len(units)]
    bare = next((one for one in SPELLINGS[DIMENSION_OF_UNIT[unit]] if one), None) if number % 2 else None
    _check_measures(text, read_measures(text, unit, bare, decimal))
    _check_numbers(text, read_numbers(text, decimal, lone_comma=bool(number % 2)))
    zone = _ZONES[number % len(_ZONES)]
    day_first = (None, True, False)[number // 3 % 3]
    serial = could_be_serial(text) if number % 4 == 0 else None
    _check_dates(text, read_dates(text, zone, day_first=day_first, written_in=_ZONES[number % 3], serial=serial))
    count_orders(text)
    crs = _DEGREES if number % 2 else _METRES
    other = text.iloc[::-1].set_axis(text.index)
    _check_positions(text, read_coordinates(text, other, crs, decimal))
    halves = split_positions(text, decimal, is_degrees=bool(number % 2))
    assert all(half.index.equals(text.index) for half in halves)
    _check_positions(text, paired(*_halves_read(halves, decimal), is_missing(text)))
    for cell in cells[:20]:
        header_unit(cell, unit)


def _halves_read(halves, decimal):
    return [read_column(half, decimal, is_degrees=True) for half in (halves.first, halves.second)]


def _check_measures(text, reading):
    values, problem = reading.values, reading.problem
    assert values.index.equals(text.index)
    assert problem.index.equals(text.index)
    blank = is_missing(text)
    assert np.isfinite(values.dropna()).all(), text[~np.isfinite(values.fillna(0))].tolist()[:5]
    both = values.notna() & problem.notna()
    assert not both.any(), text[both].tolist()[:5]
    neither = values.isna() & problem.isna() & ~blank
    assert not neither.any(), text[neither].tolist()[:5]


def _check_numbers(text, numbers):
    assert numbers.index.equals(text.index)
    assert np.isfinite(numbers.dropna()).all(), text[numbers.abs().eq(np.inf)].tolist()[:5]


def _check_dates(text, reading):
    instants, problem = reading
    assert instants.index.equals(text.index)
    assert not (instants.notna() & problem.notna()).any()
    lost = instants.isna() & problem.isna() & ~is_missing(text)
    assert not lost.any(), text[lost].tolist()[:5]


def _check_positions(text, read):
    good = read.problem.isna().to_numpy()
    assert len(good) == len(text)
    assert np.isfinite(read.x[good]).all()
    assert np.isfinite(read.y[good]).all()
    assert not (read.problem.notna() & read.repair.notna()).any()


def check_alone(cells, number):
    """Hold a reading to what a cell is worth on its own: its neighbours in the column do not change it."""
    decimal = (None, ".", ",")[number % 3]
    text = pd.Series(cells, dtype="str")
    together = read_measures(text, "mm", "in", decimal)
    days = read_dates(text, "UTC", day_first=True)
    for at, cell in enumerate(cells):
        alone = read_measures(pd.Series([cell], dtype="str"), "mm", "in", decimal)
        np.testing.assert_equal(alone.values[0], together.values[at], err_msg=repr(cell))
        day = read_dates(pd.Series([cell], dtype="str"), "UTC", day_first=True)
        assert str(day.instants[0]) == str(days.instants[at]), cell


def seconds_for_long_cell(part, length):
    """Return how long the readers take over one cell of a part repeated up to a length."""
    cell = part * (length // len(part) + 1)
    began = time.process_time()
    check_cells([cell], 1)
    return time.process_time() - began


def long_parts():
    """Return the parts of which long cells are tried."""
    return [*_PARTS, *(cell for cell in _SOUND if cell)]
