"""The shipped catalogue with the values of a code of practice and of a programme laid over it, key by key."""

import datetime as dt
from collections.abc import Set as AbstractSet
from typing import Any, Final

from pipeline.programme.sources import set_by
from pipeline.programme.thresholds import NO_THRESHOLD

__all__ = ["lay_code_over", "lay_over"]

_STREET_WORDS: Final = "catalogue.street_words.short"


def lay_code_over(rules: dict[str, Any], code: dict[str, Any]) -> None:
    """Replace severity and source of shipped rules by those of a code; its thresholds are read on their own."""
    for slug, one in code["rules"].items():
        rules[slug] |= {key: one[key] for key in NO_THRESHOLD if key in one}


def lay_over(
    below: dict[str, Any], above: dict[str, Any], table: str, overridden: dict[str, object], programme: str
) -> None:
    """Replace values of a shipped table by those of the programme, and record each in ``overridden``."""
    if "value" in above:
        _let_give_way(below, above.keys())
    for key, value in above.items():
        here = f"{table}.{key}"
        if isinstance(below.get(key), dict) and isinstance(value, dict):
            lay_over(below[key], value, here, overridden, programme)
        elif isinstance(below.get(key), dict):
            below[key] |= {"value": value, "source": set_by(programme)}
            _let_give_way(below[key], {"value"})
            overridden[here] = _plain(value)
        elif isinstance(value, list) and (key == "aliases" or table == _STREET_WORDS):
            # a programme's own words are added to the shipped ones
            below[key] = [*below.get(key, []), *value]
            overridden[here] = value
        else:
            below[key] = set_by(programme, value) if key == "source" else value
            overridden[here] = _plain(value)
            # a changed value loses the shipped source, unless the programme gives its own
            if "source" in below and "source" not in above:
                below["source"] = set_by(programme)


def _let_give_way(entry: dict[str, Any], written: AbstractSet[str]) -> None:
    """Mark the shipped ends of a range: they widen to hold the programme's value, while its own ends do not."""
    for end in {"low", "high"} & entry.keys() - written:
        entry[end] = {"shipped": entry[end]}


def _plain(value: object) -> object:
    """Return a value as JSON can hold it."""
    return value.isoformat() if isinstance(value, dt.date) else value
