"""How precisely a register's measured values were written: the step of each, by register, unit and crew.

The step is that of the last digit written, with two exceptions.

A workbook drops zeros at the end, so that 2.10 comes as 2.1: where no cell of that length shows a written zero, a
shorter cell counts as having the usual length, unless there are more of them than dropped zeros explain.

A crew that reads a gauge to the nearest half writes 2.5 and 3.0, and the digits claim a tenth. So a coarser step is
used where nearly all values are multiples of it, and enough different ones are: by chance alone, N values written to a
step k times finer would all be multiples with a probability of k to the power -N. Repeated values count once, because
equal cores have equal needs. At least five different values are asked for besides: a handful of sizes may come from the
tools or the design. Diameters are never judged so, because barrels come in a few sizes; bags always, because they are
mixed whole, by halves or by quarters. A value that is no multiple keeps its own digits.

Values that were measured in one unit and stored in another have the step of the first, if that is coarser: see
:mod:`pipeline.intake.converted_steps`. Diameters and bags are never judged so.
"""

from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.contracts import REGISTER_COLUMNS, Column
from pipeline.intake.cells.position_digits import usual_lengths
from pipeline.intake.cells.written_digits import Written
from pipeline.intake.converted_steps import converted_steps
from pipeline.units import step_in

__all__ = ["written_precision"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_MEASURED: Final = {column.name: column for column in REGISTER_COLUMNS if column.kind == "number"}
# eighths and sixteenths are what a tape in inches shows
_LADDER: Final = tuple(
    sorted(
        {step * 10.0**power for power in range(-5, 4) for step in (1.0, 0.5, 0.25, 0.2)} | {1 / 8, 1 / 16}, reverse=True
    )
)
_PORTIONS: Final = (1.0, 0.5, 0.25)
_IN_PORTIONS: Final = "bags_used"
_IN_SIZES: Final = "diameter_mm"
# the shares of cells, and of different values, that are multiples of a step
_NEARLY_ALL: Final = 0.95
_MOST_VALUES: Final = 0.8
_FEWEST_VALUES: Final = 5
_CHANCE: Final = 0.01
# a crew with fewer cells is judged by its register
_FEWEST_CELLS: Final = 30
# the share of its cells that show that a crew writes as finely as its register
_AS_FINE: Final = 0.1
_TOLERANCE: Final = 1e-6


class _Pairs(NamedTuple):
    """Each text of a column once per group: the number of its group, its number, digits and how often it occurs."""

    group: Ints
    number: Floats
    digit_step: Floats
    decimals: Floats
    cells: Floats


def written_precision(
    columns: Sequence[Mapping[str, Written]], register: pd.Series, crew: pd.Series, lengths: Sequence[int]
) -> dict[str, pd.Series]:
    """Return the step that each measured value was written to.

    Parameters
    ----------
    columns
        By file, the written numbers of each measured column; a column that a file lacks may be absent.
    register, crew
        N names of registers and of crews, the rows of the first file first; a missing crew counts as a crew.
    lengths
        By file, its number of rows.

    Returns
    -------
    dict
        By the name of the step's column, N steps in the unit of the contract; missing where there is no value.
    """
    registers = pd.factorize(register)[0].astype(np.int64)
    # crews of different registers are different crews, though they may have one name
    codes, names = pd.factorize(crew.fillna(""))
    plain = pd.factorize(pd.Series(names, dtype="str").str.strip().str.casefold())[0]
    crews = pd.factorize(registers * (len(names) + 1) + plain[codes])[0].astype(np.int64)
    steps = {}
    for name, column in _MEASURED.items():
        cells, distinct = _joined([part.get(name) for part in columns], lengths)
        found = np.full(len(cells), np.nan)
        for unit in distinct["unit"].dropna().unique():
            of_unit = distinct["unit"].eq(unit).to_numpy()
            rows = np.flatnonzero(of_unit[cells])
            found[rows] = _steps(column, str(unit), distinct, cells[rows], registers[rows], crews[rows])
            found[rows] *= step_in(str(unit), column.unit)
        steps[column.step_name] = pd.Series(found, register.index)
    return steps


def _joined(parts: Sequence[Written | None], lengths: Sequence[int]) -> tuple[Ints, pd.DataFrame]:
    """Return the cells of all files as one column; a file that lacks it has no number in any row."""
    none = pd.DataFrame({"number": [np.nan], "unit": [None], "digit_step": [np.nan], "decimals": [np.nan]})
    codes, tables, start = [], [none], 1
    for part, length in zip(parts, lengths, strict=True):
        if part is None:
            codes.append(np.zeros(length, dtype=np.int64))
            continue
        codes.append(part.codes.astype(np.int64) + start)
        tables.append(part.distinct)
        start += len(part.distinct)
    return np.concatenate(codes), pd.concat([one.astype({"unit": "str"}) for one in tables], ignore_index=True)


def _steps(column: Column, unit: str, distinct: pd.DataFrame, codes: Ints, registers: Ints, crews: Ints) -> Floats:
    """Return the step of each of N cells that were written in one unit, in that unit."""
    by_register, of_register, _ = _of_groups(column, unit, distinct, codes, registers)
    by_crew, of_crew, cells = _of_groups(column, unit, distinct, codes, crews)
    written = distinct["digit_step"].to_numpy()[codes]
    # a coarser step that a register shows holds for a crew with too few different values to show it, unless that crew
    # hardly writes so finely at all
    as_fine = _share(crews, written <= of_register, np.ones(len(codes)), crews.max() + 1)[crews] >= _AS_FINE
    as_fine &= np.isfinite(of_register)
    steps = np.where(np.isnan(of_crew) & as_fine, of_register, np.fmax(by_crew, of_register))
    # whether a short cell of a crew with few cells has lost its zeros cannot be told, so its digits count as they are
    few = (cells < _FEWEST_CELLS) & (np.bincount(registers)[registers] > cells)
    of_few = np.where(as_fine, of_register, np.fmax(np.fmax(by_register, written), of_register))
    return np.where(few, of_few, steps)


def _of_groups(
    column: Column, unit: str, distinct: pd.DataFrame, codes: Ints, groups: Ints
) -> tuple[Floats, Floats, Floats]:
    """Return for each of N cells its step within its group, the coarser step found if any, and the group's cells."""
    # by hashing: sorting a million cells takes several times as long
    where, found = pd.factorize(groups * len(distinct) + codes)
    numbers, counts = found.astype(np.int64), np.bincount(where)
    named, group = np.unique(numbers // len(distinct), return_inverse=True)
    table = distinct.iloc[numbers % len(distinct)]
    number, digit_step, decimals = (table[name].to_numpy(float) for name in ("number", "digit_step", "decimals"))
    pairs = _Pairs(group, number, digit_step, decimals, counts.astype(float))
    pairs = pairs._replace(digit_step=_with_lost_zeros(pairs))
    coarser = np.full(len(numbers), np.nan)
    if column.name != _IN_SIZES:
        coarser = _coarser(pairs, column.name, len(named))
    if column.name not in {_IN_SIZES, _IN_PORTIONS}:
        coarser = _with_converted(pairs, coarser, unit, column.unit)
    steps = np.where(np.isfinite(coarser), coarser, pairs.digit_step)
    cells = np.bincount(group, pairs.cells).astype(np.float64)
    return steps[where], coarser[where], cells[group][where]


def _with_lost_zeros(pairs: _Pairs) -> Floats:
    """Return the step of the last digit of each text, with the zeros that a workbook dropped."""
    steps = pairs.digit_step.copy()
    places = np.nan_to_num(pairs.decimals, nan=0.0).astype(np.int64)
    # a text that ends in a written zero: the number needs fewer places than it was written with
    tenths = pairs.number * 10.0 ** (places - 1.0)
    shows_zero = (places > 0) & (np.abs(tenths - np.round(tenths)) < _TOLERANCE)
    has_places = np.isfinite(pairs.decimals)
    order = np.argsort(pairs.group, kind="stable")
    for rows in np.split(order, np.flatnonzero(np.diff(pairs.group[order])) + 1):
        mine = rows[has_places[rows]]
        if not len(mine) or not places[mine].any():
            continue
        counts = np.bincount(places[mine], pairs.cells[mine]).astype(np.int64)
        zeros = np.bincount(places[mine], shows_zero[mine], minlength=len(counts)) > 0
        usual = usual_lengths(counts, zeros)[places[mine]]
        steps[mine] = np.where(shows_zero[mine], steps[mine], 10.0 ** -usual.astype(float))
    return steps


def _coarser(pairs: _Pairs, name: str, groups: int) -> Floats:
    """Return for each text the coarser step that its group was written to; missing if it is no multiple of it."""
    found = np.full(len(pairs.number), np.nan)
    settled = np.zeros(groups, dtype=bool)
    once = _amounts(pairs)
    ladder = _PORTIONS if name == _IN_PORTIONS else ()
    for step in (*ladder, *_LADDER):
        parts = pairs.number / step
        is_multiple = np.abs(parts - np.round(parts)) <= _TOLERANCE
        nearly_all = _share(pairs.group, is_multiple, pairs.cells, groups) >= _NEARLY_ALL
        most = _share(pairs.group, is_multiple, np.ones(len(parts)), groups) >= _MOST_VALUES
        finest = np.full(groups, np.inf)
        np.minimum.at(finest, pairs.group[is_multiple], pairs.digit_step[is_multiple])
        times = step / finest
        values = np.bincount(pairs.group, is_multiple & once, groups)
        by_chance = np.power(np.fmax(times, 1.0), -values)
        enough = (values >= _FEWEST_VALUES) & (by_chance <= _CHANCE)
        if step in ladder:
            enough |= values > 0
        is_coarser = times > 1 + _TOLERANCE
        here = ~settled & nearly_all & most & enough & is_coarser
        # where the digits already show the step, a few finer cells do not make the others finer
        settled |= here | (nearly_all & most & ~is_coarser & np.isfinite(finest) & (name != _IN_PORTIONS))
        found = np.where(here[pairs.group] & is_multiple, step, found)
    return found


def _with_converted(pairs: _Pairs, coarser: Floats, written_in: str, unit: str) -> Floats:
    """Return the coarser step of each text, or that of another unit where it was measured in that and less finely."""
    different = _amounts(pairs)
    converted = converted_steps(
        *(pairs.group, pairs.number, pairs.digit_step, pairs.cells),
        is_different=different,
        written_in=written_in,
        unit=unit,
    )
    native = np.where(np.isfinite(coarser), coarser, pairs.digit_step)
    return np.where(converted > native * (1 + _TOLERANCE), converted, coarser)


def _share(group: Ints, true: npt.NDArray[np.bool_], weight: Floats, groups: int) -> Floats:
    """Return for each group the share of the weight for which something is true."""
    share: Floats = np.bincount(group, weight * true, groups) / np.fmax(np.bincount(group, weight, groups), 1.0)
    return share


def _amounts(pairs: _Pairs) -> npt.NDArray[np.bool_]:
    """Return which texts are the first of their group with their amount; nought is none, and a sign makes no other."""
    table = pd.DataFrame({"group": pairs.group, "amount": np.abs(pairs.number).round(9)})
    return (~table.duplicated() & table["amount"].gt(_TOLERANCE)).to_numpy(dtype=bool)
