"""Trials of what is said of a common shift: with and without one, with mains on one side, and on streets drawn badly."""

from typing import NamedTuple

import numpy as np
import shapely

from pipeline.programme.catalogue import Catalogue
from tests.bench.known_truth import SUPPOSED_M, Across, Error, Trial, evenly, make_trial
from tests.bench.learning_trials import Lines, constant, outcome_of, shown
from tests.bench.street_networks import Network

# of a street that runs the one way, at most this many degrees off it
_TURN = 20.0
# a network with fewer streets that run one way has none to try
_LEAST_ALIKE = 20
# the ellipse that holds 95 % of a normal in the plane: chi squared with two degrees of freedom
_HOLDS_95 = 5.991
_WORDS = ("nothing", "shift", "side", "both", "either", "unclear")
# registers per network where nothing is to be found, and where something is
_IDLE, _SOME = 3, 1


class Case(NamedTuple):
    """Registers of one kind: ``shift_m`` is the length of the true shift, ``across`` where cores lie, ``streets`` which.

    ``streets``: "all", "one way" (the commonest way only) or "drawn off" (lines are 0.5 to 3 m off the true ones).
    """

    name: str
    sigma_m: float
    shift_m: float = 0.0
    across: Across = evenly
    streets: str = "all"
    counts: tuple[int, ...] = (200, 1000)


def facing(share: float, angle: float = 1.0) -> Across:
    """Return a choice of places: a share of the cores near the kerb that faces one compass direction."""

    def across(rng: np.random.Generator, left: np.ndarray) -> np.ndarray:
        faces = np.where(left @ np.array([np.cos(angle), np.sin(angle)]) >= 0, 1.0, -1.0)
        return np.where(rng.uniform(size=len(left)) < share, 0.7 * faces, evenly(rng, left))

    return across


_HALF, _DOUBLE = SUPPOSED_M / 2, 2 * SUPPOSED_M
CASES = (
    Case("neither, half the error", _HALF, counts=(60, 200, 1000)),
    Case("neither, twice the error", _DOUBLE),
    Case("neither, lines off", _HALF, streets="drawn off"),
    Case("neither, one way", _HALF, streets="one way"),
    Case("shift of 3 m", _HALF, 3.0, counts=(60, 200, 1000)),
    Case("shift of 1 m", _HALF, 1.0, counts=(1000,)),
    Case("shift of 3 m, lines off", _HALF, 3.0, streets="drawn off", counts=(1000,)),
    Case("shift of 3 m, one way", _HALF, 3.0, streets="one way", counts=(1000,)),
    Case("one side", _HALF, across=facing(1.0), counts=(60, 200, 1000)),
    Case("one side, lines off", _HALF, across=facing(1.0), streets="drawn off", counts=(1000,)),
    Case("one side of most", _HALF, across=facing(0.7), counts=(1000,)),
    Case("one side and 3 m", _HALF, 3.0, facing(1.0)),
)


def shifts(found: list[Network], seed: int, catalogue: Catalogue) -> Lines:
    """What is said of a common shift where there is none, where there is one, and where cores keep to one side."""
    one_way = [alike for network in found if (alike := running_alike(network)) is not None]
    lines: Lines = []
    for case in CASES:
        for count in case.counts:
            lines.append(_readings(case, count, one_way if case.streets == "one way" else found, seed, catalogue))
            print(lines[-1], flush=True)
    return shown("What is said of a common shift", lines)


def _readings(case: Case, count: int, found: list[Network], seed: int, catalogue: Catalogue) -> dict[str, object]:
    says: list[str] = []
    off_m, held = [], []
    is_idle = not case.shift_m and case.across is evenly
    registers = 1 if count < 200 else _IDLE if is_idle else _SOME
    error = constant(case.sigma_m, case.shift_m)
    for network in found:
        for number in range(registers):
            trial = _trial(case, network, error, count, [seed, 2, number, count], catalogue)
            outcome = outcome_of(trial, catalogue)
            says.append(outcome.reading.says if outcome.is_accepted else "declined")
            if case.shift_m and says[-1] in {"shift", "both", "either"}:
                shift = outcome.reading.shift
                off = np.array([shift.east, shift.north]) - trial.shift
                off_m.append(float(np.hypot(*off)))
                # with a preferred side, no interval is published
                if says[-1] != "both":
                    held.append(bool(off @ np.linalg.pinv(shift.covariance) @ off < _HOLDS_95))
    counts = {word: says.count(word) for word in ("declined", *_WORDS)}
    off_by = float(np.median(off_m)) if off_m else float("nan")
    in_95 = f"{sum(held)} of {len(held)}" if held else ""
    return {"case": case.name, "cores": count, "registers": len(says), **counts, "off by m": off_by, "held 95 %": in_95}


def _trial(case: Case, network: Network, error: Error, count: int, seed: list[int], catalogue: Catalogue) -> Trial:
    trial = make_trial(network, error, count, seed, catalogue, case.across)
    if case.streets == "drawn off":
        return trial._replace(network=drawn_off(network, np.random.default_rng(seed)))
    return trial


def drawn_off(network: Network, rng: np.random.Generator, least_m: float = 0.5, most_m: float = 3.0) -> Network:
    """Return a network whose points are each drawn somewhere beside their place; lines that met still meet."""
    lines = np.asarray(network.segments.geometry.array).copy()
    points, at = np.unique(shapely.get_coordinates(lines), axis=0, return_inverse=True)
    angle, off = rng.uniform(0, 2 * np.pi, len(points)), rng.uniform(least_m, most_m, len(points))
    moved = points + off[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    return network._replace(segments=network.segments.set_geometry(shapely.set_coordinates(lines, moved[at.ravel()])))


def running_alike(network: Network) -> Network | None:
    """Return the lines of a network that run its commonest way; None if they are few."""
    ends = shapely.get_coordinates(shapely.line_interpolate_point(
        np.repeat(np.asarray(network.segments.geometry.array), 2), np.tile([0.0, 1.0], len(network.segments)),
        normalized=True)).reshape(-1, 2, 2)  # fmt: skip
    way = np.degrees(np.arctan2(*(ends[:, 1] - ends[:, 0]).T[::-1])) % 180
    length = network.segments.length.to_numpy()
    off = [np.abs((way - turn + 90) % 180 - 90) for turn in range(0, 180, 10)]
    commonest = int(np.argmax([length[one <= _TURN].sum() for one in off]))
    # lines that bend run other ways as well
    straight = np.hypot(*(ends[:, 1] - ends[:, 0]).T) > 0.98 * length
    kept = straight & (off[commonest] <= _TURN)
    if kept.sum() < _LEAST_ALIKE:
        return None
    segments = network.segments[kept].reset_index(drop=True)
    return Network(f"{network.name}, one way", segments, bool(segments["street"].notna().any()))
