"""The catalogue: surfaces, shades, materials and rules, shipped as data and overridden by a programme."""

import tomllib
from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass
from typing import Annotated, Any, Final, Literal

import pandas as pd
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from pipeline.errors import SettingsError
from pipeline.programme.aliases import alias_conflicts, alias_table, look_up
from pipeline.programme.cautions import CoreCautions, load_cautions
from pipeline.programme.materials import Bedding, Entry, Geometry, Grout, Materials, Sourced
from pipeline.programme.names import as_known, did_you_mean
from pipeline.programme.overrides import lay_code_over, lay_over
from pipeline.programme.ranges import Range, shortened
from pipeline.programme.resources import shipped
from pipeline.programme.setting_errors import sentences
from pipeline.programme.settings import Thresholds
from pipeline.programme.street_words import StreetWords
from pipeline.programme.thresholds import ThresholdSetting, code_of_practice, plain_value, threshold_settings

__all__ = [
    "Bedding",
    "Catalogue",
    "Geometry",
    "Grout",
    "Materials",
    "RuleSetting",
    "Shade",
    "Surface",
    "load_catalogue",
]

_FILE_NAMES: Final = ("surfaces", "shades", "conditions", "materials", "roads", "rules", "street_words")
Severity = Literal["fail", "check", "note"]
Urgency = Literal["hazard", "overdue", "quality", "record"]


class Surface(Sourced):
    """A road surface, and how cores are reinstated in it."""

    aliases: list[str]
    reinstate: bool
    shade: str | None = None
    bedding: str | None = None
    is_rigid: bool = False
    kind_of: str | None = None
    cautions: list[str] = Field(default_factory=list)


class Shade(Sourced):
    """A shade of grout."""

    aliases: list[str]


class Condition(Sourced):
    """A condition in which a core is found before it is reinstated, and whether it may then be reused."""

    aliases: list[str]
    reuse: bool


class Road(Sourced):
    """A class of road, and its usual width."""

    aliases: list[str]
    width: Annotated[float, BeforeValidator(Range("m", least="0.5 m", most="200 m").read)]


class RuleSetting(BaseModel):
    """Severity, urgency, source and thresholds of one rule; the rule itself names the unit of a threshold."""

    model_config = ConfigDict(extra="allow", frozen=True)
    severity: Severity
    urgency: Urgency
    source: str = Field(min_length=1)

    @property
    def thresholds(self) -> dict[str, object]:
        """The thresholds as written, by name."""
        return {name: plain_value(written) for name, written in (self.model_extra or {}).items()}


class _Files(Entry):
    """The files of ``config/``, with the programme's overrides."""

    surfaces: dict[str, Surface]
    shades: dict[str, Shade]
    conditions: dict[str, Condition]
    materials: Materials
    roads: dict[str, Road]
    rules: dict[str, RuleSetting]
    street_words: StreetWords


@dataclass(frozen=True)
class Catalogue:
    """The catalogue in force; ``overridden``: the values of the programme file, by dotted key."""

    surfaces: dict[str, Surface]
    shades: dict[str, Shade]
    conditions: dict[str, Condition]
    materials: Materials
    roads: dict[str, Road]
    rules: dict[str, RuleSetting]
    overridden: dict[str, object]
    core_cautions: CoreCautions
    short_words: dict[str, str]
    threshold_settings: list[ThresholdSetting]

    @property
    def cautions(self) -> list[str]:
        """The cautions of every page."""
        return self.core_cautions.general

    @property
    def items(self) -> list[str]:
        """The items that can be ordered."""
        return [*(f"grout {shade}" for shade in self.shades), *self.materials.bedding]

    def surface_names(self, written: pd.Series) -> pd.Series:
        """Return the catalogue's name of each written surface; missing where it has none.

        A text of several parts, such as ``paved;asphalt``, has a name only where all its parts have the same, those
        that are "unknown" aside.
        """
        return look_up(written, alias_table(_aliases(self.surfaces)), ignored="unknown")

    def road_widths_m(self, written: pd.Series) -> pd.Series:
        """Return the usual width of each written class of road, in metres; an unknown class counts as "other"."""
        names = self.road_classes(written).fillna("other")
        return names.map({name: road.width for name, road in self.roads.items()})

    def road_classes(self, written: pd.Series) -> pd.Series:
        """Return the catalogue's name of each written class of road; missing where it has none."""
        return look_up(written, alias_table(_aliases(self.roads)))

    def shade_names(self, written: pd.Series) -> pd.Series:
        """Return the catalogue's name of each written shade; missing where it has none."""
        return look_up(written, alias_table(_aliases(self.shades)))

    def core_faults(self, written: pd.Series) -> pd.Series:
        """Return the condition that bars each core from reuse, "none" for a sound one; missing where it has no name."""
        names = look_up(written, alias_table(_aliases(self.conditions)))
        return names.mask(names.isin([name for name, condition in self.conditions.items() if condition.reuse]), "none")


def load_catalogue(
    overrides: dict[str, dict[str, Any]],
    programme_file: str,
    thresholds: Thresholds | None = None,
    programme: str = "the programme",
) -> Catalogue:
    """Return the shipped catalogue with a programme's own values in place of the shipped ones.

    Parameters
    ----------
    overrides
        By file (``surfaces``, ``shades``, ``conditions``, ``materials``, ``roads``, ``rules``, ``street_words``), then
        as that file is written. A bare value in place of a table replaces its ``value``, and widens the shipped range
        if it lies outside; lists of words are added to the shipped ones.
    programme_file
        Path of the programme file, for errors.
    thresholds
        The programme's code of practice, and where other thresholds apply.
    programme
        Its name, which is the source of what it sets.

    Raises
    ------
    SettingsError
        An override names something that does not exist, or has a wrong value; every one is named.
    """
    written = {name: tomllib.loads((shipped("config") / f"{name}.toml").read_text("utf-8")) for name in _FILE_NAMES}
    overridden: dict[str, object] = {}
    rules = deepcopy(written["rules"])
    scoped = thresholds or Thresholds()
    if scoped.code is not None:
        lay_code_over(written["rules"], code_of_practice(scoped.code, f"{programme_file}: thresholds.code"))
    known = f"Known here: {', '.join(_FILE_NAMES)}."
    unknown = [name for name in overrides if name not in _FILE_NAMES]
    _refuse([f"catalogue.{name}: unknown key. {known} Correct it." for name in unknown], programme_file)
    for name, values in overrides.items():
        lay_over(written[name], values, f"catalogue.{name}", overridden, programme)
    for name in overrides.get("rules", {}):
        if name not in rules:
            hint = did_you_mean(name, rules)
            _refuse([f"catalogue.rules.{name}: no such rule.{hint} `kerfbook rules` lists them."], programme_file)
    try:
        files = _Files.model_validate(written)
    except ValidationError as error:
        lines = sentences(error, _Files, remedy="Correct it.")
        raise SettingsError("\n".join(f"{programme_file}: catalogue.{line}" for line in lines)) from error
    _refuse(_contradictions(files), programme_file)
    return Catalogue(
        files.surfaces,
        files.shades,
        files.conditions,
        files.materials,
        files.roads,
        files.rules,
        overridden,
        load_cautions({name: surface.cautions for name, surface in files.surfaces.items()}),
        files.street_words.by_long,
        _settings_of_rules(rules, scoped, overrides, files, programme_file, programme),
    )


def _with_water_ratio(overrides: dict[str, dict[str, Any]], grout: Grout) -> dict[str, Any]:
    """Return a programme's rules; one that sets its bag or its water, and no ratio of the two, gets theirs."""
    own, slug = overrides.get("rules", {}), "water-ratio-off"
    written = overrides.get("materials", {}).get("grout", {})
    rule = own.get(slug, {})
    # a rule that is no table is refused with the others
    if not {"bag", "water_per_bag"} & written.keys() or not isinstance(rule, dict) or "specified_ratio" in rule:
        return own
    ratio = f"{grout.water_per_bag.value / grout.bag.value:.6g} L/kg"
    return own | {slug: rule | {"specified_ratio": {"value": ratio, "source": "its water per bag, by its bag"}}}


def _settings_of_rules(
    rules: dict[str, Any],
    thresholds: Thresholds,
    overrides: dict[str, dict[str, Any]],
    files: _Files,
    programme_file: str,
    programme: str,
) -> list[ThresholdSetting]:
    for number, one in enumerate(thresholds.where, start=1):
        for name, known in (("road_class", files.roads), ("surface", files.surfaces)):
            if name in one.scope and as_known(one.scope[name], known) is None:
                raise SettingsError(
                    f"{programme_file}: thresholds.where no. {number}.{name}: found {shortened(one.scope[name])}, "
                    f"expected one of: {', '.join(known)}.{did_you_mean(one.scope[name], known)} Correct it."
                )
    own = _with_water_ratio(overrides, files.materials.grout)
    return threshold_settings(rules, thresholds, own, programme_file, programme)


def _refuse(lines: list[str], programme_file: str) -> None:
    """Stop where there is an error to report: one line each."""
    if lines:
        raise SettingsError("\n".join(f"{programme_file}: {line}" for line in lines))


def _contradictions(files: _Files) -> list[str]:
    """Return an error for every entry that refers to what is not there, is incomplete, or has another's alias."""
    lines = []
    beddings = files.materials.bedding
    for name, surface in files.surfaces.items():
        here = f"catalogue.surfaces.{name}"
        lines += [
            f"{here}.{key}: found {shortened(value)}, expected one of: {', '.join(known)}. Correct it, or add it as a "
            f"table to [{table}]."
            for key, value, known, table in (
                ("shade", surface.shade, files.shades, "catalogue.shades"),
                ("bedding", surface.bedding, beddings, "catalogue.materials.bedding"),
                ("kind_of", surface.kind_of, files.surfaces, "catalogue.surfaces"),
            )
            if value is not None and value not in known
        ]
        lacking = [key for key in ("shade", "bedding") if getattr(surface, key) is None]
        if surface.reinstate and lacking:
            lines.append(
                f"{here}: found reinstate = true without {' and '.join(lacking)}, expected a shade and a bedding. "
                "Set them, or set reinstate = false."
            )
    for file, entries in (
        ("surfaces", files.surfaces),
        ("shades", files.shades),
        ("conditions", files.conditions),
        ("roads", files.roads),
    ):
        lines += [
            f"catalogue.{file}: found the alias {word!r} under {owner!r} and {name!r}, expected it under one of them. "
            "Remove it from the other."
            for name, word, owner in alias_conflicts(_aliases(entries))
        ]
    return lines


def _aliases(entries: Mapping[str, Surface | Shade | Condition | Road]) -> dict[str, list[str]]:
    """Return the aliases of each entry of a file of the catalogue, by its name."""
    return {name: entry.aliases for name, entry in entries.items()}
