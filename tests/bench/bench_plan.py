"""Time and memory of the plan of a network of any size: ``python -m tests.bench.bench_plan 100000``.

Makes a grid of streets with a hundred districts and that many open cores along it, in a temporary folder, runs the
audit without publishing and prints what each stage cost, and where the time of the plan went.
"""

import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

from pipeline.run import run_programme
from tests.bench.whole_town import make_town

# where each function is called from; what one of them calls counts in both. A profiler would slow the whole down
_PARTS = {
    "pipeline.plan": ("travel_of", "routes_of", "stops_of", "travelled", "not_planned_of", "bounds_of", "checked"),
    "pipeline.plan.work": ("mix_sets", "mix_groups", "groups_of", "visits_of", "schedule"),
    "pipeline.plan.schedule": ("solve_routes",),
    "pipeline.plan.bounds": ("proven_prices",),
}
_SECONDS: Counter[str] = Counter()
_CALLS: Counter[str] = Counter()


def _timed(name: str, function: Callable[..., Any]) -> Callable[..., Any]:
    def timed(*args: Any, **more: Any) -> Any:
        start = time.perf_counter()
        try:
            return function(*args, **more)
        finally:
            _SECONDS[name] += time.perf_counter() - start
            _CALLS[name] += 1

    return timed


def main() -> None:
    cores = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as name:
        make_town(Path(name), cores, cores // 4, cores // 12, reinstated=0.0)
        for module, names in _PARTS.items():
            for part in names:
                setattr(import_module(module), part, _timed(part, getattr(import_module(module), part)))
        result = run_programme(Path(name) / "programme.toml", out=None)
    for stage in result.costs:
        print(f"{stage.stage:<10} {stage.seconds:8.1f} s   peak {stage.peak_mb or 0:,.0f} MB")
    for part, seconds in _SECONDS.most_common():
        print(f"  {part:<14} {_CALLS[part]:7,} calls {seconds:8.1f} s")
    plan = result.plan
    late = (plan.days["end_min"] > plan.days["shift_end_min"]).sum()
    print(
        f"{len(plan.stops):,} stops on {len(plan.days):,} crew days, {late} over their shift, {len(plan.faults)} faults"
    )
    print(plan.objective.to_string(index=False))


if __name__ == "__main__":
    main()
