"""Measures that no core is likely to have, and files of a register whose measures are of another size."""

from collections.abc import Mapping
from dataclasses import dataclass
from statistics import median
from typing import Final

import pandas as pd

from pipeline.contracts import Column
from pipeline.intake.column_facts import Cell, cell_at

__all__ = ["PLAUSIBLE", "OddFile", "Outliers", "Ranges", "outliers_of"]

# by contract column, the least and the greatest plausible value, in its unit
Ranges = Mapping[str, tuple[float, float]]

# beside the limits of the rule book: what no core is likely to have, whatever the code of practice
PLAUSIBLE: Final[Ranges] = {
    "position_accuracy_m": (0.001, 200),
    "bags_used": (0, 20),
    "water_l": (0, 60),
    "air_temperature_c": (-30, 45),
    "bedding_mm": (0, 500),
    "flush_mm": (-100, 100),
    "depression_mm": (0, 100),
    "cover_m": (0.05, 10),
}
# sizes and amounts that are much the same in every file of one register
_ALIKE: Final = ("diameter_mm", "depth_mm", "cover_m", "water_l")
_FACTOR: Final = 2.0
# the median of fewer rows shows nothing
_FEW: Final = 5
_MOST_SAMPLES: Final = 3


@dataclass(frozen=True)
class OddFile:
    """A file whose median differs from those of the others: both medians, in the unit of the contract."""

    file: str
    middle: float
    others: float

    @property
    def factor(self) -> float:
        """How many times the greater of both medians is the other."""
        return max(self.middle, self.others) / min(self.middle, self.others)


@dataclass(frozen=True)
class Outliers:
    """What is out of the common in a column of measures.

    ``odd_files``: files that may be in another unit. ``outside``: how many values are outside what is plausible, by
    file and without the odd ones. ``cells``: the first of them.
    """

    odd_files: tuple[OddFile, ...] = ()
    outside: tuple[tuple[str, int], ...] = ()
    cells: tuple[Cell, ...] = ()

    @property
    def number(self) -> int:
        """How many values are outside what is plausible."""
        return sum(count for _, count in self.outside)


def outliers_of(frame: pd.DataFrame, column: Column, ranges: Ranges) -> Outliers:
    """Return what is out of the common in a column of measures.

    Parameters
    ----------
    frame
        N rows of one register: the column, its ``_text``, ``file`` and ``register_row``.
    column
        The column of the contract.
    ranges
        Plausible values by column.
    """
    if column.kind != "number" or column.name not in ranges:
        return Outliers()
    values = frame[column.name]
    odd = _odd_files(values, frame["file"]) if column.name in _ALIKE else ()
    least, most = ranges[column.name]
    is_outside = (values.lt(least) | values.gt(most)) & ~frame["file"].isin([one.file for one in odd])
    found = frame.index[is_outside]
    counts = frame.loc[found, "file"].value_counts(sort=False)
    return Outliers(
        odd,
        tuple((str(file), int(count)) for file, count in counts.items()),
        tuple(cell_at(frame, label, column.text_name) for label in found[:_MOST_SAMPLES]),
    )


def _odd_files(values: pd.Series, files: pd.Series) -> tuple[OddFile, ...]:
    """Return the files whose median is at least twice, or at most half, the middle one of the other files."""
    known = values[values.gt(0)].groupby(files, sort=False)
    middles = {str(file): float(middle) for file, middle in known.median()[known.size() >= _FEW].items()}
    found = []
    for file, middle in middles.items():
        others = [other for name, other in middles.items() if name != file]
        if others and not 1 / _FACTOR < middle / median(others) < _FACTOR:
            found.append(OddFile(file, middle, median(others)))
    # of two files that differ, neither is the odd one, and one sentence names both
    return tuple(found[-1:] if len(middles) == len(found) else found)
