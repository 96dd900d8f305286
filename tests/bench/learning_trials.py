"""Trials of what the learning of errors promises: when it is accepted, what it finds of two crews, and where cores lie."""

import numpy as np
import pandas as pd

from pipeline.locate.learning.learn import Outcome
from pipeline.programme.catalogue import Catalogue
from tests.bench.known_truth import ERRORS, RADIUS_95, SUPPOSED_M, Across, Error, Trial, located, make_trial
from tests.bench.scores import brier, calibration_error
from tests.bench.street_networks import Network

Lines = list[dict[str, object]]

# registers per network where nothing is to be found, and where something is
IDLE, SOME = 10, 4
# the same, of two crews
ALIKE, UNLIKE = 2, 1


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


def crews(found: list[Network], seed: int, catalogue: Catalogue) -> Lines:
    """Two crews of different error in one register, and two of the same: whether they are told apart, and scores.

    ``pooled`` is what is learnt where the register does not name the crews.
    """
    lines: Lines = []
    cases = {
        "0.3 m and 15 m": [constant(0.3 / RADIUS_95), constant(3 * SUPPOSED_M)],
        "half and double": [ERRORS["half"], ERRORS["double"]],
        "both half": [ERRORS["half"], ERRORS["half"]],
        "both double": [ERRORS["double"], ERRORS["double"]],
    }
    for name, errors in cases.items():
        is_alike = errors[0] is errors[1]
        for count in (400, 1500):
            apart, scores = [], []
            for network in found:
                for number in range(ALIKE if is_alike else UNLIKE):
                    trial = make_trial(network, errors, count, [seed, 3, number, count], catalogue)
                    learnt = located(trial, catalogue, learn=True)
                    apart.append(learnt.reasons.learning[0].key == "crew")
                    if not is_alike:
                        unnamed = trial._replace(cores=trial.cores.assign(crew="crew"))
                        pooled, default = (located(unnamed, catalogue, learn=learn) for learn in (True, False))
                        frames = (default.frame, pooled.frame, learnt.frame)
                        scores.append([score for frame in frames for score in _scores(trial, frame)])
            lines.append({"case": name, "cores": count, "registers": len(apart), "told apart": sum(apart)})
            if scores:
                methods = ("default", "pooled", "learnt")
                names = [f"{what} {method}" for method in methods for what in ("right %", "points", "Brier")]
                lines[-1] |= dict(zip(names, np.mean(scores, axis=0).tolist(), strict=True))
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
