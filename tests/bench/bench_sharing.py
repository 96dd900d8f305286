"""Time of sharing mixes, and the gap to the proven bound: ``python tests/bench/bench_sharing.py 100000``.

All cores are pending and of one shade. Visits of a dozen cores resemble a planned programme; the plane without visits
is a city whose cores are all one group, each with a given number of neighbours within reach.
"""

import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[2]))

from pipeline.order.mixes.sharing import share_mixes

_REACH_M = 100.0
_A_VISIT = 12
_NEIGHBOURS = (1, 3, 5, 8, 15, 60, 1000)


def visits(count: int) -> pd.DataFrame:
    """Return cores in visits of a dozen, each visit around a position of its own."""
    rng = np.random.default_rng(1)
    visit = np.arange(count) // _A_VISIT
    x, y = rng.uniform(0, 30_000, (2, visit.max() + 1))[:, visit] + rng.normal(0, 2 * _REACH_M, (2, count))
    return _cores(x, y, rng).assign(visit=pd.Series(visit).astype(str))


def plane(count: int, neighbours: float) -> pd.DataFrame:
    """Return cores all over a square, without visits, each with that many others within reach."""
    rng = np.random.default_rng(1)
    x, y = rng.uniform(0, _REACH_M * np.sqrt(count * np.pi / neighbours), (2, count))
    return _cores(x, y, rng)


def _cores(x, y, rng):
    frame = pd.DataFrame({"x_m": x, "y_m": y, "bags": rng.uniform(0.35, 1.1, len(x)).round(3)})
    return frame.assign(shade="dark", district="Quay", visit=pd.Series(None, frame.index, dtype="str"))


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    cases = {f"visits of {_A_VISIT}": visits(count)}
    cases |= {f"one group, {near} within reach": plane(count, near) for near in _NEIGHBOURS}
    print(
        f"{count:,} cores{'':<18} {'wall s':>7} {'CPU s':>7} {'needed':>9} {'alone':>8} {'shared':>8} {'bound':>8}   gap"
    )
    for name, cores in cases.items():
        wall, cpu = time.perf_counter(), time.process_time()
        groups = share_mixes(cores, _REACH_M).groups
        wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
        bags = groups[["needed", "alone", "shared", "bound"]].sum()
        print(
            f"{name:<30} {wall:7.2f} {cpu:7.2f} {bags['needed']:9,.0f} {bags['alone']:8,.0f} {bags['shared']:8,.0f} "
            f"{bags['bound']:8,.0f} {bags['shared'] / bags['bound'] - 1:6.2%}"
        )


if __name__ == "__main__":
    main()
