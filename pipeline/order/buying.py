"""The cheapest way to buy one item for some yards: an integer programme over yards, periods and orders."""

from collections.abc import Iterator
from math import ceil, floor
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, OptimizeResult, milp
from scipy.sparse import coo_array

from pipeline.programme.orders import Item

__all__ = ["Batch", "Bought", "Needs", "buy"]

# a pack is bought at most so many periods before it is used
_AHEAD: Final = 26
# branches of the search; a limit in seconds would give other answers on another machine
_NODES: Final = 50
_MANY_NODES: Final = 5000
_TIDY_NODES: Final = 30
# more yards and periods are not searched for the latest orders
_TIDY_MOST: Final = 60
_TIE: Final = 0.01
_EXACT: Final = 1e-6
# a sum that misses a whole pallet by a rounding error is that whole pallet
_DIGITS: Final = 9

Floats = npt.NDArray[np.float64]
Days = npt.NDArray[np.datetime64]
# yard and period
_At = tuple[int, int]


class Batch(NamedTuple):
    """Packs that a yard (its number) has or will have: usable from ``arrives`` to ``expires``, both included."""

    yard: int
    packs: float
    arrives: np.datetime64
    expires: np.datetime64


class Needs(NamedTuple):
    """What Y yards need of one item in T periods, and how it is sold.

    ``packs``: Y by T. ``starts``: first day of each period, ascending. ``stock``: what there is already. ``life``: how
    long a pack lasts. ``packing``: pallet, smallest order and prices; without a price the packs are kept few.
    ``transfer``: cost of moving a pallet, or a pack of what has no pallets, to another yard; None: nothing is moved.
    """

    packs: Floats
    starts: Days
    stock: list[Batch]
    life: np.timedelta64
    packing: Item
    transfer: float | None = None


class Bought(NamedTuple):
    """``ordered``, ``received`` and ``sent``: packs, Y by T each; ``cost`` of it, and the ``bound`` that is proven.

    Without a price, both count packs. A cost includes that of moving packs.
    """

    ordered: Floats
    received: Floats
    sent: Floats
    cost: float
    bound: float


class _Step(NamedTuple):
    """An order of ``least`` to ``most`` units (pallets, or packs of what has none), at a price per pack."""

    least: int
    most: int
    price: float


class _Programme:
    """Columns and rows of a linear programme, gathered one by one."""

    def __init__(self) -> None:
        self.cost: list[float] = []
        self.later: list[float] = []
        self.most: list[float] = []
        self.is_whole: list[float] = []
        self.entries: list[tuple[int, int, float]] = []
        self.low: list[float] = []
        self.high: list[float] = []

    def column(self, cost: float, later: float, most: float, *, whole: bool) -> int:
        for values, value in zip(
            (self.cost, self.later, self.most, self.is_whole), (cost, later, most, float(whole)), strict=True
        ):
            values.append(value)
        return len(self.cost) - 1

    def row(self, entries: list[tuple[int, float]], low: float, high: float) -> None:
        self.entries += [(len(self.low), column, value) for column, value in entries]
        self.low.append(low)
        self.high.append(high)

    @property
    def rows(self) -> LinearConstraint:
        row, column, value = zip(*self.entries, strict=True)
        matrix = coo_array((value, (row, column)), shape=(len(self.low), len(self.cost)))
        return LinearConstraint(matrix.tocsr(), self.low, self.high)


class _Model(NamedTuple):
    """The programme; ``units`` ordered and ``moves`` in and out have the numbers of its columns by yard and period."""

    units: dict[_At, list[int]]
    moves: dict[_At, tuple[int, int]]
    rows: LinearConstraint
    cost: Floats
    later: Floats
    most: Floats
    is_whole: Floats


def buy(needs: Needs, *, tidy: bool = True) -> Bought:
    """Return the cheapest purchases; ``tidy``: of equally cheap ones, those that are latest and move least."""
    model = _model(needs)
    # purchases that suffice always exist, but the search may end before it has found any
    searches = (_solved(model, model.cost, nodes) for nodes in (_NODES, _MANY_NODES, None))
    first = next(one for one in searches if one.x is not None)
    x = np.round(first.x)
    if tidy:
        # small enough not to outweigh a pack, large enough for the solver to see
        aim = model.cost + model.later * (_TIE * model.cost.max() / max(model.later.max(), 1.0))
        tries = [_solved(model, aim, _TIDY_NODES)] if needs.packs.size <= _TIDY_MOST else []
        orders = np.zeros(len(x), dtype=bool)
        orders[[one for mine in model.units.values() for one in mine]] = True
        # whatever the search leaves undone: with the orders as they are, as little as possible is moved
        tries.append(_solved(model, aim, _TIDY_NODES, np.where(orders, x, np.nan)))
        found = [np.round(one.x) for one in tries if one.x is not None]
        x = next((one for one in found if model.cost @ one <= model.cost @ x + _EXACT), x)
    unit = needs.packing.pallet or 1
    ordered, received, sent = (np.zeros(needs.packs.shape) for _ in range(3))
    for at, columns in model.units.items():
        ordered[at] = unit * x[columns].sum()
    for at, (into, out_of) in model.moves.items():
        received[at], sent[at] = x[into], x[out_of]
    cost = float(model.cost @ x)
    return Bought(ordered, received, sent, cost, min(float(first.mip_dual_bound), cost))


def _solved(model: _Model, aim: Floats, nodes: int | None, fixed: Floats | None = None) -> OptimizeResult:
    """Return what the solver found for an aim; ``fixed``: values that columns have, NaN where they are free."""
    is_free = np.ones(len(aim), dtype=bool) if fixed is None else np.isnan(fixed)
    low, high = np.zeros(len(aim)), model.most.copy()
    if fixed is not None:
        low[~is_free] = high[~is_free] = fixed[~is_free]
    return milp(
        aim,
        integrality=model.is_whole,
        bounds=Bounds(low, high),
        constraints=model.rows,
        options={"node_limit": nodes, "mip_rel_gap": 0} if nodes else {"mip_rel_gap": 0},
    )


def _steps(packing: Item, most_packs: float) -> list[_Step]:
    """Return the sizes of an order by price: prices hold for all packs of the order."""
    unit = packing.pallet or 1
    prices = [(1, 1.0 if packing.price is None else packing.price)]
    prices += [(one.least, one.price) for one in packing.price_breaks]
    largest = max(ceil(most_packs / unit), *(ceil(max(least, packing.minimum) / unit) for least, _ in prices))
    ends = [*(least - 1 for least, _ in prices[1:]), largest * unit]
    steps = [
        _Step(ceil(max(least, packing.minimum) / unit), floor(end / unit), price)
        for (least, price), end in zip(prices, ends, strict=True)
    ]
    return [step for step in steps if step.least <= step.most]


def _model(needs: Needs) -> _Model:
    """Return the programme: orders, the batches that each period uses, and what is moved between yards."""
    built = _Programme()
    yards = range(len(needs.packs))
    uses: dict[_At, list[tuple[int, float]]] = {(yard, period): [] for yard, period in np.ndindex(needs.packs.shape)}
    units = _orders(built, needs, uses)
    _stock(built, needs, uses)
    moves = _moves(built, needs, uses) if needs.transfer is not None and len(yards) > 1 else {}
    for together in [list(yards)] if moves else [[yard] for yard in yards]:
        for first, last, least in _least_units(needs, together):
            bought = [one for yard in together for period in range(first, last + 1) for one in units[yard, period]]
            built.row([(one, 1) for one in bought], least, np.inf)
    for at, entries in uses.items():
        built.row(entries, float(needs.packs[at]), float(needs.packs[at]))
    tables = (np.array(one, dtype=float) for one in (built.cost, built.later, built.most, built.is_whole))
    return _Model(units, moves, built.rows, *tables)


def _orders(built: _Programme, needs: Needs, uses: dict[_At, list[tuple[int, float]]]) -> dict[_At, list[int]]:
    """Add what each yard may order at the start of each period, and when it is used."""
    yards, periods = needs.packs.shape
    unit, steps = needs.packing.pallet or 1, _steps(needs.packing, needs.packs.sum())
    units: dict[_At, list[int]] = {}
    for yard, period in uses:
        rank = unit * (periods - period) + yard / (1 + yards) / (1 + periods)
        mine = [built.column(unit * step.price, rank, step.most, whole=True) for step in steps]
        if len(steps) > 1 or steps[0].least > 1:
            chosen = [built.column(0, 0, 1, whole=True) for _ in steps]
            for one, switch, step in zip(mine, chosen, steps, strict=True):
                built.row([(one, 1), (switch, -step.least)], 0, np.inf)
                built.row([(one, 1), (switch, -step.most)], -np.inf, 0)
            built.row([(switch, 1) for switch in chosen], 0, 1)
        used = []
        for then in _usable(needs, period):
            used.append(built.column(0, 0, np.inf, whole=False))
            uses[yard, then].append((used[-1], 1))
        built.row([*((one, 1) for one in used), *((one, -unit) for one in mine)], -np.inf, 0)
        units[yard, period] = mine
    return units


def _stock(built: _Programme, needs: Needs, uses: dict[_At, list[tuple[int, float]]]) -> None:
    """Add when each batch of the stock is used."""
    for batch in needs.stock:
        used = []
        for then in np.flatnonzero((needs.starts >= batch.arrives) & (needs.starts <= batch.expires)).tolist():
            used.append(built.column(0, 0, batch.packs, whole=False))
            uses[batch.yard, then].append((used[-1], 1))
        built.row([(one, 1) for one in used], 0, batch.packs)


def _moves(built: _Programme, needs: Needs, uses: dict[_At, list[tuple[int, float]]]) -> dict[_At, tuple[int, int]]:
    """Add what each yard gets from the others and gives to them; it is used in the period in which it is moved."""
    per_pack = (needs.transfer or 0.0) / (needs.packing.pallet or 1) if needs.packing.price is not None else 0.0
    moves: dict[_At, tuple[int, int]] = {}
    for at in uses:
        into = built.column(per_pack, 1, needs.packs.sum(), whole=True)
        out_of = built.column(0, 1, needs.packs.sum(), whole=True)
        uses[at] += [(into, 1), (out_of, -1)]
        moves[at] = (into, out_of)
    for period in range(needs.packs.shape[1]):
        here = [moves[yard, period] for yard in range(len(needs.packs))]
        built.row([entry for into, out_of in here for entry in ((into, 1.0), (out_of, -1.0))], 0, 0)
    return moves


def _least_units(needs: Needs, yards: list[int]) -> Iterator[tuple[int, int, int]]:
    """Yield first and last period, and the units that some yards must buy in them: whole, so the search is short."""
    packs, unit = needs.packs[yards].sum(axis=0), needs.packing.pallet or 1
    stock = [batch for batch in needs.stock if batch.yard in yards]
    first_use = [0, *(then for then in range(1, len(packs)) if 0 not in {*_usable_from(needs, then)})]
    for used_from in first_use:
        bought_from = min(_usable_from(needs, used_from))
        for last in range(used_from, len(packs)):
            there = sum(
                batch.packs
                for batch in stock
                if batch.arrives <= needs.starts[last] and batch.expires >= needs.starts[used_from]
            )
            least = ceil(round((packs[used_from : last + 1].sum() - there) / unit, _DIGITS))
            if least > 0:
                yield bought_from, last, least


def _usable_from(needs: Needs, then: int) -> list[int]:
    """Return the periods whose purchases can be used in a later one."""
    return [period for period in range(then + 1) if then in _usable(needs, period)]


def _usable(needs: Needs, period: int) -> Iterator[int]:
    """Yield the periods in which a pack delivered at the start of one can be used."""
    for then in range(period, min(period + _AHEAD, len(needs.starts))):
        if needs.starts[then] <= needs.starts[period] + needs.life:
            yield then
