"""How often equal crews are told apart, and real differences found: ``python -m tests.bench.bench_comparison [worlds]``.

Worlds are those of ``tests/audit/comparison/worlds.py``. Printed are, for each kind, the share of worlds in which any
difference that is not there is reported, the share in which the one that is there is found, and seconds per world; then
the trial of twenty crews, and how long a comparison of 200,000 cores by sixty rules takes.
"""

import sys
import time

import numpy as np
import pandas as pd

from pipeline.audit.comparison import compare_groups
from pipeline.audit.outcomes import OUTCOMES
from tests.audit.comparison.trials import false_calls
from tests.audit.comparison.worlds import AS_OF, World, cores_of, make, rule_book

_KINDS = {
    "equal": World(),
    "bad days": World(correlation=0.3),
    "mixed surfaces": World(mixed=True, harder=3.0),
    "missing records": World(gaps=True, correlation=0.2),
    "all of it": World(mixed=True, harder=3.0, gaps=True, coarse=True, correlation=0.2),
    "rare": World(rate=0.01, correlation=0.2),
    "one crew, twice the odds": World(worse=2.0),
    "one crew, three times": World(worse=3.0),
    "one contractor, 1.5 times": World(worse_contractor=1.5),
    "one contractor, twice": World(worse_contractor=2.0),
}
_HELD = ("more", "less")


def _judge(name: str, world: World, worlds: int) -> None:
    """Print how often the groups of such worlds are told apart."""
    rng, start = np.random.default_rng(1), time.process_time()
    false = found = 0
    for _ in range(worlds):
        rates = compare_groups(*make(world, rng), rule_book(), AS_OF)
        held = rates[rates["differs"].isin(_HELD) & rates["by"].ne("surface")]
        # a worse crew makes its contractor worse, and a worse contractor its crews
        theirs = held["by"].isin(["contractor", "crew"]) if world.worse_contractor > 1 else held["by"].eq("contractor")
        theirs = theirs & (world.worse * world.worse_contractor > 1) | held["group"].eq("Crew 00") & (world.worse > 1)
        false += bool((~theirs).any())
        group = "Crew 00" if world.worse > 1 else "north"
        found += bool((held["group"].eq(group) & held["measure"].eq("workmanship")).any())
    seconds = (time.process_time() - start) / worlds
    print(f"{name:28} false {false / worlds:6.1%}  found {found / worlds:6.1%}  {seconds:.2f} s")


def _time(cores: int, rules: int) -> None:
    """Print how long a comparison of so many cores takes, with findings of every rule."""
    rng = np.random.default_rng(2)
    days = pd.Timestamp("2024-01-01") + pd.to_timedelta(rng.integers(0, 900, cores), unit="D")
    frame = cores_of(
        crew=[f"Crew {one}" for one in rng.integers(0, 40, cores)],
        register=rng.choice(["north", "south", "east"], cores),
        surface=rng.choice(["asphalt", "concrete", "composite"], cores),
        district=rng.choice([f"D{one}" for one in range(12)], cores),
        segment_id=[f"S{one}" for one in rng.integers(0, cores // 10, cores)],
        depth_believed_mm=rng.uniform(80, 350, cores),
        reinstated_at=days.strftime("%Y-%m-%d"),
    )
    book = rule_book([f"rule-{one}" for one in range(rules)])
    codes = rng.choice(np.arange(len(OUTCOMES), dtype="int8"), (cores, rules), p=[0.03, 0.8, 0.02, 0.1, 0.05])
    start = time.process_time()
    rates = compare_groups(frame, pd.DataFrame(codes, columns=book["rule"]), book, AS_OF)
    print(f"{cores:,} cores, {rules} rules: {time.process_time() - start:.1f} s of processor, {len(rates):,} rows")


def main() -> None:
    """Print all of it."""
    worlds = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    for name, world in _KINDS.items():
        _judge(name, world, worlds)
    for correlation in (0.05, 0.1, 0.2):
        trial = false_calls(correlation, worlds * 5, seed=1)
        print(
            f"twenty crews, correlation {correlation:g}: false {trial.plain:.1%} without design effects, "
            f"{trial.called:.1%} with them; {trial.covered:.1%} of the intervals cover"
        )
    _time(200_000, 60)


if __name__ == "__main__":
    main()
