"""Try the calibration on records whose kerf, bed and rounding are known: python -m tests.bench.bench_calibration.

Arguments: the number of registers per case, then cases; 40 registers of every case without them. Each case also shows
what reading every portion as rounded up, with no waste allowed for, would have found.
"""

import argparse
import time
from typing import NamedTuple

import numpy as np
import pandas as pd

from pipeline.calibrate import Calibration, calibrate, grout_used_l
from pipeline.programme.catalogue import Catalogue, load_catalogue
from tests.calibrate.made_records import BAG_L, void_l

KERF_MM, BED_MM = 9.0, 12.7
SIZES_MM = (444.5, 450.0, 457.2, 600.0, 609.6)
ROUND = {"up": np.ceil, "nearest": np.round, "down": np.floor}
_CATALOGUE = load_catalogue({}, "bench")
_NO_WASTE = load_catalogue({"materials": {"grout": {"most_waste": "0 %"}}}, "bench")


class Crew(NamedTuple):
    """How a crew records: the step, how it rounds, how many records, its mean waste, and the holes that it fills."""

    step: float
    habit: str
    records: int = 80
    waste: float = 0.0
    holes: tuple[float, ...] = SIZES_MM


CASES = {
    "tenths": (Crew(0.1, "nearest"),),
    "tenths, 6 % waste": (Crew(0.1, "nearest", waste=0.06),),
    "quarters to the nearest": (Crew(0.25, "nearest"),),
    "quarters to the nearest, 250 records": (Crew(0.25, "nearest", 250),),
    "quarters up": (Crew(0.25, "up"),),
    "quarters up, 250 records": (Crew(0.25, "up", 250),),
    "quarters to the nearest, one size": (Crew(0.25, "nearest", holes=(457.2,)),),
    "two crews, quarters up and to the nearest": (Crew(0.25, "up", 60), Crew(0.25, "nearest", 60)),
    "two crews, quarters up and tenths": (Crew(0.25, "up", 60), Crew(0.1, "nearest", 60)),
    "two crews, quarters to the nearest and tenths": (Crew(0.25, "nearest", 60), Crew(0.1, "nearest", 60)),
    "quarters up, 6 % waste, 250 records": (Crew(0.25, "up", 250, 0.06),),
    "two crews, quarters up with 8 % waste and tenths": (Crew(0.25, "up", 60, 0.08), Crew(0.1, "nearest", 60)),
}


def made(crews: tuple[Crew, ...], seed: int) -> pd.DataFrame:
    """Return the records of a register: 5 % scatter, waste as uneven as it is large, one record in twenty doubled."""
    rng = np.random.default_rng([16, seed])
    parts = []
    for number, crew in enumerate(crews):
        hole, depth = rng.choice(crew.holes, crew.records), rng.uniform(100, 430, crew.records)
        waste = rng.exponential(crew.waste, crew.records) if crew.waste else 0.0
        bags = 1.2 * void_l(hole, depth, KERF_MM, BED_MM) / BAG_L * (1 + waste)
        bags *= 1 + 0.05 * rng.standard_normal(crew.records)
        bags = np.maximum(ROUND[crew.habit](bags / crew.step), 1) * crew.step
        bags[rng.permutation(crew.records)[: crew.records // 20]] *= 2
        parts.append(pd.DataFrame({"hole_mm": hole, "depth_mm": depth, "bags_used": bags, "crew": f"Crew {number}"}))
    cores = pd.concat(parts, ignore_index=True).assign(bedding="pea gravel", is_usable=True)
    water = pd.Series(np.nan, cores.index)
    return cores.assign(grout_used_l=grout_used_l(cores["bags_used"], water, _CATALOGUE.materials.grout))


def held(found: Calibration) -> bool:
    """Return whether both intervals contain the true value."""
    pairs = ((found.kerf, KERF_MM), (found.bed, BED_MM))
    return all(one.low_mm <= true <= one.high_mm for one, true in pairs)


def try_case(crews: tuple[Crew, ...], registers: int, catalogue: Catalogue = _CATALOGUE) -> pd.DataFrame:
    """Return a row per register: ``enough``, ``held``, ``told`` and ``wrong`` habits, ``void`` (error, share)."""
    rows = []
    for seed in range(registers):
        cores = made(crews, seed)
        found = calibrate(cores, catalogue)
        habits = [found.crews["habit"].get(f"Crew {number}", "") for number in range(len(crews))]
        void = found.void_l(pd.Series([457.2]), pd.Series([300.0]))["grout_net_l"][0]
        rows.append(
            {
                "enough": found.enough,
                "held": held(found),
                "told": all(habits),
                "wrong": any(habit not in ("", crew.habit) for habit, crew in zip(habits, crews, strict=True)),
                "void": void / void_l(457.2, 300.0, KERF_MM, BED_MM) - 1,
            }
        )
    return pd.DataFrame(rows)


def read_as_up(crews: tuple[Crew, ...], registers: int) -> list[bool]:
    """Return whether the intervals hold the truth where all portions are read as rounded up and nothing is wasted."""
    return [held(calibrate(made(crews, seed), _NO_WASTE, rounded="up")) for seed in range(registers)]


def main() -> None:
    """Print a line per case."""
    parser = argparse.ArgumentParser(description="The calibration on records of known truth.")
    parser.add_argument("registers", type=int, nargs="?", default=40)
    parser.add_argument("cases", nargs="*", choices=[*CASES, []], default=[])
    options = parser.parse_args()
    for name in options.cases or CASES:
        begin = time.process_time()
        table = try_case(CASES[name], options.registers)
        seconds = time.process_time() - begin
        enough = table[table["enough"]]
        before = np.mean(read_as_up(CASES[name], options.registers))
        share = f"{enough['held'].mean():.0%}" if len(enough) else "-"
        void = f"{enough['void'].mean():+.1%}" if len(enough) else "-"
        print(
            f"{name}: sufficient {table['enough'].mean():.0%}, of those hold the truth {share} (of all "
            f"{table['held'].mean():.0%}), void {void}; habits told {table['told'].mean():.0%}, wrong "
            f"{table['wrong'].mean():.0%}; read as rounded up without waste {before:.0%} would hold it; {seconds / options.registers:.1f} s per register",
            flush=True,
        )


if __name__ == "__main__":
    main()
