"""Time and memory of simulating the safety stock: ``python tests/bench/bench_safety_stock.py 100000``.

A hundred districts, three cores per two mixes; the shades of half of the cores are uncertain, and another core in
twenty is to be surveyed. Then the worst case: all shades uncertain, and as many cores to be surveyed as are planned.
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


def make(count: int, uncertain: float, to_survey: float) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return planned cores in a hundred districts, and cores to be surveyed."""
    rng = np.random.default_rng(1)
    dark = np.where(rng.random(count) < uncertain, rng.uniform(0.05, 0.95, count), rng.integers(0, 2, count))
    frame = pd.DataFrame(
        {
            "shade_dark_chance": dark,
            "shade_pale_chance": 1 - dark,
            "hole_mm": rng.choice([450.0, 457.2, 600.0], count),
            "depth_mm": rng.uniform(100, 400, count).round(),
            "mix": np.arange(count) * 2 // 3,
            "bags": 1.0,
        }
    )
    district = pd.Series(rng.integers(0, 100, count)).astype(str)
    shade = np.where(dark[frame["mix"] * 3 // 2] > 0.5, "dark", "pale")
    frame = frame.assign(district=district, bedding="pea gravel", shade=shade, surface="asphalt")
    survey = frame.iloc[: round(to_survey * count)].assign(depth_mm=np.nan)
    return frame, survey


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    materials = load_catalogue({}, "bench").materials
    for name, (cores, to_survey) in {"usual": make(count, 0.5, 0.05), "worst": make(count, 1.0, 1.0)}.items():
        wall, cpu = time.perf_counter(), time.process_time()
        found = simulate_safety_stock(cores, materials, to_survey=to_survey, waste=0.02, simulations=1000)
        total = found.totals.iloc[-1]
        wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{count:,} cores, {name}: {wall:.1f} s, {cpu:.1f} s of CPU, peak {peak:,.0f} MB; "
            f"{total['expected']:,.0f} bags planned, {total['mean']:,.0f} on average"
        )


if __name__ == "__main__":
    main()
