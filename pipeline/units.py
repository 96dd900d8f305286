"""Units: written quantities as numbers in the unit that a name states, from one pint registry.

Every spelling is listed here, because pint alone would read "bag" as 42.64 kg and "MM" as megamolar.
"""

import re
from functools import cache
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pint

__all__ = [
    "DIMENSION_OF_UNIT",
    "MARKS",
    "SPELLINGS",
    "ambiguous_units",
    "convert",
    "plain_spelling",
    "quantity",
    "same_unit",
    "step_in",
    "unit_name",
    "units_of",
]

# pint's own definitions of the units named below; reading all of its units takes as long as a small register
_DEFINITIONS: Final = (
    "milli- = 1e-3",
    "centi- = 1e-2",
    "deci- = 1e-1",
    "kilo- = 1e3",
    "meter = [length] = _ = metre",
    "second = [time]",
    "gram = [mass]",
    "kelvin = [temperature]; offset: 0",
    "percent = 0.01",
    "yard = 0.9144 * meter",
    "inch = yard / 36",
    "foot = yard / 3",
    "mile = 1760 * yard",
    "liter = decimeter ** 3 = _ = litre",
    "cubic_inch = inch ** 3",
    "gallon = 231 * cubic_inch",
    "quart = gallon / 4",
    "imperial_gallon = 4.54609 * liter",
    "grain = 64.79891 * milligram",
    "pound = 7e3 * grain",
    "metric_ton = 1e3 * kilogram",
    "minute = 60 * second",
    "hour = 60 * minute",
    "day = 24 * hour",
    "week = 7 * day",
    "year = 365.25 * day",
    "month = year / 12",
    "degree_Celsius = kelvin; offset: 273.15",
    "degree_Fahrenheit = 5 / 9 * kelvin; offset: 233.15 + 200 / 9",
)


def _registry() -> "pint.UnitRegistry[Any]":
    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(None, autoconvert_offset_to_baseunit=True)
    registry.load_definitions(_DEFINITIONS)
    return registry


UREG: Final = _registry()

_GALLONS: Final = ("gal", "gals", "gallon", "gallons")
_GALLONS_OF: Final = {
    side: tuple(
        written
        for word in words
        for gallon in _GALLONS
        for written in (f"{word} {gallon}", f"{gallon} {word}", f"{gallon} ({word})", f"{gallon}, {word}")
    )
    for side, words in {"us": ("us", "usa"), "imp": ("imp", "imperial", "uk")}.items()
}


def _degrees(letter: str, name: str) -> list[str]:
    """Return the spellings of a unit of temperature that begin with a word for degree."""
    return [f"{degree} {scale}" for degree in ("°", "deg", "degs", "degree", "degrees") for scale in (letter, name)]


# spelling in lower case -> pint's name, by the dimension that a column or a setting asks for
SPELLINGS: Final[dict[str, dict[str, str]]] = {
    "length": {
        **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), "millimetre"),
        **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), "centimetre"),
        **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), "metre"),
        **dict.fromkeys(("km", "kilometre", "kilometres", "kilometer", "kilometers"), "kilometre"),
        **dict.fromkeys(("in", "ins", "inch", "inches", '"'), "inch"),
        **dict.fromkeys(("ft", "foot", "feet", "'"), "foot"),
    },
    "volume": {
        **dict.fromkeys(("l", "lt", "lts", "ltr", "ltrs", "litre", "litres", "liter", "liters"), "litre"),
        **dict.fromkeys(("ml", "millilitre", "millilitres", "milliliter", "milliliters"), "millilitre"),
        **dict.fromkeys(("m^3", "m3", "cubic metre", "cubic metres"), "metre ** 3"),
        **dict.fromkeys(("us gal", "us gals", "us gallon", "us gallons", *_GALLONS_OF["us"]), "gallon"),
        **dict.fromkeys(("imp gal", "imp gals", "imp gallon", "imp gallons", *_GALLONS_OF["imp"]), "imperial_gallon"),
        **dict.fromkeys(("us qt", "us quart", "us quarts"), "quart"),
    },
    "mass": {
        **dict.fromkeys(("kg", "kilogram", "kilograms"), "kilogram"),
        **dict.fromkeys(("g", "gram", "grams"), "gram"),
        **dict.fromkeys(("lb", "lbs", "pound", "pounds"), "pound"),
        **dict.fromkeys(("t", "tonne", "tonnes"), "metric_ton"),
    },
    "density": {
        "kg/l": "kilogram / litre",
        **dict.fromkeys(("kg/m^3", "kg/m3"), "kilogram / metre ** 3"),
        **dict.fromkeys(("lb/ft^3", "lb/ft3"), "pound / foot ** 3"),
    },
    "temperature": {
        **dict.fromkeys(("degc", "°c", "c", "celsius", "centigrade", *_degrees("c", "celsius")), "degree_Celsius"),
        **dict.fromkeys(("degf", "°f", "f", "fahrenheit", *_degrees("f", "fahrenheit")), "degree_Fahrenheit"),
    },
    "time": {
        **dict.fromkeys(("d", "day", "days"), "day"),
        **dict.fromkeys(("wk", "week", "weeks"), "week"),
        **dict.fromkeys(("h", "hour", "hours"), "hour"),
        **dict.fromkeys(("min", "minute", "minutes"), "minute"),
    },
    # months differ in length: they are counted on a calendar, never in days
    "number of months or years": {
        **dict.fromkeys(("month", "months"), "month"),
        **dict.fromkeys(("year", "years"), "year"),
    },
    "number of working days": dict.fromkeys(("working day", "working days"), "dimensionless"),
    "ratio of water": {"l/kg": "litre / kilogram", "us gal/lb": "gallon / pound"},
    "speed": {**dict.fromkeys(("km/h", "kph"), "kilometre / hour"), **dict.fromkeys(("mph", "mi/h"), "mile / hour")},
    "share": {"%": "percent", "percent": "percent", "": "dimensionless"},
    "count": dict.fromkeys(("", "bag", "bags", "sack", "sacks"), "dimensionless"),
}

DIMENSION_OF_UNIT: Final = {
    "mm": "length",
    "m": "length",
    "l": "volume",
    "kg": "mass",
    "lb": "mass",
    "us gal": "volume",
    "kg/l": "density",
    "kg/m^3": "density",
    "l/kg": "ratio of water",
    "km/h": "speed",
    "degc": "temperature",
    "day": "time",
    "min": "time",
    "month": "number of months or years",
    "working day": "number of working days",
    "%": "share",
    "": "count",
}

# what a spelling without its country or scale may mean, by dimension
_AMBIGUOUS: Final[dict[str, dict[str, tuple[str, ...]]]] = {
    "volume": dict.fromkeys(_GALLONS, ("us gal", "imp gal")),
    "temperature": dict.fromkeys(("°", "deg", "degs", "degree", "degrees"), ("degC", "degF")),
}
# names with capitals
_SHOWN: Final = {"degc": "degC", "degf": "degF", "l": "L", "ml": "mL", "kg/l": "kg/L", "l/kg": "L/kg"}
# other characters for a mark, and the plain one
MARKS: Final = {
    "″": '"', "”": '"', "“": '"', "''": '"', "′": "'", "’": "'", "‘": "'", "º": "°", "˚": "°", "℃": "°c", "℉": "°f",
    "³": "^3", "\xa0": " ", "\u202f": " ", "\u2009": " ",
}  # fmt: skip

_WRITTEN = re.compile(r"\s*([+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?)\s*(.*?)\s*")


def convert(numbers: npt.ArrayLike, spelling: str, unit: str) -> npt.NDArray[np.float64]:
    """Return a column in another unit.

    Parameters
    ----------
    numbers
        N numbers in the unit that ``spelling`` names.
    spelling
        A spelling from ``SPELLINGS``, in any case.
    unit
        The unit wanted: a key of ``DIMENSION_OF_UNIT``.

    Returns
    -------
    numpy.ndarray
        N floats in ``unit``.

    Raises
    ------
    KeyError
        The spelling is not one of the dimension that ``unit`` belongs to.
    """
    known = SPELLINGS[DIMENSION_OF_UNIT[unit.lower()]]
    values = np.asarray(numbers, dtype=float)
    have, want = known[spelling.strip().lower()], known[unit.lower()]
    # without a conversion the numbers stay the same to the last bit
    return values if have == want else UREG.Quantity(values, have).to(want).magnitude


@cache
def step_in(name: str, unit: str) -> float:
    """Return a step of one in the unit that ``SPELLINGS`` calls ``name``, in ``unit``; 1 degF is a step of 5/9 degC."""
    ends = UREG.Quantity(np.array([0.0, 1.0]), name).to(SPELLINGS[DIMENSION_OF_UNIT[unit.lower()]][unit.lower()])
    return float(np.diff(ends.magnitude)[0])


def plain_spelling(written: str, *, keep_case: bool = False) -> str:
    """Return a unit or a header in the characters of ``SPELLINGS``, units without the full stops of abbreviations."""
    for mark, plain in MARKS.items():
        written = written.replace(mark, plain)
    if keep_case:
        return written.strip()
    plain = re.sub(r"\bu\.?\s?([sk])\b\.?", r"u\1", written.casefold())
    # the full stop of an abbreviation: "in.", "imp. gal"
    plain = re.sub(r"(?<=[^\W\d_])\.", " ", plain)
    return " ".join(plain.split()).replace(" )", ")")


def ambiguous_units(written: str, dimension: str) -> tuple[str, ...]:
    """Return the units that a spelling may mean, such as both gallons for "gal"; none where it is certain."""
    return _AMBIGUOUS.get(dimension, {}).get(plain_spelling(written), ())


def quantity(text: object, unit: str) -> float:
    """Return one quantity written in settings or the catalogue, such as ``"9 mm"``, as a number.

    Parameters
    ----------
    text
        What was written.
    unit
        The unit to return: a key of ``DIMENSION_OF_UNIT``. A share comes back as a fraction of one.

    Raises
    ------
    ValueError
        The text has no number, no unit, or a unit of another dimension; the message names what was found and expected.
    """
    dimension = DIMENSION_OF_UNIT[unit.lower()]
    wanted = f'expected a {dimension} with its unit, such as "{_EXAMPLE[dimension]}"'
    match = _WRITTEN.fullmatch(text) if isinstance(text, str) else None
    if match is None:
        raise ValueError(f"found {text!r}, {wanted}")
    number, spelling = match.groups()
    if spelling.lower() not in SPELLINGS[dimension]:
        raise ValueError(f"found {text!r}, {wanted}; known units: {units_of(dimension)}")
    have = SPELLINGS[dimension][spelling.lower()]
    want = "dimensionless" if dimension == "share" else SPELLINGS[dimension][unit.lower()]
    return _converted(float(number), have, want)


@cache
def _converted(number: float, have: str, want: str) -> float:
    """Return a number in another unit; the ends of ranges are the same for every setting."""
    return float(UREG.Quantity(number, have).to(want).magnitude)


def units_of(dimension: str) -> str:
    """Return the units of a dimension for an error, each in its first spelling."""
    return ", ".join(dict.fromkeys(unit_name(spelling, dimension) for spelling in SPELLINGS[dimension] if spelling))


def unit_name(spelling: str, dimension: str) -> str:
    """Return the name of a unit, which is its first spelling: "in" for "inches", "degF" for "°f"."""
    known = SPELLINGS[dimension]
    first = next(written for written, name in known.items() if written and name == known[spelling])
    return _SHOWN.get(first, first)


def same_unit(first: str, second: str) -> bool:
    """Return whether two spellings, in any case, name the same unit of one dimension."""
    pair = (first.lower(), second.lower())
    return any(known.get(pair[0], "") == known.get(pair[1]) for known in SPELLINGS.values())


_EXAMPLE: Final = {
    "length": "15 m",
    "volume": "2.0 L",
    "mass": "20 kg",
    "density": "2.15 kg/L",
    "temperature": "21 degC",
    "time": "30 day",
    "number of months or years": "6 month",
    "number of working days": "10 working day",
    "ratio of water": "0.10 L/kg",
    "speed": "5 km/h",
    "share": "20 %",
    "count": "2",
}
