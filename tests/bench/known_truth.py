"""Registers of cores whose true streets and position errors are known, on real street networks.

Cores are put at known positions, their positions are moved by a known error, and their street names are written as
crews write them, one in ten wrongly. The same seed gives the same register.
"""

from collections.abc import Callable
from typing import NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from scipy.stats import chi2

from pipeline.locate import Located, locate
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.settings import Matching
from tests.bench.street_networks import Network

# standard deviations whose circle holds 95 % of a normal error in the plane: exp(-2.4477^2 / 2) = 0.05
RADIUS_95 = 2.4477
SUPPOSED_M = 5 / RADIUS_95
WRONG_NAMES = 0.1
# a crew that writes the wrong street writes one from around the corner
CORNER_M = 100.0
# the mean distance of a round normal is its standard deviation times the root of pi / 2
_BLUNDER_M = 25 / np.sqrt(np.pi / 2)

Across = Callable[[np.random.Generator, np.ndarray], np.ndarray]


class Truth(NamedTuple):
    """N cores: the row of the segment each lies on, and its true position in metres."""

    row: np.ndarray
    x: np.ndarray
    y: np.ndarray


class Error(NamedTuple):
    """A position error: round normals of these standard deviations (metres) and shares, then a common shift.

    ``shift_m``: its length; its direction is drawn.
    """

    sigmas_m: np.ndarray
    shares: np.ndarray
    shift_m: float = 0.0

    def draw(self, count: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
        """Return the errors of ``count`` cores, and the shift in them, in metres to the east and the north."""
        sigma = rng.choice(self.sigmas_m, count, p=self.shares)
        angle = rng.uniform(0, 2 * np.pi)
        shift = self.shift_m * np.array([np.cos(angle), np.sin(angle)])
        return rng.normal(0, 1, (count, 2)) * sigma[:, None] + shift, shift


def _normal(sigma_m: float, shift_m: float = 0.0) -> Error:
    return Error(np.array([sigma_m]), np.array([1.0]), shift_m)


def _student_t(sigma_m: float, degrees: int, steps: int = 400) -> Error:
    """Return a Student t as what it is, a mixture of normals: their precisions follow chi squared."""
    shares = np.full(steps, 1 / steps)
    precision = chi2.ppf((np.arange(steps) + 0.5) / steps, degrees) / degrees
    return Error(sigma_m / np.sqrt(precision), shares)


ERRORS = {
    "as supposed": _normal(SUPPOSED_M),
    "half": _normal(SUPPOSED_M / 2),
    "0.2 m": _normal(0.2 / RADIUS_95),
    "double": _normal(2 * SUPPOSED_M),
    "Student t, 3 degrees": _student_t(SUPPOSED_M, 3),
    "5 % blunders of 25 m": Error(np.array([SUPPOSED_M, np.hypot(SUPPOSED_M, _BLUNDER_M)]), np.array([0.95, 0.05])),
    "all shifted by 3 m": _normal(SUPPOSED_M, 3.0),
}


class Trial(NamedTuple):
    """A register of N cores with its truth: ``cores`` as ``locate`` takes them, ``shift`` in metres."""

    network: Network
    truth: Truth
    cores: pd.DataFrame
    shift: np.ndarray

    def is_right(self, segment_id: pd.Series) -> np.ndarray:
        """Return whether each core's segment is its true one."""
        true = self.network.segments["segment_id"].to_numpy()[self.truth.row]
        return segment_id.eq(pd.Series(true, segment_id.index)).to_numpy()


def evenly(rng: np.random.Generator, left: np.ndarray) -> np.ndarray:
    """Return places across the road, in half widths: anywhere on it."""
    return rng.uniform(-1, 1, len(left))


def make_trial(
    network: Network,
    error: Error | list[Error],
    count: int,
    seed: object,
    catalogue: Catalogue,
    across: Across = evenly,
    wrong_names: float = WRONG_NAMES,
) -> Trial:
    """Return a register without stated accuracies; of several errors each makes as many cores, by a crew of its own."""
    rng = np.random.default_rng(seed)
    truth = place_cores(network.segments, count, rng, across)
    names = written_names(truth, network.segments, catalogue, rng, wrong_names) if network.named else None
    errors = error if isinstance(error, list) else [error]
    crew = rng.permutation(np.arange(count) % len(errors))
    moved, shift = np.empty((count, 2)), np.zeros(2)
    for number, own in enumerate(errors):
        moved[crew == number], shift = own.draw(int((crew == number).sum()), rng)
    cores = register(truth, moved, names).assign(crew=pd.Series(crew).map("crew {}".format).astype("str"))
    return Trial(network, truth, cores, shift)


def place_cores(segments: gpd.GeoDataFrame, count: int, rng: np.random.Generator, across: Across = evenly) -> Truth:
    """Put cores on segments drawn in proportion to their length, anywhere along them.

    ``across`` gets the directions to the left of the road and returns places across it, in half widths to the left.
    """
    points, owner = shapely.get_coordinates(segments.geometry.array, return_index=True)
    start = np.flatnonzero(owner[:-1] == owner[1:])
    step = points[start + 1] - points[start]
    length = np.hypot(step[:, 0], step[:, 1])
    leg = rng.choice(len(start), count, p=length / length.sum())
    row = owner[start[leg]]
    left = np.column_stack([-step[leg, 1], step[leg, 0]]) / length[leg, None]
    sideways = across(rng, left) * segments["half_width_m"].to_numpy()[row]
    along = points[start[leg]] + rng.uniform(0, 1, count)[:, None] * step[leg]
    x, y = (along + sideways[:, None] * left).T
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
    truth: Truth, segments: gpd.GeoDataFrame, catalogue: Catalogue, rng: np.random.Generator, share: float = WRONG_NAMES
) -> np.ndarray:
    """Return the street of each core as crews write it: a share wrong, the others in their own spelling."""
    right = right_names(truth, segments)
    wrong = np.flatnonzero(rng.uniform(size=len(right)) < share)
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


def register(truth: Truth, moved: np.ndarray, names: np.ndarray | None, accuracy_m: float = np.nan) -> pd.DataFrame:
    """Return the cores as ``locate`` takes them: positions moved by N x 2 metres, and the accuracy that is stated."""
    count = len(truth.x)
    nothing = pd.Series(np.full(count, np.nan), dtype="str")
    return pd.DataFrame(
        {
            "x_m": truth.x + moved[:, 0],
            "y_m": truth.y + moved[:, 1],
            "street": nothing if names is None else pd.Series(names, dtype="str"),
            "position_accuracy_m": np.full(count, accuracy_m),
            "position_method": nothing,
            "accuracy_by_register_m": np.full(count, np.nan),
            "rounding_sigma_m": np.full(count, np.nan),
            "surface_recorded": nothing,
            "opened_on": pd.Series(pd.NaT, range(count), dtype="datetime64[s]"),
            "register": "register",
            "contractor": "contractor",
            "crew": "crew",
        }
    )


def located(trial: Trial, catalogue: Catalogue, *, learn: bool, **settings: object) -> Located:
    """Locate the cores of a trial."""
    matching = Matching.model_validate({"learn": learn, **settings})
    return locate(trial.cores, trial.network.segments, None, None, matching, catalogue)
