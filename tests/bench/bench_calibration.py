"""Try the calibration on records whose kerf, bed and rounding are known: python -m tests.bench.bench_calibration.

Arguments: the number of registers per case, then cases; 40 registers of every case without them. Each case shows how
often the intervals of kerf and of bed hold the true value, in all registers and in those whose records are sufficient;
with --read-as-up also how often both would if every portion were read as rounded up and no waste were allowed for.
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
ONE_SIZE_MM = (457.2,)
ROUND = {"up": np.ceil, "nearest": np.round, "down": np.floor}
_CATALOGUE = load_catalogue({}, "bench")
_NO_WASTE = load_catalogue({"materials": {"grout": {"most_waste": "0 %"}}}, "bench")


class Crew(NamedTuple):
    """How a crew records: the step, how it rounds, how many records, its waste, and the holes that it fills.

    ``waste`` is the mean, ``waste_spread`` the standard deviation from core to core, both as shares of the grout
    needed; the waste of a core follows a gamma distribution, which starts at none.
    """

    step: float
    habit: str
    records: int = 80
    waste: float = 0.0
    waste_spread: float = 0.0
    holes: tuple[float, ...] = SIZES_MM


CASES = {
    "tenths": (Crew(0.1, "nearest"),),
    "tenths, one size": (Crew(0.1, "nearest", holes=ONE_SIZE_MM),),
    "tenths, 6 % waste at every core": (Crew(0.1, "nearest", 80, 0.06),),
    "tenths, 6 % waste, as uneven": (Crew(0.1, "nearest", 80, 0.06, 0.06),),
    "tenths, 6 % waste, as uneven, 400 records": (Crew(0.1, "nearest", 400, 0.06, 0.06),),
    "tenths, 6 % waste, twice as uneven": (Crew(0.1, "nearest", 80, 0.06, 0.12),),
    "quarters to the nearest": (Crew(0.25, "nearest"),),
    "quarters to the nearest, 250 records": (Crew(0.25, "nearest", 250),),
    "quarters up": (Crew(0.25, "up"),),
    "quarters up, 250 records": (Crew(0.25, "up", 250),),
    "quarters to the nearest, one size": (Crew(0.25, "nearest", holes=ONE_SIZE_MM),),
    "quarters up, 6 % waste, 250 records": (Crew(0.25, "up", 250, 0.06, 0.06),),
    "two crews, quarters up and to the nearest": (Crew(0.25, "up", 60), Crew(0.25, "nearest", 60)),
    "two crews, quarters up and tenths": (Crew(0.25, "up", 60), Crew(0.1, "nearest", 60)),
    "two crews, quarters to the nearest and tenths": (Crew(0.25, "nearest", 60), Crew(0.1, "nearest", 60)),
    "two crews, quarters up with 8 % waste and tenths": (Crew(0.25, "up", 60, 0.08, 0.08), Crew(0.1, "nearest", 60)),
}


def made(crews: tuple[Crew, ...], seed: int) -> pd.DataFrame:
    """Return the records of a register: 5 % scatter, and one record in twenty doubled."""
    rng = np.random.default_rng([16, seed])
    parts = []
    for number, crew in enumerate(crews):
        hole, depth = rng.choice(crew.holes, crew.records), rng.uniform(100, 430, crew.records)
        waste: float | np.ndarray = crew.waste
        if crew.waste_spread:
            variance = crew.waste_spread**2
            waste = rng.gamma(crew.waste**2 / variance, variance / crew.waste, crew.records)
        bags = 1.2 * void_l(hole, depth, KERF_MM, BED_MM) / BAG_L * (1 + waste)
        bags *= 1 + 0.05 * rng.standard_normal(crew.records)
        bags = np.maximum(ROUND[crew.habit](bags / crew.step), 1) * crew.step
        bags[rng.permutation(crew.records)[: crew.records // 20]] *= 2
        parts.append(pd.DataFrame({"hole_mm": hole, "depth_mm": depth, "bags_used": bags, "crew": f"Crew {number}"}))
    cores = pd.concat(parts, ignore_index=True).assign(bedding="pea gravel", is_usable=True)
    water = pd.Series(np.nan, cores.index)
    return cores.assign(grout_used_l=grout_used_l(cores["bags_used"], water, _CATALOGUE.materials.grout))


def held(found: Calibration) -> tuple[bool, bool]:
    """Return whether the interval of the kerf, and that of the bed, contains the true value."""
    kerf, bed = found.kerf, found.bed
    return kerf.low_mm <= KERF_MM <= kerf.high_mm, bed.low_mm <= BED_MM <= bed.high_mm


def try_case(crews: tuple[Crew, ...], registers: int, catalogue: Catalogue = _CATALOGUE) -> pd.DataFrame:
    """Return a row per register: ``enough``, ``kerf``, ``bed`` (held), ``told``, ``wrong`` (habits), ``void`` (error)."""
    rows = []
    for seed in range(registers):
        cores = made(crews, seed)
        found = calibrate(cores, catalogue)
        habits = [found.crews["habit"].get(f"Crew {number}", "") for number in range(len(crews))]
        void = found.void_l(pd.Series([457.2]), pd.Series([300.0]))["grout_net_l"][0]
        kerf, bed = held(found)
        rows.append(
            {
                "enough": found.enough,
                "kerf": kerf,
                "bed": bed,
                "told": all(habits),
                "wrong": any(habit not in ("", crew.habit) for habit, crew in zip(habits, crews, strict=True)),
                "void": void / void_l(457.2, 300.0, KERF_MM, BED_MM) - 1,
            }
        )
    return pd.DataFrame(rows)


def read_as_up(crews: tuple[Crew, ...], registers: int) -> list[bool]:
    """Return whether both intervals hold where all portions are read as rounded up and nothing is wasted."""
    return [all(held(calibrate(made(crews, seed), _NO_WASTE, rounded="up"))) for seed in range(registers)]


def main() -> None:
    """Print a line per case."""
    parser = argparse.ArgumentParser(description="The calibration on records of known truth.")
    parser.add_argument("registers", type=int, nargs="?", default=40)
    parser.add_argument("cases", nargs="*", choices=[*CASES, []], default=[])
    parser.add_argument("--read-as-up", action="store_true")
    options = parser.parse_args()
    for name in options.cases or CASES:
        begin = time.process_time()
        table = try_case(CASES[name], options.registers)
        seconds = (time.process_time() - begin) / options.registers
        as_up = ""
        if options.read_as_up:
            as_up = f"read as rounded up without waste {np.mean(read_as_up(CASES[name], options.registers)):.0%}; "
        enough = table[table["enough"]]
        of_these = "none sufficient"
        if len(enough):
            of_these = (
                f"of the sufficient kerf {enough['kerf'].mean():.0%}, bed {enough['bed'].mean():.0%}, "
                f"void {enough['void'].mean():+.1%}"
            )
        print(
            f"{name}: declined {1 - table['enough'].mean():.0%}; held: kerf {table['kerf'].mean():.0%}, "
            f"bed {table['bed'].mean():.0%}; {of_these}; habits told {table['told'].mean():.0%}, wrong "
            f"{table['wrong'].mean():.0%}; {as_up}{seconds:.1f} s per register",
            flush=True,
        )


if __name__ == "__main__":
    main()
