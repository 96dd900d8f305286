"""The settings of a programme that the audit goes by, each as it is written and with who set it."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from pipeline.audit.limits import limit_in_words
from pipeline.programme.sections import Section
from pipeline.programme.settings import Settings
from pipeline.programme.sources import set_by

__all__ = ["SettingSource", "setting_sources"]

_SECTIONS: Final = ("programme", "matching", "orders", "plan", "costs", "budget", "weather")
# titles and the look of a page are no values of the audit; files and dates are listed with the inputs
_NOT_SHOWN: Final = {
    "programme": {"name", "as_of", "language"},
    "orders": {"units", "currency", "stock"},
    "plan": {"keep"},
    "weather": {"path", "table", "sql", "key", "layer", "seasonal", "columns", "unit", "day_first", "decimal"},
}
_OUR_DEFAULT: Final = "our default"
# of settings without a default that shows it
_UNITS: Final = {"matching.accuracy_by_method": "m", "plan.minutes": "min", "weather.frost_free": "min"} | {
    f"plan.weights.{name}": "min" for name in ("hazard", "booked", "overdue", "usual")
}


@dataclass(frozen=True)
class SettingSource:
    """One setting: its key in the programme file, its value in words, and where that comes from."""

    key: str
    value: str
    source: str


def setting_sources(settings: Settings) -> list[SettingSource]:
    """Return the settings that are in force, in the order of the programme file; those that nobody set are left out.

    A table has an entry for each of its keys, such as ``matching.accuracy_by_method.gnss``, and a list of tables one
    for each key of each, numbered from one, such as ``plan.no_work.1.street``.
    """
    by_programme = set_by(settings.programme.name)
    return [
        one
        for name in _SECTIONS
        if (section := getattr(settings, name)) is not None
        for one in _in_section(name, section, by_programme)
    ]


def _in_section(key: str, section: Section, by_programme: str) -> Iterator[SettingSource]:
    for attribute, field in type(section).model_fields.items():
        if attribute in _NOT_SHOWN.get(key, ()):
            continue
        source = by_programme if attribute in section.model_fields_set else _OUR_DEFAULT
        unit = field.default.partition(" ")[2] if isinstance(field.default, str) else _UNITS.get(key, "")
        own = f"{key}.{field.alias or attribute}"
        yield from _values(own, getattr(section, attribute), unit or _UNITS.get(own, ""), source)


def _values(key: str, value: object, unit: str, source: str) -> Iterator[SettingSource]:
    """Return the settings in one value: several in a table."""
    if isinstance(value, Section):
        yield from _in_section(key, value, source)
    elif isinstance(value, dict):
        for name, own in value.items():
            yield from _values(f"{key}.{name}", own, unit, source)
    elif isinstance(value, list) and any(isinstance(own, Section) for own in value):
        for number, own in enumerate(value, 1):
            yield from _values(f"{key}.{number}", own, unit, source)
    elif value not in (None, "", []):
        yield SettingSource(key, _in_words(value, unit), source)


def _in_words(value: object, unit: str) -> str:
    """Return a value in the unit that its default is written in; without one, as it is."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float | int):
        return limit_in_words(f"{value * (100 if unit == '%' else 1):.12g} {unit}".strip())
    return ", ".join(map(str, value)) if isinstance(value, list | tuple) else str(value)
