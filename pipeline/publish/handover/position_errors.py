"""What a pack says of the errors of its positions: what its confidences rest on, and whether positions are shifted."""

import math
from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.locate.learning.shift import Reading
from pipeline.publish.learnt_errors import compass, length_of, position_counts, warning_outcomes
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["position_facts", "position_problems", "position_sentences", "shift_sentences"]

# what the error of a position rests on, in the order in which pages list it
_SOURCES: Final = ("stated", "learnt", "default")
_DEFAULT: Final = "default_m"
# what the sentence on a reading names
_NAMED: Final = {
    "shift": frozenset({"metres", "low", "high", "side"}),
    "either": frozenset({"metres", "low", "high", "side", "kept"}),
    "both": frozenset({"metres", "side", "kept"}),
    "unclear": frozenset[str](),
}
_OF_SHIFT: Final = frozenset({"register", "cores", "says"})
_CONFIDENCES: Final = frozenset({"segment_confidence", "surface_confidence"})
_MOST_LETTERS: Final = 60
# a shift is known to a tenth of a metre at best
_DECIMALS: Final = 1


def position_facts(result: RunResult, cores: pd.DataFrame) -> dict[str, Any]:
    """Return the facts of ``handover.json`` on the errors of positions.

    Parameters
    ----------
    result
        The run.
    cores
        The table of cores as it is handed over.

    Returns
    -------
    dict
        ``position_errors``: number of cores by what their error rests on, and the default in metres; None where no
        confidence is handed over. ``shifts``: the registers that may be shifted, by name only where registers are
        handed over.
    """
    counts = position_counts(result) if _CONFIDENCES & {*cores} else {}
    default = {_DEFAULT: result.settings.matching.accuracy_m} if "default" in counts else {}
    counted = result.counted_cores
    is_learnt = result.reasons.errors["accuracy_from"].reindex(counted.index).eq("learnt")
    shifts = [
        {
            "register": one.register if "register" in cores else None,
            "cores": int((is_learnt & counted["register"].eq(one.register)).sum()),
            "says": one.reading.says,
            **{name: value for name, value in _figures(one.reading).items() if name in _NAMED[one.reading.says]},
        }
        for one in warning_outcomes(result.reasons.learning)
    ]
    return {"position_errors": counts | default or None, "shifts": shifts}


def position_problems(identity: dict[str, Any], placed: int | None) -> list[str]:
    """Return what is wrong with these facts of a pack: no other check would find what no page shows.

    ``placed``: number of cores with a position, where the pack shows positions.
    """
    errors, shifts = identity.get("position_errors") or {}, identity.get("shifts", [])
    known = {*_SOURCES, _DEFAULT} if "default" in errors else {*_SOURCES}
    unknown = sorted(
        {*errors} - known
        | {key for shift in shifts for key in {*shift} - _OF_SHIFT - _NAMED.get(shift.get("says"), frozenset())}
    )
    problems = [f"errors of positions: found {', '.join(map(repr, unknown))}, which no page shows"] if unknown else []
    counted = sum(errors.get(name, 0) for name in _SOURCES)
    if errors and placed is not None and counted != placed:
        problems.append(f"errors of positions: found {counted} cores, expected {placed} with a position")
    return problems


def position_sentences(identity: dict[str, Any], words: Words) -> list[Markup]:
    """Return what the confidences of a pack rest on, from what ``handover.json`` holds."""
    errors = identity.get("position_errors") or {}
    default = words.measure(errors.get(_DEFAULT, 0))
    return [words.say(f"handover.error_{name}", n=errors[name], default=default) for name in _SOURCES if name in errors]


def shift_sentences(identity: dict[str, Any], words: Words) -> list[Markup]:
    """Return a sentence for each register that may be shifted, from what ``handover.json`` holds."""
    return [
        words.say(f"handover.reads_{shift['says']}", positions=_positions(shift, words), **_shown(shift, words))
        for shift in identity.get("shifts", [])
    ]


def _figures(reading: Reading) -> dict[str, float | str]:
    """Return the length of a shift in metres, with the ends of its interval, and compass points."""
    figures: dict[str, float | str] = {}
    if math.hypot(reading.shift.east, reading.shift.north):
        figures |= {end: round(metres, _DECIMALS) for end, metres in length_of(reading.shift)._asdict().items()}
        figures["side"] = compass(reading.shift.east, reading.shift.north)
    if reading.side is not None:
        figures["kept"] = compass(reading.side.east, reading.side.north)
    return figures


def _shown(shift: dict[str, Any], words: Words) -> dict[str, object]:
    lengths = {end: words.number(shift[end], _DECIMALS) for end in ("metres", "low", "high") if end in shift}
    return lengths | {name: words.say(f"compass.{shift[name]}") for name in ("side", "kept") if name in shift}


def _positions(shift: dict[str, Any], words: Words) -> Markup:
    if shift["register"] is None:
        return words.say("handover.positions", n=shift["cores"])
    return words.say("handover.positions_of", n=shift["cores"], register=words.own(shift["register"], _MOST_LETTERS))
