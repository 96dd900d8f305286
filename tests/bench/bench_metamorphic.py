"""The same town in other guises, as long as there is time: ``python -m tests.bench.bench_metamorphic --seconds 600``.

Each case is a random town and one way to move or draw it (``tests/metamorphic/relations.py``), or a comparison
with DuckDB. Prints how many were
tried of each kind, and of each that differs its number: ``--case NUMBER`` does it again and shows why.
"""

import argparse
import collections
import functools
import tempfile
import time
import traceback
import warnings
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd

from tests.metamorphic import relations
from tests.metamorphic.by_duckdb import agree, connect
from tests.metamorphic.towns import FLIP, QUARTER, Move, Town, town_of
from tests.metamorphic.whole_runs import Guise, run, same_town, tables_of

_KINDS = ("moved exactly", "moved anyhow", "reversed", "cut", "shuffled", "far away", "case", "DuckDB", "whole run")


def main(seconds: float, first: int) -> int:
    """Try cases for that many seconds; return how many differ."""
    tried, differ = collections.Counter(), collections.Counter()
    end, number = time.monotonic() + seconds, first
    while time.monotonic() < end:
        kind = kind_of(number)
        tried[kind] += 1
        try:
            try_case(number)
        except Exception as error:  # noqa: BLE001 - whatever it is, it is a finding
            differ[kind] += 1
            print(
                f"case {number} ({kind}): {str(error).strip().splitlines()[0] if str(error) else type(error)}",
                flush=True,
            )
        number += 1
    for kind in sorted(tried):
        print(f"{kind}: {tried[kind]:,} cases, {differ[kind]} differ")
    return differ.total()


def kind_of(number: int) -> str:
    """Return what is done to the town of a case."""
    return _KINDS[number % len(_KINDS)]


def try_case(number: int) -> None:
    """Check one case; raises where it differs."""
    rng, kind = np.random.default_rng(number), kind_of(number)
    if kind == "whole run":
        with tempfile.TemporaryDirectory() as folder:
            same_town(tables_of(run(Path(folder), _guise(rng))), _town_itself(), but=("lon", "lat"))
        return
    on_grid = kind == "moved exactly" or (kind != "moved anyhow" and bool(rng.integers(2)))
    choose = ("likeliest", "nearest")[rng.integers(2)]
    town = town_of(int(rng.integers(2**32)), *(int(rng.integers(1, most)) for most in (9, 7, 60)), on_grid=on_grid)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        _check(kind, town, choose, rng)


def _check(kind: str, town: Town, choose: str, rng: np.random.Generator) -> None:
    seed = int(rng.integers(2**32))
    if kind == "moved exactly":
        relations.moved_is_the_same(town, _exact_move(rng), choose)
    elif kind == "moved anyhow":
        relations.moved_is_the_same(town, _any_move(rng), choose)
    elif kind == "reversed":
        relations.reversed_is_the_same(town, seed, choose)
    elif kind == "cut":
        relations.cut_is_the_same(town, seed, choose)
    elif kind == "shuffled":
        relations.shuffled_is_the_same(town, seed, choose)
    elif kind == "far away":
        relations.far_away_changes_nothing(town, choose)
    elif kind == "DuckDB":
        agree(_database(), town)
    else:
        relations.case_changes_nothing(town, choose)


@functools.cache
def _database() -> duckdb.DuckDBPyConnection:
    return connect()


@functools.cache
def _town_itself() -> tuple[pd.DataFrame, ...]:
    with tempfile.TemporaryDirectory() as folder:
        return tables_of(run(Path(folder), Guise()))


def _guise(rng: np.random.Generator) -> Guise:
    yes = (rng.random(4) < 0.5).tolist()
    names = ("is_shuffled", "is_cut", "has_far_district", "names_in_capitals")
    move = Move(np.eye(2), rng.integers(-50_000, 50_001, 2).astype(float))
    return Guise(int(rng.integers(1, 5)), str(rng.choice(["mm", "cm", "m"])), **dict(zip(names, yes)), move=move)


def _exact_move(rng: np.random.Generator) -> Move:
    turned = np.linalg.matrix_power(QUARTER, rng.integers(4)) @ np.linalg.matrix_power(FLIP, rng.integers(2))
    by = np.array([rng.integers(-400_000, 400_001), rng.integers(-6_000_000, 6_000_001)], dtype=float)
    return Move(2.0 ** rng.integers(3) * turned, by)


def _any_move(rng: np.random.Generator) -> Move:
    angle = rng.uniform(0, 2 * np.pi)
    turned = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return Move(
        rng.uniform(0.5, 4) * turned @ np.linalg.matrix_power(FLIP, rng.integers(2)), rng.uniform(-500_000, 500_000, 2)
    )


def _again(number: int) -> int:
    try:
        try_case(number)
    except Exception:  # noqa: BLE001 - shown whatever it is
        traceback.print_exc()
        return 1
    print(f"case {number} ({kind_of(number)}): the same")
    return 0


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--first", type=int, default=0, help="number of the first case")
    parser.add_argument("--case", type=int, help="only this case, and why it differs")
    asked = parser.parse_args()
    raise SystemExit(_again(asked.case) if asked.case is not None else min(main(asked.seconds, asked.first), 1))
