"""The catalogue: surfaces, shades, materials and rules, shipped as data and overridden by a programme."""

import datetime as dt
import difflib
import tomllib
from collections.abc import Set as AbstractSet
from copy import deepcopy
from dataclasses import dataclass
from functools import partial
from typing import Annotated, Any, Final, Literal

import numpy as np
import pandas as pd
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator

from pipeline.errors import SettingsError
from pipeline.programme.materials import Bedding, Entry, Geometry, Grout, Materials, Sourced
from pipeline.programme.resources import shipped
from pipeline.programme.settings import Thresholds, sentences
from pipeline.programme.thresholds import ThresholdSetting, threshold_settings
from pipeline.units import quantity

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

_FILES: Final = ("surfaces", "shades", "materials", "roads", "rules")
Severity = Literal["fail", "check", "note"]


class Surface(Sourced):
    """A road surface, and how a core is put back there."""

    aliases: list[str]
    reinstate: bool
    shade: str | None = None
    bedding: str | None = None
    is_rigid: bool = False
    cautions: list[str] = Field(default_factory=list)

    @model_validator(mode="after")
    def _says_how(self) -> "Surface":
        if self.reinstate and not (self.shade and self.bedding):
            raise ValueError("a surface with reinstate = true needs a shade and a bedding")
        return self


class Shade(Sourced):
    """A shade of grout."""

    aliases: list[str]


class Road(Sourced):
    """A class of road."""

    aliases: list[str]
    width: Annotated[float, BeforeValidator(partial(quantity, unit="m"))] = Field(gt=0)


class RuleSetting(BaseModel):
    """Severity, source and thresholds of one rule; the rule itself says in which unit it wants a threshold."""

    model_config = ConfigDict(extra="allow", frozen=True)
    severity: Severity
    source: str = Field(min_length=1)

    @property
    def thresholds(self) -> dict[str, object]:
        """Thresholds as written, by name."""
        return dict(self.model_extra or {})


class _Whole(Entry):
    surfaces: dict[str, Surface]
    shades: dict[str, Shade]
    materials: Materials
    roads: dict[str, Road]
    rules: dict[str, RuleSetting]

    @model_validator(mode="after")
    def _names_what_is_there(self) -> "_Whole":
        for name, surface in self.surfaces.items():
            if surface.shade is not None and surface.shade not in self.shades:
                raise ValueError(f"surface {name!r} has the shade {surface.shade!r}; known: {', '.join(self.shades)}")
            if surface.bedding is not None and surface.bedding not in self.materials.bedding:
                known = ", ".join(self.materials.bedding)
                raise ValueError(f"surface {name!r} has the bedding {surface.bedding!r}; known: {known}")
        _alias_table("surface", {name: surface.aliases for name, surface in self.surfaces.items()})
        _alias_table("shade", {name: shade.aliases for name, shade in self.shades.items()})
        _alias_table("class of road", {name: road.aliases for name, road in self.roads.items()})
        if "other" not in self.roads:
            raise ValueError("the roads need a class named other, for what none of them names")
        return self


@dataclass(frozen=True)
class Catalogue:
    """The catalogue in force, with what the programme overrode (dotted key to value)."""

    surfaces: dict[str, Surface]
    shades: dict[str, Shade]
    materials: Materials
    roads: dict[str, Road]
    rules: dict[str, RuleSetting]
    overridden: dict[str, object]
    cautions: list[str]
    short_words: dict[str, str]
    threshold_settings: list[ThresholdSetting]

    @property
    def items(self) -> list[str]:
        """What can be ordered by the pack."""
        return [*(f"grout {shade}" for shade in self.shades), *self.materials.bedding]

    def surface_names(self, written: pd.Series) -> pd.Series:
        """Return the catalogue's name of each written surface; missing where it has none.

        A text of several parts, such as ``paved;asphalt``, counts only if all that name a surface name one.
        """
        table = _alias_table("surface", {name: surface.aliases for name, surface in self.surfaces.items()})
        return _look_up(written, table, ignored="unknown")

    def road_widths_m(self, written: pd.Series) -> pd.Series:
        """Return the width of each written class of road, in metres; a class not known counts as "other"."""
        names = self.road_classes(written).fillna("other")
        return names.map({name: road.width for name, road in self.roads.items()})

    def road_classes(self, written: pd.Series) -> pd.Series:
        """Return the catalogue's name of each written class of road; missing where it has none."""
        return _look_up(
            written, _alias_table("class of road", {name: road.aliases for name, road in self.roads.items()})
        )

    def shade_names(self, written: pd.Series) -> pd.Series:
        """Return the catalogue's name of each written shade; missing where it has none."""
        return _look_up(written, _alias_table("shade", {name: shade.aliases for name, shade in self.shades.items()}))


def load_catalogue(
    overrides: dict[str, dict[str, Any]], programme_file: str, thresholds: Thresholds | None = None
) -> Catalogue:
    """Read the shipped catalogue and lay a programme's own values over it.

    Parameters
    ----------
    overrides
        By file (``surfaces``, ``shades``, ``materials``, ``rules``), then as that file is written; a bare value
        in place of a table replaces its ``value``, and widens the shipped range if it lies outside.
    programme_file
        For errors.
    thresholds
        The programme's code of practice, and the places where other thresholds hold.

    Raises
    ------
    SettingsError
        An override names something that does not exist, or holds a wrong value.
    """
    written = {name: tomllib.loads((shipped("config") / f"{name}.toml").read_text("utf-8")) for name in _FILES}
    overridden: dict[str, object] = {}
    rules = deepcopy(written["rules"])
    unknown = sorted(set(overrides) - set(_FILES))
    if unknown:
        raise SettingsError(f"{programme_file}: catalogue.{unknown[0]}: unknown key. Known here: {', '.join(_FILES)}.")
    for name, values in overrides.items():
        _lay_over(written[name], values, f"catalogue.{name}", overridden)
    for name in overrides.get("rules", {}):
        if "severity" not in written["rules"][name]:
            near = difflib.get_close_matches(name, rules, n=1)
            hint = f' Did you mean "{near[0]}"?' if near else ""
            raise SettingsError(
                f"{programme_file}: catalogue.rules.{name}: no such rule.{hint} `kerfbook rules` lists them."
            )
    try:
        whole = _Whole.model_validate(written)
    except ValidationError as error:
        lines = sentences(error, _Whole)
        raise SettingsError("\n".join(f"{programme_file}: catalogue.{line}" for line in lines)) from error
    cautions = tomllib.loads((shipped("config") / "cautions.toml").read_text("utf-8"))["cautions"]
    words = tomllib.loads((shipped("config") / "street_words.toml").read_text("utf-8"))["short"]
    return Catalogue(
        whole.surfaces,
        whole.shades,
        whole.materials,
        whole.roads,
        whole.rules,
        overridden,
        cautions,
        {long: short for short, longs in words.items() for long in longs},
        _say(rules, thresholds or Thresholds(), overrides.get("rules", {}), whole, programme_file),
    )


def _say(
    rules: dict[str, Any], thresholds: Thresholds, own: dict[str, Any], whole: _Whole, programme_file: str
) -> list[ThresholdSetting]:
    for number, one in enumerate(thresholds.where):
        for name, known in (("road_class", whole.roads), ("surface", whole.surfaces)):
            if name in one.place and one.place[name] not in known:
                raise SettingsError(
                    f"{programme_file}: thresholds.where.{number}.{name}: found {one.place[name]!r}, "
                    f"expected one of: {', '.join(known)}."
                )
    return threshold_settings(rules, thresholds, own, programme_file)


def _lay_over(below: dict[str, Any], above: dict[str, Any], place: str, overridden: dict[str, object]) -> None:
    if "value" in above:
        _let_give_way(below, above.keys())
    for key, value in above.items():
        here = f"{place}.{key}"
        if isinstance(below.get(key), dict) and isinstance(value, dict):
            _lay_over(below[key], value, here, overridden)
        elif isinstance(below.get(key), dict):
            below[key] |= {"value": value, "source": "programme file"}
            _let_give_way(below[key], {"value"})
            overridden[here] = _plain(value)
        elif key == "aliases" and isinstance(value, list):
            # a programme's own words come beside the shipped ones, and lose none of them
            below[key] = [*below.get(key, []), *value]
            overridden[here] = value
        else:
            below[key] = value
            overridden[here] = _plain(value)
            # a changed value no longer has the shipped source, unless the programme names its own
            if "source" in below and "source" not in above:
                below["source"] = "programme file"


def _let_give_way(entry: dict[str, Any], written: AbstractSet[str]) -> None:
    """A shipped range widens to hold a programme's own value; a range that it writes itself has to hold it."""
    for end in {"low", "high"} & entry.keys() - written:
        entry[end] = {"shipped": entry[end]}


def _plain(value: object) -> object:
    return value.isoformat() if isinstance(value, dt.date) else value


def _plain_words(text: pd.Series) -> pd.Series:
    """Bring written words to one form: case, blanks, underscores, hyphens and a closing full stop aside."""
    words = text.astype("str").str.normalize("NFKC").str.casefold().str.replace(r"[\s_\-]+", " ", regex=True)
    return words.str.strip().str.rstrip(".")


def _alias_table(kind: str, aliases: dict[str, list[str]]) -> dict[str, str]:
    table: dict[str, str] = {}
    for name, words in aliases.items():
        for word in _plain_words(pd.Series([name, *words], dtype="str")):
            if table.setdefault(word, name) != name:
                raise ValueError(f"the alias {word!r} stands for the {kind}s {table[word]!r} and {name!r}; keep one")
    return table


def _look_up(written: pd.Series, table: dict[str, str], ignored: str | None = None) -> pd.Series:
    codes, uniques = pd.factorize(_plain_words(written))
    # a missing text has code -1, which is the row added at the end
    words = pd.Series([*uniques, np.nan], dtype="str")
    names = words.map(table).astype("str")
    parts = words[names.isna()].str.split(r"[;,/+|]", regex=True).explode()
    named = _plain_words(parts).map(table).astype("str").fillna("")
    named = named[named.ne(ignored)] if ignored else named
    alone = named.groupby(level=0).agg(["nunique", "first"])
    found = alone.loc[alone["nunique"].eq(1) & alone["first"].ne(""), "first"]
    names = names.fillna(found.astype("str"))
    return names.iloc[codes].set_axis(written.index)
