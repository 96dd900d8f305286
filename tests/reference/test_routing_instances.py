"""Published routing instances with known optima, through the plan's adapter.

E-n22-k4: Christofides and Eilon, "An algorithm for the vehicle-dispatching problem", Operational Research Quarterly 20
(1969): 21 customers, trucks of 6,000, distances rounded. Read in ``tests/data/E-n22-k4.txt`` of the source distribution
of pyvrp 0.14.1, whose comment gives the optimum: "Min no of trucks: 4, Optimal value: 375".
gr17: the 17 cities of Grötschel in TSPLIB. Read in ``tests/data/gr17.tsp`` of the source distribution of tsplib95 0.7.1;
that its shortest tour has 2085 is proven here by trying every set of cities (M. Held and R. M. Karp, "A dynamic
programming approach to sequencing problems", 1962; from memory).
eil51: Christofides and Eilon, TSPLIB: a tour of 51 points, 426 with rounded distances; from memory, points and optimum.
"""

import numpy as np
import pytest

from pipeline.plan.routing import Problem, cost_of, solve_routes
from pipeline.plan.travel import Floats

# x, y and demand; the first is the depot
_E_N22_K4 = """
145 215 0     151 264 1100  159 261 700   130 254 800   128 252 1400  163 247 2100  146 246 400   161 242 800
142 239 100   163 236 500   148 232 600   128 231 1200  156 217 1300  129 214 1300  146 208 300   164 208 900
141 206 2100  147 193 1000  164 193 900   129 189 2500  155 185 1800  139 182 700
"""
# the distances of each city to those before it, and to itself
_GR17 = """
0
633 0
257 390 0
91 661 228 0
412 227 169 383 0
150 488 112 120 267 0
80 572 196 77 351 63 0
134 530 154 105 309 34 29 0
259 555 372 175 338 264 232 249 0
505 289 262 476 196 360 444 402 495 0
353 282 110 324 61 208 292 250 352 154 0
324 638 437 240 421 329 297 314 95 578 435 0
70 567 191 27 346 83 47 68 189 439 287 254 0
211 466 74 182 243 105 150 108 326 336 184 391 145 0
268 420 53 239 199 123 207 165 383 240 140 448 202 57 0
246 745 472 237 528 364 332 349 202 685 542 157 289 426 483 0
121 518 142 84 297 35 29 36 236 390 238 301 55 96 153 336 0
"""
_EIL51 = """
37 52  49 49  52 64  20 26  40 30  21 47  17 63  31 62  52 33  51 21  42 41  31 32  5 25   12 42  36 16  52 41  27 23
17 33  13 13  57 58  62 42  42 57  16 57  8 52   7 38   27 68  30 48  43 67  58 48  58 27  37 69  38 46  46 10  61 33
62 63  63 69  32 22  45 35  59 15  5 6   10 17  21 10  5 64   30 15  39 10  32 39  25 32  25 55  48 28  56 37  30 40
"""


def _between(xy: Floats) -> Floats:
    """Return the distances between points, rounded to whole numbers."""
    distances: Floats = np.rint(np.hypot(*(xy[:, None] - xy[None, :]).transpose(2, 0, 1)))
    return distances


def _instance(travel: Floats, demand: Floats, vehicles: int, capacity: float, prize: float = 1e5) -> Problem:
    """Return an instance whose costs are distances: nothing is late."""
    count = len(travel) - 1
    return Problem(
        prize=np.full(count, prize),
        late=np.zeros((count, vehicles)),
        may=np.ones((count, vehicles), dtype=bool),
        work=np.zeros((count, vehicles)),
        load_kg=demand[1:],
        shift=np.full(vehicles, 1e4),
        carries_kg=np.full(vehicles, capacity),
        start=np.zeros(vehicles, dtype=np.int64),
        end=np.zeros(vehicles, dtype=np.int64),
        travel=travel,
        day_cost=np.zeros(vehicles),
    )


def _e_n22_k4(vehicles: int) -> Problem:
    numbers = np.array(_E_N22_K4.split(), dtype=float).reshape(-1, 3)
    assert len(numbers) == 22
    return _instance(_between(numbers[:, :2]), numbers[:, 2], vehicles, 6000.0)


def _gr17() -> Floats:
    travel = np.zeros((17, 17))
    travel[np.tril_indices(17)] = np.array(_GR17.split(), dtype=float)
    return np.asarray(travel + travel.T)


def _shortest_by_set(travel: Floats) -> Floats:
    """Return for every set of places but the first, as bits, the shortest round trip from the first through them."""
    count = len(travel) - 1
    sets = np.arange(1 << count)
    # the shortest way from the first place through a set that ends at a place of it
    to = np.full((len(sets), count), np.inf)
    to[1 << np.arange(count), np.arange(count)] = travel[0, 1:]
    sizes = np.bitwise_count(sets)
    for size in range(2, count + 1):
        mine = sets[sizes == size]
        for last in range(count):
            having = mine[mine >> last & 1 == 1]
            to[having, last] = (to[having ^ 1 << last] + travel[1:, 1 + last]).min(axis=1)
    shortest: Floats = (to + travel[1:, 0]).min(axis=1)
    shortest[0] = 0.0
    return shortest


def test_the_optimum_of_e_n22_k4_is_found() -> None:
    given = _e_n22_k4(4)
    routes = solve_routes(given, 500, 1)
    assert cost_of(given, routes) == 375.0
    # every customer once, and no truck over what it carries
    assert sorted(at for route in routes for at in route) == list(range(21))
    assert max(given.load_kg[route].sum() for route in routes) <= 6000.0


def test_three_trucks_cannot_carry_what_e_n22_k4_needs_so_the_least_is_left_out() -> None:
    # 22,500 are needed and 18,000 carried: at least 4,500 stay, which two customers at least have (2,500 and 2,100)
    given = _e_n22_k4(3)
    routes = solve_routes(given, 500, 1)
    carried = [float(given.load_kg[route].sum()) for route in routes]
    assert max(carried) <= 6000.0
    assert 21 - sum(map(len, routes)) == 2


def test_the_optimum_of_gr17_is_found_and_proven() -> None:
    travel = _gr17()
    given = _instance(travel, np.zeros(17), 1, 1.0)
    assert _shortest_by_set(travel)[-1] == 2085.0
    assert cost_of(given, solve_routes(given, 200, 1)) == 2085.0


@pytest.mark.parametrize("prize", [60.0, 100.0, 160.0])
def test_the_best_choice_of_cities_of_gr17_is_found_where_leaving_one_out_has_a_price(prize: float) -> None:
    travel = _gr17()
    given = _instance(travel, np.zeros(17), 1, 1.0, prize)
    chosen = np.bitwise_count(np.arange(1 << 16))
    least = (_shortest_by_set(travel) + prize * (16.0 - chosen)).min()
    assert cost_of(given, solve_routes(given, 200, 1)) == least
    assert least < min(2085.0, 16 * prize)


def test_the_optimum_of_eil51_is_found() -> None:
    xy = np.array(_EIL51.split(), dtype=float).reshape(-1, 2)
    assert len(xy) == 51
    given = _instance(_between(xy), np.zeros(51), 1, 1.0)
    assert cost_of(given, solve_routes(given, 1500, 1)) == 426.0
