"""Time the sets that mixes can serve, the choice among them and the bound: python tests/bench/bench_mixes.py [cores].

Cores anywhere in a square, about 127 of them per square kilometre, one crew; 0.6 bags each, more or less.
"""

import argparse
import resource
import time

import numpy as np
import pandas as pd

from pipeline.plan.mix_sets import MixRules, mix_sets
from pipeline.plan.mixes import mix_groups
from pipeline.plan.prices import proven_prices
from pipeline.plan.slots import Slots
from pipeline.plan.travel import Travel

PER_SQUARE_METRE = 127e-6
KB_PER_MB = 1024


def main() -> None:
    """Print the seconds of each step, the bags and the bound."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("cores", nargs="?", type=int, default=10_000)
    count = parser.parse_args().cores
    rng = np.random.default_rng(1)
    xy = rng.uniform(0, np.sqrt(count / PER_SQUARE_METRE), (count, 2))
    net = rng.normal(0.6, 0.14, count).clip(0.3)
    jobs = pd.DataFrame(
        {
            "shade": "grey", "net_bags": net, "mix_min": 3.0, "pour_min": 2.0, "press_min": 1.0,
            "place": np.arange(count), "x_m": xy[:, 0], "y_m": xy[:, 1],
        }
    )  # fmt: skip
    slots, travel = Slots(np.full((count, 1), 128, dtype=np.uint8), 1), Travel(xy, 1.4)
    rules = MixRules(10.0, 5000 / 60, 1.0)
    begin = time.perf_counter()
    sets = mix_sets(jobs, slots, travel, rules)
    listed = time.perf_counter()
    groups = mix_groups(jobs, sets, slots, np.zeros((count, 1)))
    chosen = time.perf_counter()
    price = proven_prices(sets.members, sets.bags, np.where(sets.hidden, net, np.ceil(net)), np.ones(count), xy)
    proven = time.perf_counter()
    bags = sum(np.ceil(round(net[group].sum(), 9)) for group in groups)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / KB_PER_MB
    print(f"{count} cores, {len(sets.bags)} sets: {listed - begin:.1f} s; sets and choice: {chosen - listed:.1f} s")
    print(f"bound: {proven - chosen:.1f} s; {bags:.0f} bags, at least {price.sum():.1f}; {peak:.0f} MB")


if __name__ == "__main__":
    main()
