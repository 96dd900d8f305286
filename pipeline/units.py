"""Units: written quantities as numbers in the unit that a name states, from one pint registry.

Every spelling is listed here, because pint alone would read "bag" as 42.64 kg and "MM" as megamolar.
"""

import re
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pint

__all__ = ["DIMENSION_OF_UNIT", "SPELLINGS", "convert", "quantity", "units_of"]

UREG: Final[pint.UnitRegistry[Any]] = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)

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
        **dict.fromkeys(("l", "lt", "ltr", "litre", "litres", "liter", "liters"), "litre"),
        **dict.fromkeys(("ml", "millilitre", "millilitres", "milliliter", "milliliters"), "millilitre"),
        **dict.fromkeys(("m^3", "m3", "cubic metre", "cubic metres"), "metre ** 3"),
        **dict.fromkeys(("us gal", "us gallon", "us gallons"), "gallon"),
        **dict.fromkeys(("imp gal", "imperial gallon", "imperial gallons"), "imperial_gallon"),
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
        **dict.fromkeys(("degc", "°c", "c", "celsius"), "degree_Celsius"),
        **dict.fromkeys(("degf", "°f", "f", "fahrenheit"), "degree_Fahrenheit"),
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
    "count": {"": "dimensionless", "bag": "dimensionless", "bags": "dimensionless"},
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
    return float(UREG.Quantity(float(number), have).to(want).magnitude)


def units_of(dimension: str) -> str:
    """Return the units of a dimension for an error, each in its shortest spelling."""
    shortest = {name: spelling for spelling, name in reversed(SPELLINGS[dimension].items()) if spelling}
    return ", ".join(reversed(shortest.values()))


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
