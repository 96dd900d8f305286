"""What a pack says of the errors of its positions: what its confidences rest on, and whether positions are shifted."""

from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.publish.learnt_errors import PUBLISHED, position_counts, reading_facts, warning_outcomes
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["position_facts", "position_problems", "position_sentences", "shift_sentences"]

# what the error of a position rests on, in the order in which pages list it
_SOURCES: Final = ("stated", "learnt", "default")
_DEFAULT: Final = "default_m"
_SHIFT: Final = frozenset({"register", "cores", "says"})
_SIDES: Final = frozenset({"side", "kept"})
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
            **{
                name: fact if isinstance(fact, str) else round(fact, _DECIMALS)
                for name, fact in reading_facts(one.reading).items()
            },
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
    unknown = sorted({*errors} - known | {key for shift in shifts for key in shift if key not in _shown_of(shift)})
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
        words.say(
            f"handover.reads_{shift['says']}",
            positions=_positions(shift, words),
            **{
                name: words.say(f"compass.{shift[name]}") if name in _SIDES else words.number(shift[name], _DECIMALS)
                for name in PUBLISHED[shift["says"]]
            },
        )
        for shift in identity.get("shifts", [])
    ]


def _shown_of(shift: dict[str, Any]) -> set[str]:
    """Return the facts of a shift that a page shows."""
    return {*_SHIFT, *PUBLISHED.get(shift.get("says", ""), ())}


def _positions(shift: dict[str, Any], words: Words) -> Markup:
    if shift["register"] is None:
        return words.say("handover.positions", n=shift["cores"])
    return words.say("handover.positions_of", n=shift["cores"], register=words.own(shift["register"], _MOST_LETTERS))
