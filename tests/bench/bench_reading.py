"""How long a register takes to be read, beside what the libraries alone take for the same file.

    .venv/bin/python tests/bench/bench_reading.py [ROWS]

A workbook should take at most 1.5 times as long as calamine, a text at most 3 times as long as pyarrow.
"""

import datetime as dt
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import xlsxwriter
from pyarrow import csv as arrow_csv
from python_calamine import CalamineWorkbook

from pipeline.intake.files.layers import read_raw
from pipeline.programme.settings import Cores

NAMES = ["core_id", "lon", "lat", "diameter", "depth", *(f"date {n}" for n in range(5)), *(f"text {n}" for n in range(10)),
         *(f"number {n}" for n in range(10))]  # fmt: skip
WORDS = ["Mill Street", "asphalt", "grey", "Crew 1", "ok"]


def rows(count):
    """Yield rows of 30 cells: an id, four numbers, five dates, ten texts, ten numbers."""
    draw = np.random.default_rng(12)
    for number in range(count):
        days = draw.integers(0, 300, 5)
        yield [
            f"HV-{number:06d}", *np.round([-82.2 + draw.random() / 10, 44 + draw.random() / 10], 6), 450.0,
            float(draw.integers(100, 300)), *(dt.date(2026, 1, 1) + dt.timedelta(int(day)) for day in days),
            *(f"{WORDS[n % 5]} {n}" for n in draw.integers(0, 50, 10)), *np.round(draw.random(10) * 100, 1),
        ]  # fmt: skip


def write(folder, count):
    """Write the same register as a workbook and as text."""
    with (
        xlsxwriter.Workbook(
            str(folder / "cores.xlsx"), {"constant_memory": True, "default_date_format": "yyyy-mm-dd"}
        ) as book,
        (folder / "cores.csv").open("w", encoding="utf-8") as text,
    ):
        sheet = book.add_worksheet("Cores")
        sheet.write_row(0, 0, NAMES)
        text.write(",".join(NAMES) + "\n")
        for number, row in enumerate(rows(count), start=1):
            sheet.write_row(number, 0, row)
            text.write(",".join(map(str, row)) + "\n")


def seconds(read):
    """Return the shortest of three times, and print them all."""
    times = []
    for _ in range(3):
        start = time.perf_counter()
        read()
        times.append(time.perf_counter() - start)
    return min(times)


def main():
    """Write the files, read them both ways and print the ratios."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write(folder, count)
        for file, alone, limit in (
            (
                "cores.xlsx",
                lambda: CalamineWorkbook.from_path(str(folder / "cores.xlsx")).get_sheet_by_index(0).to_python(),
                1.5,
            ),
            ("cores.csv", lambda: arrow_csv.read_csv(folder / "cores.csv"), 3.0),
        ):
            ours, theirs = seconds(lambda file=file: read_raw(Cores(path=file), folder, "cores", None)), seconds(alone)
            print(
                f"{file}: {count:,} rows: {ours:.2f} s, the library alone {theirs:.2f} s: {ours / theirs:.2f} times (at most {limit})"
            )


if __name__ == "__main__":
    main()
