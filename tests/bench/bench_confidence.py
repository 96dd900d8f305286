"""Whether confidences can be trusted where nobody states an accuracy: ``python -m tests.bench.bench_confidence``.

Registers with known truth on real networks, with errors that are and are not as the default supposes. For each kind of
error: the share of right segments by nearest, default, learnt and oracle (it knows the true error, shift and share of
wrong names), by how many points stated and right shares differ over deciles of the confidence, and the Brier score.
``--json FILE`` writes the same, with the deciles. ``--accept``, ``--shift``, ``--crews`` and ``--places`` try single
promises instead. The same seed gives the same figures. Takes about four minutes of processor time.
"""

import argparse
import json
import time
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.stats import binomtest

from pipeline.programme.catalogue import Catalogue, load_catalogue
from tests.bench.known_truth import ERRORS, located, make_trial
from tests.bench.learning_trials import acceptance, crews, places
from tests.bench.oracle import Placed, by_oracle_and_nearest
from tests.bench.scores import brier, calibration_error, reliability
from tests.bench.shift_trials import shifts
from tests.bench.street_networks import NAMES, Network, networks

METHODS = ("nearest", "default", "learnt", "oracle")
# kept for registers that are also learnt from when the model is changed
FIRST_SEED = 1000


class Seconds(dict[str, float]):
    """Processor seconds by what took them."""

    def add(self, name: str, begin: float) -> None:
        """Add what went by since ``begin``."""
        self[name] = self.get(name, 0.0) + time.process_time() - begin


def place(
    network: Network, kind: str, count: int, seed: int, catalogue: Catalogue, seconds: Seconds
) -> tuple[dict[str, Placed], str]:
    """Place one register by each method; return it with why the learnt error was accepted or declined."""
    number = [seed, list(ERRORS).index(kind), NAMES.index(network.name)]
    trial = make_trial(network, ERRORS[kind], count, number, catalogue)
    found = {}
    for method in ("default", "learnt"):
        begin = time.process_time()
        result = located(trial, catalogue, learn=method == "learnt")
        seconds.add(method, begin)
        stated = result.frame["segment_confidence"].fillna(0).to_numpy(dtype=float)
        found[method] = Placed(trial.is_right(result.frame["segment_id"]), stated)
    begin = time.process_time()
    reach = result.reasons.errors["reach_m"].to_numpy(dtype=float)
    found["oracle"], found["nearest"] = by_oracle_and_nearest(trial, ERRORS[kind], reach, catalogue)
    seconds.add("oracle and nearest", begin)
    return found, result.reasons.learning[0].reason


def together(parts: list[dict[str, Placed]]) -> dict[str, Placed]:
    """Return the cores of several registers as one."""
    return {
        method: Placed(*(np.concatenate(values) for values in zip(*(part[method] for part in parts), strict=True)))
        for method in METHODS
    }


def line_of(network: str, kind: str, placed: dict[str, Placed], reasons: list[str]) -> dict[str, object]:
    """Return the scores of one kind of error on one network."""
    line: dict[str, object] = {"network": network, "error": kind, "cores": len(placed["nearest"].is_right)}
    line["registers"], line["accepted"] = len(reasons), reasons.count("learnt")
    for method in METHODS:
        is_right, stated = placed[method]
        line[f"right_{method}"] = 100 * float(is_right.mean())
        if method != "nearest":
            line[f"calibration_{method}"] = calibration_error(stated, is_right)
            line[f"brier_{method}"] = brier(stated, is_right)
    for other in ("nearest", "default"):
        gain = int((placed["learnt"].is_right & ~placed[other].is_right).sum())
        loss = int((~placed["learnt"].is_right & placed[other].is_right).sum())
        line[f"gain_on_{other}"], line[f"loss_to_{other}"] = gain, loss
        line[f"p_{other}"] = float(binomtest(gain, gain + loss).pvalue) if gain + loss else 1.0
    return line


def print_table(lines: pd.DataFrame) -> None:
    """Print one row per kind of error: the means over the networks."""
    print("\n| true error | right %: nearest / default / learnt / oracle | calibration error in points: default /"
          " learnt / oracle | Brier: default / learnt / oracle | accepted |\n| --- | --- | --- | --- | --- |")  # fmt: skip
    scores = lines.groupby("error", sort=False).mean(numeric_only=True)
    counts = lines.groupby("error", sort=False)[["accepted", "registers"]].sum()
    for kind, row in scores.iterrows():
        right = " / ".join(f"{row[f'right_{method}']:.1f}" for method in METHODS)
        points = " / ".join(f"{row[f'calibration_{method}']:.1f}" for method in METHODS[1:])
        squared = " / ".join(f"{row[f'brier_{method}']:.3f}".lstrip("0") for method in METHODS[1:])
        accepted, registers = counts.loc[kind]
        print(f"| {kind} | {right} | {points} | {squared} | {accepted} of {registers} |")


def print_verdicts(lines: pd.DataFrame) -> None:
    """Print where the learnt error places measurably fewer cores rightly, or states confidences that do not hold."""
    for other in ("nearest", "default"):
        loses = lines[(lines[f"p_{other}"] < 0.05) & (lines[f"loss_to_{other}"] > lines[f"gain_on_{other}"])]
        print(f"\nLearnt places measurably fewer cores rightly than {other} in {len(loses)} of {len(lines)} cases.")
        for line in loses.to_dict("records"):
            shares = f"{line['right_learnt']:.1f} against {line[f'right_{other}']:.1f} %, p = {line[f'p_{other}']:.3f}"
            print(f"  {line['network']}, {line['error']}: {shares}")
    worst = lines.loc[lines["calibration_learnt"].idxmax()]
    print(f"\nLargest calibration error of the learnt: {worst['calibration_learnt']:.1f} points"
          f" ({worst['network']}, {worst['error']}; oracle {worst['calibration_oracle']:.1f}).")  # fmt: skip
    worse = lines[lines["brier_learnt"] > lines["brier_default"] + 0.001]
    cases = "; ".join(f"{one['network']}, {one['error']}" for one in worse.to_dict("records"))
    print(f"Brier worse than by default, by more than .001: {cases or 'nowhere'}.")


def table_of_errors(options: argparse.Namespace, catalogue: Catalogue, found: list[Network]) -> dict[str, object]:
    """Run every kind of error on every network, print the tables and return them."""
    seconds, lines, deciles = Seconds(), [], []
    for kind in ERRORS:
        parts = []
        for network in found:
            runs = [
                place(network, kind, options.cores, FIRST_SEED + options.seed + more, catalogue, seconds)
                for more in range(options.registers)
            ]
            parts.append(together([placed for placed, _ in runs]))
            lines.append(line_of(network.name, kind, parts[-1], [reason for _, reason in runs]))
        placed = together(parts)
        deciles += [
            {"error": kind, "method": method, **row}
            for method in METHODS[1:]
            for row in reliability(placed[method].stated, placed[method].is_right).reset_index().to_dict("records")
        ]
    table = pd.DataFrame(lines)
    shown = [name for name in table if not name.startswith(("gain", "loss", "p_"))]
    print(table[shown].to_string(index=False, float_format=lambda number: f"{number:.3g}"))
    print_table(table)
    print_verdicts(table)
    print("\nProcessor seconds: " + ", ".join(f"{name} {value:.0f}" for name, value in seconds.items()))
    return {"by_network": lines, "deciles": deciles, "processor_seconds": dict(seconds)}


def main() -> None:
    """Run the table of errors, or the trials that are asked for."""
    parser = argparse.ArgumentParser(description="Confidences where nobody states an accuracy, against known truth.")
    parser.add_argument("--cores", type=int, default=1500, help="cores per register")
    parser.add_argument("--registers", type=int, default=1, help="registers per network and kind of error")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", type=Path, help="write the figures to this file")
    parser.add_argument("--networks", nargs="+", choices=NAMES, default=NAMES)
    trials = {"accept": acceptance, "shift": shifts, "crews": crews, "places": places}
    for name, trial in trials.items():
        parser.add_argument(f"--{name}", action="store_true", help=str(trial.__doc__).splitlines()[0])
    options = parser.parse_args()
    catalogue = load_catalogue({}, "the trial")
    found = networks(catalogue, tuple(options.networks))
    for network in found:
        length = network.segments.length
        named = length[network.segments["street"].notna()].sum() / length.sum()
        print(f"{network.name}: {len(length):,} lines, {length.sum() / 1000:.1f} km, {100 * named:.0f} % of it named")
    begin = time.process_time()
    chosen = [name for name in trials if getattr(options, name)]
    figures: dict[str, object] = {"seed": options.seed, "cores": options.cores, "registers": options.registers}
    figures |= {name: trials[name](found, FIRST_SEED + options.seed, catalogue) for name in chosen}
    if not chosen:
        figures |= table_of_errors(options, catalogue, found)
    print(f"\n{time.process_time() - begin:.0f} s of processor time")
    if options.json:
        options.json.write_text(json.dumps(figures, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
