"""The settings of a programme that are values, each as it is written and with who set it."""

from dataclasses import dataclass

from pipeline.audit.limits import limit_in_words
from pipeline.programme.sections import Section
from pipeline.programme.settings import Settings
from pipeline.programme.sources import set_by

__all__ = ["SettingSource", "setting_sources"]

_SECTIONS = ("matching", "orders")
# how a page looks is no value of the audit
_NOT_SHOWN = ("units", "currency")
_OUR_DEFAULT = "our default"


@dataclass(frozen=True)
class SettingSource:
    """One setting: its key in the programme file, its value in words, and where that comes from."""

    key: str
    value: str
    source: str


def setting_sources(settings: Settings) -> list[SettingSource]:
    """Return the settings of matching and orders that hold one value, in the order of the programme file."""
    return [
        SettingSource(
            f"{name}.{field.alias or attribute}",
            _in_words(getattr(section, attribute), field.default),
            set_by(settings.programme.name) if attribute in section.model_fields_set else _OUR_DEFAULT,
        )
        for name in _SECTIONS
        for section in [_section(settings, name)]
        for attribute, field in type(section).model_fields.items()
        if attribute not in _NOT_SHOWN and _is_value(getattr(section, attribute))
    ]


def _section(settings: Settings, name: str) -> Section:
    section: Section = getattr(settings, name)
    return section


def _is_value(value: object) -> bool:
    return isinstance(value, str | float | int) and not isinstance(value, bool)


def _in_words(value: float | str, default: object) -> str:
    """Return a value in the unit that its default is written in; without one, as it is."""
    unit = default.partition(" ")[2] if isinstance(default, str) else ""
    if isinstance(value, str):
        return value
    return limit_in_words(f"{value * (100 if unit == '%' else 1):g} {unit}".strip())
