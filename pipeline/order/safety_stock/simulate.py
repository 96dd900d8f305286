"""Safety stock: how many bags beyond the expected need to hold, so that they suffice with a stated probability.

What is simulated, all from one fixed seed:

- **shade**: the shade each core takes, by its chances, core by core, so that it averages out over many cores. Not
  covered: a surface layer that is wrong about a whole street.
- **size**: a diameter or depth not known yet, taken from a known core of the same district, or of the whole programme
  where the district has too few. A known diameter is kept beside a drawn depth.
- **waste**: lost bags. Every bag opened is lost with the same probability, and so is the one that replaces it.
- **model**: kerf, pilot hole, gap, bed fill, wet density and overfill. They are drawn once per simulation for the whole
  programme, since their true values are the same at every core and do not average out.

All figures are in bags before rounding up; with ``mixed_per_needed`` they are bags mixed.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, sqrt
from typing import Final, Literal
from zlib import crc32

import numpy as np
import pandas as pd

from pipeline.errors import SettingsError
from pipeline.order.safety_stock.bags import SOURCES, Bags, add_waste, no_bags, simulate_district
from pipeline.order.safety_stock.shades_and_sizes import Sizes, chances_of, sizes_of
from pipeline.order.safety_stock.volume_model import Calibrated, Floats, bags_of_terms, draw_model, likeliest_model
from pipeline.programme.catalogue import Materials

__all__ = ["SAFETY_STOCK_COLUMNS", "SafetyStock", "simulate_safety_stock"]

SAFETY_STOCK_COLUMNS: Final = (
    "district", "shade", "cores", "expected", "enough", "safety_stock", "error", "mean", "from_shade", "from_size",
    "from_waste", "from_model",
)  # fmt: skip
_FEWEST: Final = 100
_KINDS: Final = {name: "str" if name in {"district", "shade"} else "float" for name in SAFETY_STOCK_COLUMNS}


@dataclass(frozen=True)
class SafetyStock:
    """The bags that suffice with a probability of ``service_level``.

    ``lines``: one row per district and shade, SAFETY_STOCK_COLUMNS. ``totals``: the same without the district: one row
    per shade, and a last row without a shade for all of them. Quantiles do not add up, so totals are simulated too.
    ``levels``: the totals at each service level, with ``level``. ``sizes``: ``district``, ``not_known`` (cores with a
    size to draw), ``known`` (cores it is drawn from) and ``drawn_from``: "district", "programme" or "none" (such cores
    are ignored).

    The columns: ``cores``: number of cores, as a sum of chances. ``expected``: bags by the likeliest values of the
    model, the chances of the shades and the mean of unknown sizes, without waste. ``enough``: bags that suffice in that
    share of the simulations. ``safety_stock``: ``enough`` less ``expected``. ``error``: standard error of ``enough``
    due to the number of simulations. ``mean``: mean over all simulations, all sources included. ``from_*``: the safety
    stock if only that source were uncertain; these do not add up to ``safety_stock``.
    """

    lines: pd.DataFrame
    totals: pd.DataFrame
    levels: pd.DataFrame
    sizes: pd.DataFrame
    service_level: float
    simulations: int
    seed: int


def simulate_safety_stock(
    cores: pd.DataFrame,
    history: pd.DataFrame,
    materials: Materials,
    diameter_is: Literal["hole", "core"] = "hole",
    *,
    service_level: float = 0.95,
    waste: float = 0.0,
    calibrated: Calibrated | None = None,
    mixed_per_needed: pd.Series | None = None,
    further_levels: Sequence[float] = (),
    simulations: int = 2000,
    seed: int = 1,
) -> SafetyStock:
    """Simulate the need of a programme; a district's figures depend neither on row order nor on other districts' needs.

    Parameters
    ----------
    cores
        N open cores that may need grout, with a unique index: ``district``, ``shade`` (the likeliest), ``bedding``,
        ``hole_mm`` and ``depth_mm`` (missing where unknown or implausible), and ``shade_<shade>_chance`` if known.
    history
        Cores of known size of the same programme, open or not: ``district``, ``hole_mm``, ``depth_mm``.
    materials, calibrated
        Values and their ranges; kerf and bed calibrated from records of use, in place of their ranges.
    diameter_is
        Whether diameters were recorded of the hole or of the core; ``hole_mm`` is then the core's plus two kerfs.
    service_level, further_levels
        Share of the simulations in which the bags suffice, and further levels for the totals.
    waste, mixed_per_needed
        Share of all bags opened that are lost; bags mixed per bag needed, by district and shade (1 where missing).
    simulations, seed
        How many simulations, and where the random numbers start.

    Raises
    ------
    SettingsError
        The service level, the waste or the number of simulations is out of its range.
    """
    _check(service_level, waste, simulations)
    cores = cores.sort_index()
    chances, sizes = chances_of(cores), sizes_of(cores, history, materials, diameter_is)
    model = draw_model(materials, simulations, np.random.default_rng([seed, 0]), calibrated)
    drawn = bags_of_terms(model, materials, diameter_is)
    likeliest = bags_of_terms(likeliest_model(materials, calibrated), materials, diameter_is)[0]
    factors = {} if mixed_per_needed is None else mixed_per_needed.to_dict()
    lines, total = [], no_bags(simulations, len(chances.columns))
    for district, needed, rng in _districts(cores["district"], chances, sizes, drawn, likeliest, seed):
        bags = add_waste(needed, np.array([factors.get((district, shade), 1.0) for shade in chances]), waste, rng)
        lines += [_line(district, str(shade), bags.of(at), service_level) for at, shade in enumerate(chances)]
        total = total + bags
    return _gathered(
        _frame(lines), total, chances, sizes, sorted({service_level, *further_levels}), service_level, seed
    )


def _check(service_level: float, waste: float, simulations: int) -> None:
    for name, found, is_good, expected in (
        ("service level", service_level, 0 < service_level < 1, "between 0 and 100 %, such as 95 %"),
        ("waste", waste, 0 <= waste < 1, "of 0 % or more and below 100 %"),
        ("number of simulations", simulations, simulations >= _FEWEST, f"of {_FEWEST} or more"),
    ):
        if not is_good:
            raise SettingsError(f"safety stock: found a {name} of {found}, expected one {expected}. Correct it.")


def _districts(
    district: pd.Series, chances: pd.DataFrame, sizes: Sizes, drawn: Floats, likeliest: Floats, seed: int
) -> Iterator[tuple[str | None, Bags, np.random.Generator]]:
    """Yield each district with its simulated bags, and the random numbers that go on from there."""
    positions = pd.Series(np.arange(len(district)))
    for name, members in positions.groupby(district.to_numpy(), dropna=False, sort=True):
        known = name if isinstance(name, str) else None
        # each district has random numbers of its own, so that another district changes nothing here
        rng = np.random.default_rng([seed, 1, crc32((known or "").encode())])
        at = members.to_numpy()[sizes.is_able[members]]
        size = (sizes.wide_mm[at], sizes.deep_mm[at], sizes.bed_mm[at])
        yield known, simulate_district(chances.to_numpy()[at], size, sizes.pools[known], drawn, likeliest, rng), rng


def _gathered(
    lines: pd.DataFrame, total: Bags, chances: pd.DataFrame, sizes: Sizes, levels: list[float], level: float, seed: int
) -> SafetyStock:
    """Return the result, with the totals at each service level."""
    each: list[tuple[str | None, int | slice]] = [(str(shade), at) for at, shade in enumerate(chances)]
    if each:
        each.append((None, slice(None)))
    at_level = {
        one: _frame([_line(None, shade, total.of(which), one) for shade, which in each]).drop(columns="district")
        for one in levels
    }
    return SafetyStock(
        lines[lines["cores"].gt(0)].reset_index(drop=True),
        at_level[level],
        pd.concat([table.assign(level=one) for one, table in at_level.items()], ignore_index=True),
        sizes.account,
        level,
        len(total.simulated["all"]),
        seed,
    )


def _frame(lines: list[dict[str, object]]) -> pd.DataFrame:
    return pd.DataFrame(lines, columns=list(SAFETY_STOCK_COLUMNS)).astype(_KINDS)


def _line(district: str | None, shade: str | None, bags: Bags, service_level: float) -> dict[str, object]:
    expected, every = float(bags.expected), np.sort(bags.simulated["all"])
    enough = _quantile(every, service_level)
    # one standard error up and down in rank
    step = sqrt(service_level * (1 - service_level) / len(every))
    error = (_quantile(every, service_level + step) - _quantile(every, service_level - step)) / 2
    parts = {
        f"from_{source}": _quantile(np.sort(bags.simulated[source]), service_level) - expected for source in SOURCES
    }
    return {
        "district": district,
        "shade": shade,
        "cores": float(bags.cores),
        "expected": expected,
        "enough": enough,
        "safety_stock": enough - expected,
        "error": error,
        "mean": float(every.mean()),
        **parts,
    }


def _quantile(ascending: Floats, share: float) -> float:
    """Return the least simulated number that this share of the simulations does not exceed."""
    rank = ceil(round(share * len(ascending), 6))
    return float(ascending[min(max(rank, 1), len(ascending)) - 1])
