"""How cores would be placed by one who knows the true error of their positions, and by taking the nearest segment."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.locate.candidates import likeliest_two, nearest_two, pairs_within_reach
from pipeline.locate.posterior import Evidence, pair_likelihood, pieces_of, road_mass
from pipeline.locate.street_names import name_form
from pipeline.programme.catalogue import Catalogue
from tests.bench.known_truth import SUPPOSED_M, WRONG_NAMES, Error, Trial

# of a road below ground, as by default
_UNDERGROUND = 0.02
_NAMES_NEAR = 5
# standard deviations of a mixture that are weighed; a finer mixture is thinned to as many
_MOST = 25
# keeps a core beyond every error from having no likelihood at all
_LEAST = 1e-280


class Placed(NamedTuple):
    """N cores: whether the segment is right, and how likely that was said to be (missing for the nearest)."""

    is_right: npt.NDArray[np.bool_]
    stated: npt.NDArray[np.float64]


def by_oracle_and_nearest(
    trial: Trial, error: Error, reach_m: npt.NDArray[np.float64], catalogue: Catalogue
) -> tuple[Placed, Placed]:
    """Return what the true error gives, and what the nearest segment within ``reach_m`` gives."""
    segments = trial.network.segments
    segments = segments.assign(street_form=name_form(segments["street"], catalogue.short_words))
    cores = trial.cores.assign(sigma_m=SUPPOSED_M, street_form=name_form(trial.cores["street"], catalogue.short_words))
    lines, count = np.asarray(segments.geometry.array), len(cores)
    x, y = cores["x_m"].to_numpy(), cores["y_m"].to_numpy()
    pairs = pairs_within_reach(shapely.points(x, y), lines, shapely.STRtree(lines), reach_m)
    numbers = np.unique(segments["segment_id"].to_numpy().astype(str), return_inverse=True)[1]
    evidence = Evidence(1 - WRONG_NAMES, _NAMES_NEAR, _UNDERGROUND)
    weights = pair_likelihood(pairs, cores, segments, evidence)
    half, pieces = segments["half_width_m"].to_numpy()[pairs.line], pieces_of(lines)
    position = np.full(len(pairs.core), _LEAST)
    for share, sigma in _thinned(error):
        spread = np.full(len(pairs.core), sigma)
        put_back = x[pairs.core] - trial.shift[0], y[pairs.core] - trial.shift[1]
        position += share * road_mass(*put_back, spread, pairs.line, half, pieces)
    best, weighed = likeliest_two(pairs, numbers, position * weights.name * weights.level, count)
    stated = np.zeros(count)
    own = weighed.set_index("pair")["share"]
    has = best.first >= 0
    stated[has] = own.loc[best.first[has]].to_numpy()
    nearest = nearest_two(pairs, numbers, count)
    return (
        Placed(_is_right(trial, pairs.line, best.first), stated),
        Placed(_is_right(trial, pairs.line, nearest.first), np.full(count, np.nan)),
    )


def _thinned(error: Error) -> list[tuple[float, float]]:
    """Return shares and standard deviations; neighbours of a fine mixture go together, by their mean variance."""
    parts = np.array_split(np.arange(len(error.sigmas_m)), min(_MOST, len(error.sigmas_m)))
    mean = [np.average(error.sigmas_m[part] ** 2, weights=error.shares[part]) for part in parts]
    return [(float(error.shares[part].sum()), float(np.sqrt(one))) for part, one in zip(parts, mean, strict=True)]


def _is_right(trial: Trial, line: npt.NDArray[np.intp], pair: npt.NDArray[np.intp]) -> npt.NDArray[np.bool_]:
    ids = trial.network.segments["segment_id"].to_numpy()
    found = pd.Series(np.where(pair >= 0, ids[line[np.maximum(pair, 0)]], None), dtype="object")
    return trial.is_right(found)
