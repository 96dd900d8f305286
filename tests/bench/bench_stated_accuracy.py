"""Whether a stated confidence can be trusted where the true accuracy is stated: ``python -m tests.bench.bench_stated_accuracy [cores] [seed]``.

Cores are put at known positions of real street networks. Their positions are blurred by a known error, their street
names written as crews write them, one in ten wrongly. Then the program says which segment each lies on and how likely
that is. Printed are the share of right segments, against taking the nearest, and whether 90 % of the cores with a
confidence of 90 % are right. The same seed gives the same figures.

Names cannot be tested on geodanet and Soho, whose layers have none.
"""

import argparse
import time

import geopandas as gpd
import numpy as np
import pandas as pd
from scipy.stats import binomtest

from pipeline.locate import locate
from pipeline.programme.catalogue import Catalogue, load_catalogue
from pipeline.programme.settings import Matching
from tests.bench import scores
from tests.bench.known_truth import RADIUS_95, place_cores, register, written_names
from tests.bench.street_networks import Network, networks

SIGMAS_M = (1.0, 3.0, 5.0)
# percentage points by which a decile may differ from its stated confidence
WITHIN_POINTS = 5.0
# a decile with a smaller share of the cores is not judged
ENOUGH = 0.01
TIMED = 100_000


def reach_m(segments: gpd.GeoDataFrame, sigma: float) -> float:
    """Return a reach that includes every road a core may be on: half the widest road, and four standard deviations."""
    return max(15.0, float(segments["half_width_m"].max()) + 4 * sigma)


def run(
    network: Network, cores: pd.DataFrame, reach: float, choose: str, catalogue: Catalogue
) -> tuple[pd.DataFrame, float]:
    """Locate the cores; return the result and the seconds it took."""
    matching = Matching.model_validate({"max_distance": f"{reach} m", "choose": choose})
    begin = time.perf_counter()
    found = locate(cores, network.segments, None, None, matching, catalogue)
    return found.frame, time.perf_counter() - begin


def reliability(stated: np.ndarray, right: np.ndarray) -> pd.DataFrame:
    """Compare stated confidence with the share that is right, by deciles of confidence, in percent."""
    table = scores.reliability(stated, right)
    share = table["right"].to_numpy()
    hits = (share * table["cores"]).round().astype(int)
    bands = [binomtest(hit, count).proportion_ci() for hit, count in zip(hits, table["cores"], strict=True)]
    table["low"] = 100 * (np.array([band.low for band in bands]) - table["stated"])
    table["high"] = 100 * (np.array([band.high for band in bands]) - table["stated"])
    table["points"] = 100 * (table["right"] - table["stated"])
    return table


def experiment(
    network: Network, sigma: float, count: int, seed: int, catalogue: Catalogue, *, with_names: bool
) -> dict[str, object]:
    """Run one setting, print its tables and return its line of the summary."""
    segments = network.segments
    # the same cores at the same positions, with and without names
    rng = np.random.default_rng([seed, int(sigma * 1000)])
    truth = place_cores(segments, count, rng)
    cores = register(truth, rng.normal(0, sigma, (count, 2)), None, RADIUS_95 * sigma)
    if with_names:
        cores["street"] = pd.Series(written_names(truth, segments, catalogue, rng), dtype="str")
    reach = reach_m(segments, sigma)
    true_id = segments["segment_id"].to_numpy()[truth.row]
    nearest, _ = run(network, cores, reach, "nearest", catalogue)
    likeliest, _ = run(network, cores, reach, "likeliest", catalogue)
    hit_nearest, hit = (one["segment_id"].eq(true_id).to_numpy() for one in (nearest, likeliest))
    stated = likeliest["segment_confidence"].fillna(0).to_numpy()
    table = reliability(stated, hit)
    enough = table[table["cores"].ge(ENOUGH * count)]
    worst = enough.loc[enough["points"].abs().idxmax()]
    # both choices are made for the same cores; only cores where they differ show which is better
    gain, loss = int((hit & ~hit_nearest).sum()), int((~hit & hit_nearest).sum())
    names = "names" if with_names else "no names"
    radius, lost = RADIUS_95 * sigma, int(nearest["segment_id"].isna().sum())
    print(f"\n{network.name}, {sigma:g} m along an axis ({radius:.2f} m hold 95 %), {names}, reach {reach:g} m")
    print(f"  out of reach {lost}; likeliest right where nearest wrong {gain}, the reverse {loss}")
    print("  decile       cores   stated %  right %  points  95 % interval")
    for decile, row in table.iterrows():
        few = "" if row["cores"] >= ENOUGH * count else "  (few)"
        print(
            f"  {decile / 10:.1f} - {(decile + 1) / 10:.1f} {row['cores']:9,.0f} {100 * row['stated']:8.1f} {100 * row['right']:8.1f}"
            f" {row['points']:+7.1f}  {row['low']:+.1f} to {row['high']:+.1f}{few}"
        )
    return {
        "network": network.name, "sigma m": sigma, "radius 95 m": round(RADIUS_95 * sigma, 2), "names": names, "reach m": reach,
        "nearest %": 100 * hit_nearest.mean(), "likeliest %": 100 * hit.mean(), "stated %": 100 * stated.mean(),
        "Brier": np.mean((stated - hit) ** 2), "worst points": worst["points"], "low": worst["low"], "high": worst["high"],
        "gain": gain, "loss": loss, "p": binomtest(gain, gain + loss).pvalue if gain + loss else 1.0,
    }  # fmt: skip


def speed(network: Network, seed: int, catalogue: Catalogue) -> None:
    """Print the seconds that each choice takes for a round number of cores."""
    rng = np.random.default_rng(seed)
    truth = place_cores(network.segments, TIMED, rng)
    names = written_names(truth, network.segments, catalogue, rng) if network.named else None
    cores = register(truth, rng.normal(0, 3.0, (TIMED, 2)), names, RADIUS_95 * 3.0)
    reach = reach_m(network.segments, 3.0)
    for choose in ("nearest", "likeliest"):
        seconds = min(run(network, cores, reach, choose, catalogue)[1] for _ in range(3))
        print(f"  {network.name}, {'names' if network.named else 'no names'}, {choose}: {seconds:.2f} s")


def main() -> None:
    """Run every setting, and print the conclusions in words."""
    parser = argparse.ArgumentParser(description="Share of right segments, and whether a stated confidence holds.")
    parser.add_argument("cores", type=int, nargs="?", default=20_000, help="cores in each setting")
    parser.add_argument("seed", type=int, nargs="?", default=1)
    options = parser.parse_args()
    catalogue = load_catalogue({}, "the experiment")
    found = networks(catalogue)
    for network in found:
        length = network.segments.length
        named = length[network.segments["street"].notna()].sum() / length.sum()
        print(f"{network.name}: {len(length):,} lines, {length.sum() / 1000:.1f} km, {100 * named:.0f} % of it named")
    lines = [
        experiment(network, sigma, options.cores, options.seed, catalogue, with_names=with_names)
        for network in found
        for with_names in ((False, True) if network.named else (False,))
        for sigma in SIGMAS_M
    ]
    summary = pd.DataFrame(lines)
    print("\n" + summary.to_string(index=False, float_format=lambda number: f"{number:.4g}"))
    print(f"\nSeconds for {TIMED:,} cores, error 3 m, best of 3")
    for network in found:
        speed(network, options.seed, catalogue)
    print()
    for line in summary.to_dict("records"):
        sure = line["p"] < 0.05
        beats = ("beats" if line["gain"] > line["loss"] else "LOSES TO") if sure else "does not differ measurably from"
        within = abs(line["worst points"]) <= WITHIN_POINTS
        calibrated = "every decile is within" if within else "NOT every decile is within"
        setting = f"{line['network']}, {line['sigma m']:g} m, {line['names']}"
        shares = f"{line['likeliest %']:.1f} against {line['nearest %']:.1f} %"
        band = f"95 % interval {line['low']:+.1f} to {line['high']:+.1f}"
        worst = f"{WITHIN_POINTS:g} points (worst {line['worst points']:+.1f}, {band})"
        print(f"{setting}: likeliest {beats} nearest ({shares}); {calibrated} {worst}")
    print("Names cannot be tested on geodanet and Soho, whose layers have none.")


if __name__ == "__main__":
    main()
