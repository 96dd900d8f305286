"""What learning the errors of positions found, as sentences that report, notices and terminal summary share."""

import math
from typing import Final, NamedTuple

import numpy as np
from markupsafe import Markup

from pipeline.locate.learning.learn import LEAST_REGISTER, Outcome
from pipeline.locate.learning.shift import Shift
from pipeline.locate.learning.unmeasured import UNMEASURED
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = [
    "compass",
    "declined_sentence",
    "length_of",
    "position_counts",
    "position_notices",
    "reading_sentence",
    "shift_warnings",
    "unmeasured_outcomes",
    "warning_outcomes",
]

# readings that ask somebody to check known points; a preferred side of the road alone does not
_WARNINGS: Final = ("shift", "either", "both", "unclear")
_COMPASS: Final = ("east", "north_east", "north", "north_west", "west", "south_west", "south", "south_east")
# standard errors either side that hold 95 % of a normal error
_ERRORS_95: Final = 1.96
_SOURCES: Final = {
    "core": "stated", "method": "stated", "register": "stated", "programme": "stated",
    "learnt": "learnt", "default": "default",
}  # fmt: skip
_MOST_LETTERS: Final = 60


class Length(NamedTuple):
    """How long a shift is, and the ends of its 95 % interval, in metres."""

    metres: float
    low: float
    high: float


def position_counts(result: RunResult) -> dict[str, int]:
    """Return how many cores on the map have a stated, a learnt and the default accuracy; nothing if none is weighed."""
    if result.settings.matching.choose != "likeliest":
        return {}
    cores = result.counted_cores
    placed = cores.index[cores["x_m"].notna()]
    sources = result.reasons.errors["accuracy_from"].reindex(placed).map(_SOURCES).value_counts()
    return {name: int(sources[name]) for name in ("stated", "learnt", "default") if name in sources}


def compass(east: float, north: float) -> str:
    """Return the nearest of the eight compass points in a direction: "east", "north_east", ..."""
    turn = math.atan2(north, east) / (2 * math.pi)
    return _COMPASS[round(len(_COMPASS) * turn) % len(_COMPASS)]


def length_of(shift: Shift) -> Length:
    """Return the length of a shift; its variance is that along the direction of the shift."""
    metres = math.hypot(shift.east, shift.north)
    along = np.array([shift.east, shift.north]) / metres
    error = _ERRORS_95 * math.sqrt(max(float(along @ shift.covariance @ along), 0.0))
    return Length(metres, max(metres - error, 0.0), metres + error)


def reading_sentence(outcome: Outcome, words: Words, *, is_only: bool) -> Markup | None:
    """Return what a register's positions say of a common shift or of a side of the road that is preferred.

    Parameters
    ----------
    outcome
        Of the register.
    words
        The language.
    is_only
        Whether the programme has no other register, so that its name says nothing.
    """
    says, shift = outcome.reading.says, outcome.reading.shift
    if says == "nothing":
        return None
    name = Markup() if is_only else words.own(outcome.register, _MOST_LETTERS)
    register = words.say("learnt.the_register" if is_only else "learnt.register_named", register=name)
    shown: dict[str, object] = {"register": register}
    if says not in {"side", "unclear"}:
        shown |= {end: words.number(value, 1) for end, value in length_of(shift)._asdict().items()}
        shown["side"] = words.say(f"compass.{compass(shift.east, shift.north)}")
    if (side := outcome.reading.side) is not None:
        shown["kept"] = words.say(f"compass.{compass(side.east, side.north)}")
    return words.say(f"learnt.reads_{says}", **shown)


def warning_outcomes(outcomes: list[Outcome]) -> list[Outcome]:
    """Return the registers that may be shifted."""
    return [outcome for outcome in outcomes if outcome.reading.says in _WARNINGS]


def shift_warnings(outcomes: list[Outcome], words: Words, *, is_only: bool) -> list[Markup]:
    """Return a sentence for each register that may be shifted, with what to check."""
    found = [reading_sentence(outcome, words, is_only=is_only) for outcome in warning_outcomes(outcomes)]
    return [sentence for sentence in found if sentence is not None]


def unmeasured_outcomes(outcomes: list[Outcome]) -> list[Outcome]:
    """Return the registers whose positions seem not to be measured at the cores."""
    return [outcome for outcome in outcomes if outcome.reason in UNMEASURED]


def declined_sentence(outcome: Outcome, accuracy_m: float, words: Words) -> Markup:
    """Return why the default accuracy is used for a register, in metres."""
    reason = outcome.reason.replace(" ", "_")
    why = words.say(f"learnt.why_{reason}", least=LEAST_REGISTER, share=words.percent(outcome.share))
    name, accuracy = words.own(outcome.register, _MOST_LETTERS), words.measure(accuracy_m)
    return words.say("learnt.declined", register=name, n=outcome.cores, accuracy=accuracy, why=why)


def position_notices(outcomes: list[Outcome], accuracy_m: float, words: Words, *, is_only: bool) -> list[str]:
    """Return as plain text what puts positions in question: registers that may be shifted or were not measured."""
    unmeasured = [declined_sentence(outcome, accuracy_m, words) for outcome in unmeasured_outcomes(outcomes)]
    return [sentence.striptags() for sentence in (*shift_warnings(outcomes, words, is_only=is_only), *unmeasured)]
