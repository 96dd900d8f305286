"""Trials of what the learning of errors promises: when it is accepted, what it says of shifts, and of two crews."""

import numpy as np
import pandas as pd
import shapely

from pipeline.locate.learning.learn import Outcome
from pipeline.programme.catalogue import Catalogue
from tests.bench.known_truth import ERRORS, RADIUS_95, SUPPOSED_M, Across, Error, Trial, evenly, located, make_trial
from tests.bench.scores import brier, calibration_error
from tests.bench.street_networks import Network

Lines = list[dict[str, object]]

# registers per network where nothing is to be found, and where something is
IDLE, SOME = 10, 4
# of a street that runs the one way, at most this many degrees off it
_TURN = 20.0


def outcome_of(trial: Trial, catalogue: Catalogue) -> Outcome:
    """Return what is learnt of the only register of a trial."""
    (outcome,) = located(trial, catalogue, learn=True).reasons.learning
    return outcome


def constant(sigma_m: float, shift_m: float = 0.0) -> Error:
    """Return one round normal."""
    return Error(np.array([sigma_m]), np.array([1.0]), shift_m)


def shown(title: str, lines: Lines) -> Lines:
    """Print lines as a table and return them."""
    print(f"\n{title}")
    print(pd.DataFrame(lines).to_string(index=False, float_format=lambda number: f"{number:.3g}"))
    return lines


def acceptance(found: list[Network], seed: int, catalogue: Catalogue) -> Lines:
    """How often a learnt error is accepted, by number of cores, where the default is true and where it is not."""
    lines: Lines = []
    for kind in ("as supposed", "half", "0.2 m", "double"):
        for count in (80, 150, 400):
            outcomes = [
                outcome_of(make_trial(one, ERRORS[kind], count, [seed, 1, number, count], catalogue), catalogue)
                for one in found
                for number in range(IDLE if kind == "as supposed" else SOME)
            ]
            accepted = [outcome.is_accepted for outcome in outcomes]
            lines.append({"error": kind, "cores": count, "registers": len(accepted), "accepted": sum(accepted)})
            print(lines[-1], flush=True)
    return shown("Accepted learnt errors", lines)


def shifts(found: list[Network], seed: int, catalogue: Catalogue) -> Lines:
    """What is said of a common shift where there is none, where there is one, and where cores keep to one side."""
    lines: Lines = []
    for error in ("half", "double"):
        for count in (60, 200, 600):
            lines += _readings(f"{error}, no shift", found, ERRORS[error], count, IDLE, seed, catalogue)
    half = SUPPOSED_M / 2
    lines += _readings("half, 3 m shift", found, constant(half, 3.0), 600, SOME, seed, catalogue)
    lines += _readings("half, 1 m shift", found, constant(half, 1.0), 600, SOME, seed, catalogue)
    sided = _facing(1.0)
    lines += _readings("half, all on one side", found, constant(half), 600, SOME, seed, catalogue, sided)
    lines += _readings("half, half on one side", found, constant(half), 600, SOME, seed, catalogue, _facing(0.5))
    lines += _readings("half, one side and 3 m", found, constant(half, 3.0), 600, SOME, seed, catalogue, sided)
    one_way = [alike for network in found if (alike := running_alike(network)) is not None]
    lines += _readings("one-way streets, 3 m", one_way, constant(half, 3.0), 600, SOME, seed, catalogue)
    lines += _readings("one-way streets, no shift", one_way, constant(half), 600, SOME, seed, catalogue)
    return shown("What is said of a common shift", lines)


def _readings(
    name: str,
    found: list[Network],
    error: Error,
    count: int,
    registers: int,
    seed: int,
    catalogue: Catalogue,
    across: Across = evenly,
) -> Lines:
    says: list[str] = []
    off_m, held = [], []
    for network in found:
        for number in range(registers):
            trial = make_trial(network, error, count, [seed, 2, number, count], catalogue, across)
            outcome = outcome_of(trial, catalogue)
            says.append(outcome.reading.says if outcome.is_accepted else "declined")
            if says[-1] in {"shift", "either"}:
                shift = outcome.reading.shift
                off = np.array([shift.east, shift.north]) - trial.shift
                off_m.append(float(np.hypot(*off)))
                # the ellipse that holds 95 % of a normal in the plane
                held.append(bool(off @ np.linalg.pinv(shift.covariance) @ off < 5.99))
    counts = {f"says {word}": says.count(word) for word in ("nothing", "shift", "side", "either", "declined")}
    off_by = float(np.median(off_m)) if off_m else float("nan")
    return [
        {"case": name, "cores": count, "registers": len(says), **counts, "off by m": off_by, "held 95 %": sum(held)}
    ]


def _facing(share: float, angle: float = 1.0) -> Across:
    """Return a choice of places: a share of the cores near the kerb that faces one compass direction."""

    def across(rng: np.random.Generator, left: np.ndarray) -> np.ndarray:
        faces = np.where(left @ np.array([np.cos(angle), np.sin(angle)]) >= 0, 1.0, -1.0)
        return np.where(rng.uniform(size=len(left)) < share, 0.7 * faces, evenly(rng, left))

    return across


def running_alike(network: Network, least: int = 20) -> Network | None:
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
    if kept.sum() < least:
        return None
    segments = network.segments[kept].reset_index(drop=True)
    return Network(f"{network.name}, one way", segments, bool(segments["street"].notna().any()))


def crews(found: list[Network], seed: int, catalogue: Catalogue) -> Lines:
    """Two crews of different error in one register, and two of the same: whether they are told apart, and scores."""
    lines: Lines = []
    cases = {
        "0.3 m and 15 m": [constant(0.3 / RADIUS_95), constant(3 * SUPPOSED_M)],
        "half and double": [ERRORS["half"], ERRORS["double"]],
        "both double": [ERRORS["double"], ERRORS["double"]],
    }
    for name, errors in cases.items():
        for count in (400, 1500):
            trials = [
                (network, make_trial(network, errors, count, [seed, 3, number, count], catalogue))
                for network in found
                for number in range(4)
            ]
            apart, scores = 0, []
            for _, trial in trials:
                default, learnt = (located(trial, catalogue, learn=learn) for learn in (False, True))
                apart += learnt.reasons.learning[0].key == "crew"
                scores.append([*_scores(trial, default.frame), *_scores(trial, learnt.frame)])
            mean = np.mean(scores, axis=0)
            names = [f"{what} {method}" for method in ("default", "learnt") for what in ("right %", "points", "Brier")]
            lines.append({"case": name, "cores": count, "registers": len(trials), "told apart": apart,
                          **dict(zip(names, mean.tolist(), strict=True))})  # fmt: skip
            print(lines[-1], flush=True)
    return shown("Two crews in one register", lines)


def places(found: list[Network], seed: int, catalogue: Catalogue) -> Lines:
    """Cores near the centre line, near a kerb or in the footway: the learnt error against nearest and default."""
    footway: Across = lambda rng, left: rng.choice([-1, 1], len(left)) * rng.uniform(1.05, 1.5, len(left))  # noqa: E731 - three alike
    cases: dict[str, tuple[Error, Across]] = {
        "0.2 m, centre line": (ERRORS["0.2 m"], lambda rng, left: rng.normal(0, 0.05, len(left))),
        "half, centre line": (ERRORS["half"], lambda rng, left: rng.normal(0, 0.05, len(left))),
        "half, kerbs": (ERRORS["half"], lambda rng, left: rng.choice([-0.8, 0.8], len(left))),
        "half, footway": (ERRORS["half"], footway),
        "double, footway": (ERRORS["double"], footway),
    }
    lines: Lines = []
    for name, (error, across) in cases.items():
        for network in found:
            trial = make_trial(network, error, 1500, [seed, 4], catalogue, across)
            default, learnt = (located(trial, catalogue, learn=learn).frame for learn in (False, True))
            nearest = located(trial, catalogue, learn=False, choose="nearest").frame
            line: dict[str, object] = {"case": name, "network": network.name}
            line["right % nearest"] = 100 * float(trial.is_right(nearest["segment_id"]).mean())
            for method, frame in (("default", default), ("learnt", learnt)):
                line |= dict(zip([f"{what} {method}" for what in ("right %", "points", "Brier")],
                                 _scores(trial, frame), strict=True))  # fmt: skip
            lines.append(line)
    return shown("Places across the road", lines)


def _scores(trial: Trial, frame: pd.DataFrame) -> tuple[float, float, float]:
    is_right, stated = trial.is_right(frame["segment_id"]), frame["segment_confidence"].fillna(0).to_numpy(dtype=float)
    return 100 * float(is_right.mean()), calibration_error(stated, is_right), brier(stated, is_right)
