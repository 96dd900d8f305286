"""Reserve: how much more than expected to have in the yard, so that it is enough with a stated chance.

What is simulated, all from one fixed seed:

- **shade**: which shade each core takes, by its chances; core by core, so it averages out over many. Not covered: a
  layer that is wrong about a whole street at once.
- **size**: diameter or depth that is not known yet, taken from those that are: of a core drawn from the same district,
  or from the whole programme where the district has too few. A diameter that is known keeps its place beside a depth
  that is drawn.
- **waste**: bags lost; each that is opened is lost with the same chance, however often that happens to its successor.
- **model**: kerf, pilot hole, gap, bed fill, wet density, overfill. One draw for the whole programme in each
  simulation: they are the same at all cores, and a thousand cores do not make them surer.

All is in bags before any rounding up; with ``mixed_per_needed`` they are the bags that are mixed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, sqrt
from typing import Final, Literal
from zlib import crc32

import numpy as np
import pandas as pd

from pipeline.errors import SettingsError
from pipeline.order.reserve.chance import chances_of, mean_terms, sizes_of
from pipeline.order.reserve.draws import drawn_hits, drawn_sums, in_pieces, needs_of
from pipeline.order.reserve.spread import (
    Calibrated,
    Floats,
    bags_of_terms,
    draw_model,
    likeliest_model,
)
from pipeline.programme.catalogue import Materials

__all__ = ["RESERVE_COLUMNS", "Reserve", "simulate_reserve"]

RESERVE_COLUMNS: Final = (
    "district", "shade", "cores", "expected", "enough", "reserve", "error", "mean", "from_shade", "from_size",
    "from_waste", "from_model",
)  # fmt: skip

_SOURCES: Final = ("shade", "size", "waste", "model")
# a chance closer to nought or one than this is certain
_CERTAIN: Final = 1e-6
_FEWEST: Final = 100
_KINDS: Final = {name: "str" if name in {"district", "shade"} else "float" for name in RESERVE_COLUMNS}


@dataclass(frozen=True)
class Reserve:
    """What is enough with a chance of ``service_level``.

    ``lines``: one row a district and shade, RESERVE_COLUMNS. ``totals``: the same without the district, a row a shade
    and a last one, without a shade, for all: quantiles do not add up, so a total is one of its own. ``levels``: the
    totals at each service level asked for, with ``level``. ``sizes``:
    ``district``, ``not_known`` (cores with a size to draw), ``known`` (cores it is drawn from), ``drawn_from``:
    "district", "programme", or "none": those cores are left out.

    Columns: ``cores``: how many, chances added up. ``expected``: bags by the model's likeliest values, the chances of
    the shades and the mean of sizes not known, with no waste. ``enough``: bags that suffice in that share of the
    simulations. ``reserve``: what that is beyond ``expected``. ``error``: standard error of ``enough`` that comes from
    the number of simulations. ``mean``: over all simulations, with all sources. ``from_*``: what would be enough if
    only that source were uncertain, less ``expected``; these do not add up to ``reserve`` either.
    """

    lines: pd.DataFrame
    totals: pd.DataFrame
    levels: pd.DataFrame
    sizes: pd.DataFrame
    service_level: float
    simulations: int
    seed: int


def simulate_reserve(
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
) -> Reserve:
    """Simulate the need of a programme.

    Parameters
    ----------
    cores
        N open cores with a unique index, that may need grout: ``district``, ``shade`` (the likeliest; missing where
        none), ``bedding``, ``hole_mm`` and ``depth_mm`` (missing where not known or not to be believed), and if they
        were weighed ``shade_<shade>_chance``; without chances, a core's shade is certain.
    history
        Cores whose size is known, of the same programme, open or not: ``district``, ``hole_mm``, ``depth_mm``.
    materials
        Values and their ranges.
    diameter_is
        Whether the diameter was written of the hole or of the core; ``hole_mm`` is then the core's and two of the
        catalogue's kerfs, and follows the kerf.
    service_level
        Share of the simulations in which the quantity is enough.
    waste
        Share of all bags opened that are lost.
    calibrated
        Kerf and bed from records of use, in place of the ranges.
    mixed_per_needed
        Bags mixed for each bag needed, by ``district`` and ``shade``: what sharing leaves over; 1 where missing.
    further_levels
        Service levels whose totals are wanted beside.
    simulations, seed
        How many, and from where chance starts.

    Returns
    -------
    Reserve
        The same whatever the order of the rows; a district's figures do not depend on other districts, unless its
        sizes are drawn from them.

    Raises
    ------
    SettingsError
        A service level, a waste or a number of simulations that cannot be.
    """
    _check(service_level, waste, simulations)
    cores = cores.sort_index()
    chances = chances_of(cores)
    shades = list(chances.columns)
    sizes = sizes_of(cores, history, materials, diameter_is)
    model = draw_model(materials, simulations, np.random.default_rng([seed, 0]), calibrated)
    drawn = bags_of_terms(model, materials, diameter_is)
    likeliest = bags_of_terms(likeliest_model(materials, calibrated), materials, diameter_is)[0]
    factors = {} if mixed_per_needed is None else mixed_per_needed.to_dict()
    lines = []
    nothing = np.zeros((simulations, len(shades)))
    whole = _Bags(nothing[0], nothing[0], dict.fromkeys((*_SOURCES, "all"), nothing))
    for name, places in pd.Series(np.arange(len(cores))).groupby(cores["district"].to_numpy(), dropna=False, sort=True):
        district = name if isinstance(name, str) else None
        # a district has chances of its own, so that another one changes nothing here
        rng = np.random.default_rng([seed, 1, crc32((district or "").encode())])
        at = places.to_numpy()[sizes.is_able[places]]
        size = (sizes.wide_mm[at], sizes.deep_mm[at], sizes.bed_mm[at])
        bags = _simulate(chances.to_numpy()[at], size, sizes.pools[district], drawn, likeliest, rng)
        bags = _with_waste(bags, np.array([factors.get((district, shade), 1.0) for shade in shades]), waste, rng)
        lines += [_line(district, shade, bags.of(number), service_level) for number, shade in enumerate(shades)]
        whole = whole + bags
    each = [(shade, number) for number, shade in enumerate(shades)] + ([(None, slice(None))] if shades else [])
    frame = pd.DataFrame(lines, columns=list(RESERVE_COLUMNS)).astype(_KINDS)
    at_level = {
        level: pd.DataFrame(
            [_line(None, shade, whole.of(which), level) for shade, which in each], columns=list(RESERVE_COLUMNS)
        ).astype(_KINDS)
        for level in sorted({service_level, *further_levels})
    }
    total = at_level[service_level]
    return Reserve(
        frame[frame["cores"].gt(0)].reset_index(drop=True),
        total.drop(columns="district"),
        pd.concat([one.assign(level=level) for level, one in at_level.items()], ignore_index=True).drop(
            columns="district"
        ),
        sizes.account,
        service_level,
        simulations,
        seed,
    )


def _check(service_level: float, waste: float, simulations: int) -> None:
    for name, found, is_good, expected in (
        ("service level", service_level, 0 < service_level < 1, "between 0 and 100 %, such as 95 %"),
        ("waste", waste, 0 <= waste < 1, "of 0 % or more and below 100 %"),
        ("number of simulations", simulations, simulations >= _FEWEST, f"of {_FEWEST} or more"),
    ):
        if not is_good:
            raise SettingsError(f"reserve: found a {name} of {found}, expected one {expected}. Correct it.")


@dataclass(frozen=True)
class _Bags:
    """Bags of K shades: cores and the expected (K), and by source the simulated (S by K)."""

    cores: Floats
    expected: Floats
    simulated: dict[str, Floats]

    def __add__(self, other: "_Bags") -> "_Bags":
        both = {source: self.simulated[source] + table for source, table in other.simulated.items()}
        return _Bags(self.cores + other.cores, self.expected + other.expected, both)

    def of(self, number: int | slice) -> "_Bags":
        """One shade, or all together."""
        which = slice(number, number + 1) if isinstance(number, int) else number
        return _Bags(
            self.cores[which].sum(),
            self.expected[which].sum(),
            {source: table[:, which].sum(axis=1) for source, table in self.simulated.items()},
        )


def _simulate(
    chance: Floats,
    size: tuple[Floats, Floats, Floats],
    pool: tuple[Floats, Floats],
    drawn: Floats,
    likeliest: Floats,
    rng: np.random.Generator,
) -> _Bags:
    """Simulate one district; all sources but waste."""
    wide, deep, bed = size
    terms = mean_terms(wide, deep, bed, pool)
    mean = chance.T @ terms
    is_known = np.isfinite(wide) & np.isfinite(deep)
    is_sure = ((chance < _CERTAIN) | (chance > 1 - _CERTAIN)).all(axis=1)
    # sizes and shades that are known are the same in all simulations
    fixed = chance[is_known & is_sure].T @ terms[is_known & is_sure]
    by_shade, by_both = np.tile(fixed @ likeliest, (len(drawn), 1)), drawn @ fixed.T
    by_size = np.tile(chance[is_known].T @ terms[is_known] @ likeliest, (len(drawn), 1))
    edges = np.minimum(np.cumsum(chance, axis=1), 1).astype(np.float32)
    # only a term that the model takes something of
    used = np.flatnonzero((drawn != 0).any(axis=0))
    for core in in_pieces(np.flatnonzero(is_known & ~is_sure), len(drawn)):
        for number, sums in enumerate(drawn_sums(edges[core], terms[core][:, used], len(drawn), rng)):
            by_shade[:, number] += sums @ likeliest[used]
            by_both[:, number] += (sums * drawn[:, used]).sum(axis=1)
    for core in in_pieces(np.flatnonzero(~is_known), len(drawn)):
        at = rng.integers(0, len(pool[0]), (len(drawn), len(core)))
        width, depth = (
            np.where(np.isnan(own[core]), of[at], own[core]) for own, of in zip((wide, deep), pool, strict=True)
        )
        by_size += needs_of(width, depth, bed[core], likeliest[None]) @ chance[core]
        needs = needs_of(width, depth, bed[core], drawn)
        for number, hit in enumerate(drawn_hits(edges[core], len(drawn), rng)):
            by_shade[:, number] += hit @ (terms[core] @ likeliest)
            by_both[:, number] += (hit * needs).sum(axis=1)
    expected = mean @ likeliest
    simulated = {"shade": by_shade, "size": by_size, "model": drawn @ mean.T, "all": by_both}
    return _Bags(chance.sum(axis=0), expected, simulated)


def _with_waste(bags: _Bags, factor: Floats, waste: float, rng: np.random.Generator) -> _Bags:
    expected = bags.expected * factor
    simulated = {source: table * factor for source, table in bags.simulated.items()}
    simulated["waste"] = expected + _lost(np.tile(expected, (len(simulated["all"]), 1)), waste, rng)
    simulated["all"] = simulated["all"] + _lost(simulated["all"], waste, rng)
    return _Bags(bags.cores, expected, simulated)


def _lost(bags: Floats, waste: float, rng: np.random.Generator) -> Floats:
    """Bags lost until so many were not."""
    lost = np.zeros_like(bags)
    if waste > 0:
        some = bags > 0
        lost[some] = rng.negative_binomial(bags[some], 1 - waste)
    return lost


def _line(district: str | None, shade: str | None, bags: _Bags, service_level: float) -> dict[str, object]:
    expected, every = float(bags.expected), np.sort(bags.simulated["all"])
    enough = _quantile(every, service_level)
    # one standard error up and down in rank
    step = sqrt(service_level * (1 - service_level) / len(every))
    error = (_quantile(every, service_level + step) - _quantile(every, service_level - step)) / 2
    parts = {
        f"from_{source}": _quantile(np.sort(bags.simulated[source]), service_level) - expected for source in _SOURCES
    }
    return {
        "district": district,
        "shade": shade,
        "cores": float(bags.cores),
        "expected": expected,
        "enough": enough,
        "reserve": enough - expected,
        "error": error,
        "mean": float(every.mean()),
        **parts,
    }


def _quantile(ascending: Floats, share: float) -> float:
    """The least simulated number that so large a share does not exceed."""
    rank = ceil(round(share * len(ascending), 6))
    return float(ascending[min(max(rank, 1), len(ascending)) - 1])
