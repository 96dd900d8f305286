"""Published routing instances with known optima, through the plan's adapter.

E-n22-k4: Christofides and Eilon, "An algorithm for the vehicle-dispatching problem", Operational Research Quarterly 20
(1969): 21 customers, trucks of 6,000, optimum 375 with rounded distances, as CVRPLIB lists it.
eil51: the same authors, TSPLIB: a tour of 51 points, optimum 426 with rounded distances.
Coordinates, demands and optima are from memory; a wrong figure would hardly lead to the published optimum.
"""

import numpy as np

from pipeline.plan.routing import Problem, cost_of, solve_routes
from pipeline.plan.travel import Floats

# x, y and demand; the first is the depot
_E_N22_K4 = """
145 215 0     151 264 1100  159 261 700   130 254 800   128 252 1400  163 247 2100  146 246 400   161 242 800
142 239 100   163 236 500   148 232 600   128 231 1200  156 217 1300  129 214 1300  146 208 300   164 208 900
141 206 2100  147 193 1000  164 193 900   129 189 2500  155 185 1800  139 182 700
"""
_EIL51 = """
37 52  49 49  52 64  20 26  40 30  21 47  17 63  31 62  52 33  51 21  42 41  31 32  5 25   12 42  36 16  52 41  27 23
17 33  13 13  57 58  62 42  42 57  16 57  8 52   7 38   27 68  30 48  43 67  58 48  58 27  37 69  38 46  46 10  61 33
62 63  63 69  32 22  45 35  59 15  5 6   10 17  21 10  5 64   30 15  39 10  32 39  25 32  25 55  48 28  56 37  30 40
"""


def _instance(xy: Floats, demand: Floats, vehicles: int, capacity: float) -> Problem:
    """Return an instance whose costs are distances rounded to whole numbers: nothing is late, and all is to be done."""
    travel = np.rint(np.hypot(*(xy[:, None] - xy[None, :]).transpose(2, 0, 1)))
    count = len(xy) - 1
    return Problem(
        prize=np.full(count, 1e5),
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


def test_the_optimum_of_e_n22_k4_is_found() -> None:
    numbers = np.array(_E_N22_K4.split(), dtype=float).reshape(-1, 3)
    assert len(numbers) == 22
    given = _instance(numbers[:, :2], numbers[:, 2], 4, 6000.0)
    assert cost_of(given, solve_routes(given, 500, 1)) == 375.0


def test_the_optimum_of_eil51_is_found() -> None:
    xy = np.array(_EIL51.split(), dtype=float).reshape(-1, 2)
    assert len(xy) == 51
    given = _instance(xy, np.zeros(51), 1, 1.0)
    assert cost_of(given, solve_routes(given, 1500, 1)) == 426.0
