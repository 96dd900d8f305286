"""Time and memory of simulating the safety stock: ``python tests/bench/bench_safety_stock.py 100000``.

A hundred districts; the shades of half of the cores are uncertain and the sizes of one in twenty unknown. Then the
worst case: all shades uncertain, all sizes unknown.
"""

import resource
import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[2]))

from pipeline.order.safety_stock.simulate import simulate_safety_stock
from pipeline.programme.catalogue import load_catalogue


def make(count: int, uncertain: float, not_known: float) -> pd.DataFrame:
    """Return open cores in a hundred districts."""
    rng = np.random.default_rng(1)
    dark = np.where(rng.random(count) < uncertain, rng.uniform(0.05, 0.95, count), rng.integers(0, 2, count))
    frame = pd.DataFrame(
        {
            "shade_dark_chance": dark,
            "shade_pale_chance": 1 - dark,
            "hole_mm": rng.choice([450.0, 457.2, 600.0], count),
            "depth_mm": np.where(rng.random(count) < not_known, np.nan, rng.uniform(100, 400, count).round()),
        }
    )
    district = pd.Series(rng.integers(0, 100, count)).astype(str)
    return frame.assign(district=district, bedding="pea gravel", shade=np.where(dark > 0.5, "dark", "pale"))


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    materials = load_catalogue({}, "bench").materials
    for name, cores in {"usual": make(count, 0.5, 0.05), "worst": make(count, 1.0, 1.0)}.items():
        wall, cpu = time.perf_counter(), time.process_time()
        history = make(count, 0.5, 0.05)
        total = simulate_safety_stock(cores, history, materials, waste=0.02).totals.iloc[-1]
        wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{count:,} cores, {name}: {wall:.1f} s, {cpu:.1f} s of CPU, peak {peak:,.0f} MB; "
            f"{total['expected']:,.0f} bags expected, {total['enough']:,.0f} enough"
        )


if __name__ == "__main__":
    main()
