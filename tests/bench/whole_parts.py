"""Processor seconds of single parts on a town, as JSON: ``python -m tests.bench.whole_parts IN``.

Matching, with runner-up, chainage and side, beside ``geopandas.sjoin_nearest`` alone on the same frames; the stage ``locate``
with "likeliest" and "nearest"; and the most that any one rule takes.
"""

import json
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas as gpd
import pytest

import pipeline.audit
from pipeline.audit.registry import BoundRule
from pipeline.clock import Clock
from pipeline.locate import locate
from pipeline.programme.settings import Matching
from pipeline.run import STAGES, prepare, run_programme

_RUNS = 3


def _seconds(work: Callable[[], Any]) -> float:
    taken = []
    for _ in range(_RUNS):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return sorted(taken)[_RUNS // 2]


def _slowest_rule(path: Path) -> tuple[str, float, float]:
    """Return the rule that takes longest, its seconds, and those of the run without its outputs."""
    taken: dict[str, float] = {}
    plain = BoundRule.find

    def timed(self: BoundRule, *args: Any, **named: Any) -> Any:
        start = time.process_time()
        found = plain(self, *args, **named)
        taken[self.rule.slug] = taken.get(self.rule.slug, 0.0) + time.process_time() - start
        return found

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pipeline.audit.registry.BoundRule, "find", timed)
        start = time.process_time()
        run_programme(path, None)
        whole = time.process_time() - start
    slug = max(taken, key=taken.__getitem__)
    return slug, taken[slug], whole


def main(folder: Path) -> None:
    """Print the seconds as one JSON object."""
    path = folder / "programme.toml"
    ready = prepare(path, Clock(None, STAGES))
    inputs, cores = ready.inputs, ready.cores
    points = gpd.GeoDataFrame(geometry=gpd.points_from_xy(cores["x_m"], cores["y_m"]), crs=inputs.segments.crs)
    points = points[cores["x_m"].notna().to_numpy()]
    lines = inputs.segments[["segment_id", "geometry"]]

    def stage(matching: Matching, *, with_layers: bool = True) -> Callable[[], Any]:
        layers = (inputs.surfaces, inputs.districts) if with_layers else (None, None)
        return lambda: locate(cores, inputs.segments, *layers, matching, ready.catalogue)

    nearest = ready.settings.matching.model_copy(update={"choose": "nearest"})
    slug, rule_s, whole_s = _slowest_rule(path)
    found = {
        "sjoin_nearest": _seconds(lambda: points.sjoin_nearest(lines, max_distance=15)),
        "matching": _seconds(stage(nearest, with_layers=False)),
        "locate nearest": _seconds(stage(nearest)),
        "locate likeliest": _seconds(stage(ready.settings.matching)),
        "slowest rule": rule_s,
        "slowest rule is": slug,
        "run without outputs": whole_s,
    }
    print(json.dumps(found))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
