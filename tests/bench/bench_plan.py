"""Time and memory of the plan of a network of any size: ``python -m tests.bench.bench_plan 100000``.

Makes a grid of streets with a hundred districts and that many open cores along it, in a temporary folder, runs the
audit without publishing, and prints what each stage cost, and where the time of the plan went.
"""

import cProfile
import pstats
import sys
import tempfile
from pathlib import Path

from pipeline.run import run_programme
from tests.bench.bench_audit import make

# the functions whose times add up to nearly all of the plan
_PARTS = (
    "travel_of", "mix_sets", "mix_groups", "groups_of", "visits_of", "schedule", "solve_routes", "stops_of", "travelled",
    "bounds_of", "proven_prices", "not_planned_of", "checked",
)  # fmt: skip


def main() -> None:
    cores = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as name:
        make(Path(name), cores, reinstated=0.0)
        profile = cProfile.Profile()
        profile.enable()
        result = run_programme(Path(name) / "programme.toml")
        profile.disable()
    for stage in result.costs:
        print(f"{stage.stage:<10} {stage.seconds:8.1f} s   peak {stage.peak_mb or 0:,.0f} MB")
    for (_, _, function), (_, calls, _, seconds, _) in sorted(pstats.Stats(profile).stats.items()):  # type: ignore[attr-defined]
        if function in _PARTS:
            print(f"  {function:<13} {calls:7,} calls {seconds:8.1f} s")
    plan = result.plan
    late = (plan.days["end_min"] > plan.days["shift_end_min"]).sum()
    print(
        f"{len(plan.stops):,} stops on {len(plan.days):,} crew days, {late} over their shift, {len(plan.faults)} faults"
    )
    print(plan.objective.to_string(index=False))


if __name__ == "__main__":
    main()
