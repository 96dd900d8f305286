"""Safety stock: how many bags to hold beyond the planned bags to mix, so that they suffice with a stated probability.

What is simulated, all from one fixed seed:

- **mixes**: the need of every mix of the plan is drawn and rounded up to whole bags (or half bags) in each simulation,
  so that the part of a bag that the plan leaves over takes up a larger need before another bag is opened.
- **shade**: the shade each core takes, by its chances, core by core, so that it averages out over many cores. A core of
  another shade than planned gets a mix of its own. Not covered: a surface layer that is wrong about a whole street.
- **waste**: lost bags. Every bag opened is lost with the same probability, and so is the one that replaces it.
- **model**: kerf, pilot hole, gap, bed fill, wet density and overfill. They are drawn once per simulation for the whole
  programme, since their true values are the same at every core and do not average out. Kerf and bed that were
  calibrated from records of use take the place of these ranges.

Cores of unknown size or surface are in no mix; what they may add is the survey round.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, Literal
from zlib import crc32

import numpy as np
import pandas as pd

from pipeline.contracts import ORDER_TABLES, names_of
from pipeline.errors import SettingsError
from pipeline.order.safety_stock.bags import Bags, add_waste, no_bags
from pipeline.order.safety_stock.levels import joint_columns, line_of
from pipeline.order.safety_stock.mixes import Mixes, mixed_bags
from pipeline.order.safety_stock.shades_and_sizes import Sizes, chances_of, sizes_of
from pipeline.order.safety_stock.survey import survey_bags
from pipeline.order.safety_stock.volume_model import (
    Calibrated,
    Floats,
    bags_of_terms,
    draw_model,
    likeliest_model,
    terms_of,
)
from pipeline.programme.catalogue import Materials

__all__ = ["SAFETY_STOCK_COLUMNS", "SafetyStock", "simulate_safety_stock"]

SAFETY_STOCK_COLUMNS: Final = names_of(ORDER_TABLES["safety_stock"])
_FEWEST: Final = 100
_KINDS: Final = {name: "str" if name in {"district", "shade"} else "float" for name in SAFETY_STOCK_COLUMNS}
# district, shade and bags
_Line = tuple[str, str, Bags]


@dataclass(frozen=True)
class SafetyStock:
    """The bags that suffice with a probability of ``service_level``.

    ``lines``: one row per district and shade, SAFETY_STOCK_COLUMNS. ``totals``: the same without the district: one row
    per shade, and a last row without a shade for all of them. Quantiles do not add up, so totals are simulated too.
    ``levels``: the totals at each service level, with ``level``. ``survey``: what the cores to be surveyed may add.

    The columns: ``cores``: number of cores, as a sum of chances. ``expected``: the bags to mix of the plan, without
    waste. ``enough``: bags that suffice in that share of the simulations; of a total, if they were held in common.
    ``safety_stock``: ``enough`` less ``expected``, zero or more. ``error``: standard error of ``enough`` due to the
    number of simulations. ``mean``: mean over all simulations, all sources included. ``from_*``: the safety stock if
    only that source were uncertain; these do not add up to ``safety_stock``. ``without_model``: the safety stock if
    kerf, bed and the rest of the volume model were exactly as stated, or as calibrated. ``planned_suffices``: share of
    the simulations in which the bags to mix suffice without any safety stock. ``enough_jointly``: bags to hold so that
    no district runs out of any shade in that share of the simulations; of a total, their sum. ``joint_level``: share of
    the simulations in which no district runs out of any shade if each holds its own safety stock; of the total of a
    shade, of that shade.
    """

    lines: pd.DataFrame
    totals: pd.DataFrame
    levels: pd.DataFrame
    survey: pd.DataFrame
    service_level: float
    simulations: int
    seed: int


def simulate_safety_stock(
    cores: pd.DataFrame,
    materials: Materials,
    diameter_is: Literal["hole", "core"] = "hole",
    *,
    to_survey: pd.DataFrame | None = None,
    history: pd.DataFrame | None = None,
    smallest: float = 1.0,
    service_level: float = 0.95,
    waste: float = 0.0,
    calibrated: Calibrated | None = None,
    further_levels: Sequence[float] = (),
    simulations: int = 2000,
    seed: int = 1,
) -> SafetyStock:
    """Simulate the bags of a plan; a district's figures depend neither on row order nor on other districts' needs.

    Parameters
    ----------
    cores
        N planned cores, with a unique index: ``district``, ``shade`` (as planned), ``mix`` (number of the mix),
        ``bags`` (opened at the core by the plan), ``bedding``, ``hole_mm`` and ``depth_mm``, and
        ``shade_<shade>_chance`` if known.
    materials, calibrated
        Values and their ranges; kerf and bed calibrated from records of use, in place of their ranges.
    diameter_is
        Whether diameters were recorded of the hole or of the core; ``hole_mm`` is then the core's plus two kerfs.
    to_survey
        Open cores whose size or surface is unknown, with the same columns but ``mix`` and ``bags``, and ``surface``.
    history
        Cores of known size of the same programme, open or not: the same columns.
    smallest
        The smallest share of a bag that is mixed.
    service_level, further_levels
        Share of the simulations in which the bags suffice, and further levels for the totals.
    waste, simulations, seed
        Share of all bags opened that are lost; how many simulations, and where the random numbers start.

    Raises
    ------
    SettingsError
        The service level, the waste or the number of simulations is out of its range.
    """
    _check(service_level, waste, simulations)
    cores = cores.sort_index()
    rng = np.random.default_rng([seed, 0])
    models = (draw_model(materials, simulations, rng, calibrated), likeliest_model(materials, calibrated))
    drawn, likeliest = (bags_of_terms(model, materials, diameter_is) for model in models)
    model = _Model(drawn, likeliest[0], smallest)
    chances = chances_of(cores)
    by_district = _districts(cores, chances, sizes_of(cores, cores, materials, diameter_is), model, waste, seed)
    to_survey = cores.iloc[:0].assign(surface=None) if to_survey is None else to_survey
    survey = survey_bags(
        to_survey, cores if history is None else history, materials, diameter_is, model.drawn,
        smallest=smallest, waste=waste, service_level=service_level, seed=seed,
    )  # fmt: skip
    return _gathered(by_district, list(map(str, chances)), survey, service_level, further_levels, simulations, seed)


def _gathered(
    by_district: dict[str, Bags],
    shades: list[str],
    survey: pd.DataFrame,
    service_level: float,
    further_levels: Sequence[float],
    simulations: int,
    seed: int,
) -> SafetyStock:
    """Return the result, with the totals at each service level."""
    lines = [
        (name, shade, mine)
        for name, bags in by_district.items()
        for at, shade in enumerate(shades)
        if (mine := bags.of(at)).cores > 0
    ]
    total = sum(by_district.values(), no_bags(simulations, len(shades)))
    at_level = {level: _totals(lines, total, shades, level) for level in sorted({service_level, *further_levels})}
    return SafetyStock(
        _lines(lines, service_level),
        at_level[service_level],
        pd.concat([table.assign(level=level) for level, table in at_level.items()], ignore_index=True),
        survey,
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
            raise SettingsError(f"safety stock: found a {name} of {found}, expected one {expected}. Correct it.")


@dataclass(frozen=True)
class _Model:
    """Bags per unit of each term, drawn (S by T) and likeliest (T), and the smallest share of a bag that is mixed."""

    drawn: Floats
    likeliest: Floats
    smallest: float


def _districts(
    cores: pd.DataFrame, chances: pd.DataFrame, sizes: Sizes, model: _Model, waste: float, seed: int
) -> dict[str, Bags]:
    """Return the simulated bags of each district.

    A mix belongs to the district of its first core. Where its cores lie in two districts, each has the bags of its own
    cores by the plan, and the first has the difference between simulation and plan.
    """
    own, terms = cores["district"].to_numpy(), terms_of(sizes.wide_mm, sizes.deep_mm, sizes.bed_mm)
    home = cores.groupby("mix")["district"].transform("first").to_numpy()
    shade = chances.columns.get_indexer(pd.Index(cores["shade"]))
    chance, opened = chances.to_numpy(float), np.zeros(chances.shape)
    opened[np.arange(len(cores)), shade] = cores["bags"].to_numpy(float)
    found = {}
    for name in sorted(set(own)):
        at = np.flatnonzero(home == name)
        # each district has random numbers of its own, so that another district changes nothing here
        rng = np.random.default_rng([seed, 1, crc32(str(name).encode())])
        # mixes in the order of their first cores, whatever their numbers
        number = pd.factorize(cores["mix"].iloc[at])[0]
        at, number = at[np.argsort(number, kind="stable")], np.sort(number)
        starts = np.flatnonzero(np.diff(number, prepend=-1))
        mixes = Mixes(terms[at], chance[at], starts, shade[at][starts])
        planned = opened[own == name].sum(axis=0)
        simulated = mixed_bags(mixes, model.drawn, model.likeliest, model.smallest, rng)
        elsewhere = planned - opened[at].sum(axis=0)
        simulated = {source: table + elsewhere for source, table in simulated.items()}
        found[str(name)] = add_waste(Bags(chance[own == name].sum(axis=0), planned, simulated), waste, rng)
    return found


def _lines(lines: list[_Line], level: float) -> pd.DataFrame:
    suffices, jointly = joint_columns([bags for _, _, bags in lines], level)
    return _frame(
        {"district": district, "shade": shade, "enough_jointly": most, "joint_level": suffices} | line_of(bags, level)
        for (district, shade, bags), most in zip(lines, jointly, strict=True)
    )


def _totals(lines: list[_Line], total: Bags, shades: list[str], level: float) -> pd.DataFrame:
    """Return a row per shade, and a last one for all shades."""
    each: list[tuple[str | None, int | slice]] = [(shade, at) for at, shade in enumerate(shades)]
    if each:
        each.append((None, slice(None)))
    rows: list[dict[str, object]] = []
    for shade, which in each:
        suffices, jointly = joint_columns([bags for _, mine, bags in lines if shade in {None, mine}], level)
        own: dict[str, object] = {"shade": shade, "enough_jointly": sum(jointly), "joint_level": suffices}
        rows.append(own | line_of(total.of(which), level))
    return _frame(rows).drop(columns="district")


def _frame(rows: Iterable[dict[str, object]]) -> pd.DataFrame:
    return pd.DataFrame(list(rows), columns=list(SAFETY_STOCK_COLUMNS)).astype(_KINDS)
