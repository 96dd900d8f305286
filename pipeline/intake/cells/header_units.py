"""The unit that the header of a column states, where that is certain."""

import re
from typing import Final, NamedTuple

from pipeline.units import DIMENSION_OF_UNIT, SPELLINGS, ambiguous_units, plain_spelling, unit_name

__all__ = ["HeaderUnit", "header_unit", "stated_unit"]

_BRACKETED: Final = r"[(\[{]\s*([^()\[\]{}]+?)\s*[)\]}]"
# a unit in a place of its own: "Depth, in.", "Depth / mm", "Diameter in inches", "dia_mm"
_SET_APART: Final = r"(?:[,:;/|_-]|\s-|\sin)\s*([^\W\d_][^,:;/|_()\[\]{}-]*|[\"'°][^,:;/|_()\[\]{}-]*)$"
# "Air temp °F", "Air temp deg F"
_DEGREES: Final = r"((?:°|deg(?:ree)?s?\.?)\s*(?:[cf]|celsius|fahrenheit)?)$"
_AFTER_A_BLANK: Final = r"\s((?:(?:us|u\.s\.|imp\.?|imperial|uk|u\.k\.)\s+)?[^\W\d_]+\.?|\")$"
_CAMEL: Final = r"(?<=[a-z])(?=[A-Z])"
# units that are also words
_WORDS: Final = frozenset({"in", "ins", "min", "foot"})
# nothing but a unit ends a header in one of these
_CERTAIN_ALONE: Final = frozenset({"mm", "cm", "km", "ml", "kg", "lb", "lbs", "ft", '"'})
_LETTERS_OF_A_WORD: Final = 4
# "Put in" ends in a word and "Crew C" in a name: a short unit needs one of these words right before it
_SIZES: Final = frozenset(
    {"dia", "diam", "diameter", "ø", "depth", "thickness", "thk", "width", "length", "size", "height"}
)
_LENGTHS: Final = _SIZES | {"cover", "accuracy", "acc", "bedding", "bed", "flush", "step", "depression", "sag", "core"}
_NOUNS: Final = {
    "length": _LENGTHS,
    "volume": frozenset({"water", "volume", "vol"}),
    "temperature": frozenset({"temp", "temperature", "tmp", "air"}),
}
_PARTICIPLES: Final = frozenset(
    {"used", "added", "mixed", "measured", "actual", "mean", "max", "min", "avg", "qty", "quantity", "amount", "total"}
)
# words before "in", "c" and the like that make no unit of it: "put_in", "date_in", "crew_c"
_FALSE_FRIENDS: Final = frozenset(
    {
        "put", "signed", "sign", "date", "time", "day", "checked", "check", "clocked", "logged", "log", "sent",
        "brought", "called", "handed", "filled", "built", "fitted", "crew", "team", "gang", "no", "number",
        "location", "zone", "area", "sector", "site", "lot", "type", "class", "grade", "plan", "phase",
    }
)  # fmt: skip


class HeaderUnit(NamedTuple):
    """The unit that a header states.

    ``written``: as the header writes it. ``unit``: a spelling of the dimension asked for; None where the header leaves
    it open or states a unit of another dimension. ``could_be``: the units that it may mean, where it leaves it open.
    """

    written: str
    unit: str | None
    could_be: tuple[str, ...] = ()


def header_unit(header: str, unit: str) -> HeaderUnit | None:
    """Return the unit that a column's header states, as in ``dia_mm``, ``Depth, in.`` or ``Temp °F``.

    Parameters
    ----------
    header
        The header, as written.
    unit
        A unit of the dimension that the column holds, a key of ``pipeline.units.DIMENSION_OF_UNIT``.

    Returns
    -------
    HeaderUnit or None
        None where the header states no unit for certain, or two that differ.
    """
    dimension = DIMENSION_OF_UNIT[unit.lower()]
    found: dict[tuple[str | None, tuple[str, ...]], HeaderUnit] = {}
    for written in _candidates(header, dimension):
        hit = _understood(written, dimension)
        if hit is not None:
            found.setdefault((hit.unit, hit.could_be), hit)
    stated = {key: hit for key, hit in found.items() if hit.unit or hit.could_be} or found
    return next(iter(stated.values())) if len(stated) == 1 else None


def stated_unit(written: str, unit: str) -> HeaderUnit | None:
    """Return the unit that a cell in a units row states, as for :func:`header_unit`; None where it states none."""
    return _understood(re.sub(r"^[(\[{]|[)\]}]$", "", written.strip()).strip(), DIMENSION_OF_UNIT[unit.lower()])


def _candidates(header: str, dimension: str) -> list[str]:
    """Return the parts of a header that stand where a unit does, the clearest first."""
    clean = " ".join(plain_spelling(header, keep_case=True).split())
    found = re.findall(_BRACKETED, clean)
    # what follows is the end of the header, before any bracket
    clean = re.sub(_BRACKETED, "", clean).rstrip(" *:")
    if dimension == "temperature":
        found += re.findall(_DEGREES, clean, re.IGNORECASE)
    set_apart = re.search(_SET_APART, clean, re.IGNORECASE)
    if set_apart and not _is_false_friend(clean[: set_apart.start()], set_apart[1]):
        found.append(set_apart[1])
        if "/" in clean[set_apart.start() : set_apart.start(1)]:
            # "in/mm" leaves open which
            found += re.findall(r"[^\W\d_]+\.?$", clean[: set_apart.start()].rstrip())
    if len(clean) > 1 and plain_spelling(clean) not in _WORDS:
        found.append(clean)
    for spaced in (clean, re.sub(_CAMEL, " ", clean)):
        blank = re.search(_AFTER_A_BLANK, spaced, re.IGNORECASE)
        if blank and _is_certain(blank[1], spaced[: blank.start()], dimension):
            found.append(blank[1].strip())
    return found


def _understood(written: str, dimension: str) -> HeaderUnit | None:
    """Return what a unit in a header means; None where it is no unit."""
    plain = plain_spelling(written)
    if plain in SPELLINGS[dimension]:
        return HeaderUnit(written, unit_name(plain, dimension))
    could_be = ambiguous_units(plain, dimension)
    if could_be:
        return HeaderUnit(written, None, could_be)
    # "in", "c" or "t" may be anything where no such unit is expected
    is_other = len(plain) > 1 and plain not in _WORDS and any(plain in known for known in SPELLINGS.values())
    return HeaderUnit(written, None) if is_other else None


def _is_certain(written: str, before: str, dimension: str) -> bool:
    """Return whether a unit after a mere blank is one."""
    plain = plain_spelling(written)
    if re.search(r"(?:\b(?:or|and)|&)$", before.rstrip(), re.IGNORECASE):
        # "mm or inches" leaves open which
        return False
    if plain in _CERTAIN_ALONE or len(plain) >= _LETTERS_OF_A_WORD or ambiguous_units(plain, dimension):
        return before.count('"') == 0
    words = [word for word in re.findall(r"[^\W\d_]+", before.casefold()) if word not in _PARTICIPLES]
    nouns = _SIZES if plain in {"in", "ins"} else _NOUNS.get(dimension, frozenset())
    return bool(words) and words[-1] in nouns


def _is_false_friend(before: str, written: str) -> bool:
    """Return whether the words before a short unit make another word of it."""
    words = re.findall(r"[^\W\d_]+", before.casefold())
    return len(plain_spelling(written)) < _LETTERS_OF_A_WORD and bool(words) and words[-1] in _FALSE_FRIENDS
