"""The cautions for a core, by its state, surface and weight; and for a sheet of cores, each caution once."""

import tomllib
from collections.abc import Iterable, Mapping
from typing import Annotated, Final

import numpy as np
import pandas as pd
from pydantic import BeforeValidator, Field

from pipeline.contracts import CORE_STATES
from pipeline.programme.materials import Entry, Sourced
from pipeline.programme.ranges import Range
from pipeline.programme.resources import shipped
from pipeline.units import convert

__all__ = [
    "CoreCautions",
    "cautions_by_core",
    "cautions_by_state",
    "cautions_of_programme",
    "cautions_of_sheets",
    "cautions_on_paper",
    "lifting_caution",
    "load_cautions",
    "translated",
]

_UNKNOWN: Final = "unknown"
_SURFACES: Final = "catalogue.surfaces."


class _Weight(Sourced):
    value: Annotated[float, BeforeValidator(Range("kg", above="0 kg", most="100 kg").read)]


class _Reinstating(Entry):
    cautions: list[str]


class Lifting(Entry):
    """The cautions on lifting: ``{weight}`` in a text is the weight of the core, or of the heaviest of a sheet."""

    by_machine: str
    by_hand: str
    not_known: str
    heaviest: str
    most_by_hand: _Weight


class StateCautions(Entry):
    """The cautions for a core in each state."""

    open: list[str]
    plated: list[str]
    interim: list[str]
    back: list[str]
    unknown: list[str]


class SheetCautions(Entry):
    """The cautions of a crew's sheet in few words, once and by state, and what is ticked before a core goes back."""

    cautions: list[str] = Field(min_length=1)
    inspect: list[str] = Field(min_length=1)
    state: StateCautions


class CoreCautions(Entry):
    """The cautions: ``general`` are those of every page, the others those of single cores; ``surface``: by surface."""

    general: list[str] = Field(min_length=1, alias="cautions")
    sheet: SheetCautions
    state: StateCautions
    reinstating: _Reinstating
    lifting: Lifting
    surface: dict[str, list[str]]


def load_cautions(by_surface: Mapping[str, list[str]]) -> CoreCautions:
    """Return the shipped cautions, with those of the surfaces in force."""
    written = tomllib.loads((shipped("config") / "cautions.toml").read_text("utf-8"))
    return CoreCautions.model_validate({**written, "surface": dict(by_surface)})


def cautions_of_programme(cautions: CoreCautions, overridden: Mapping[str, object]) -> CoreCautions:
    """Return the shipped cautions with those that a programme has set for surfaces.

    ``overridden``: its values by dotted key, as a catalogue and the record of a run hold them; a surface that only the
    programme has is there as a table.
    """
    own = {}
    for key, value in overridden.items():
        name, _, field = key.removeprefix(_SURFACES).rpartition(".")
        if not key.startswith(_SURFACES):
            continue
        if isinstance(value, dict):
            own[key.removeprefix(_SURFACES)] = list(map(str, value.get("cautions", [])))
        elif field == "cautions" and isinstance(value, list):
            own[name] = list(map(str, value))
    return cautions.model_copy(update={"surface": {**cautions.surface, **own}})


def cautions_by_state(cautions: CoreCautions, state: str, surface: str | None = None) -> list[str]:
    """Return the cautions for a core in a state on a surface, that on lifting aside.

    A core that is back needs no caution on reinstating: neither that of its surface, nor those on reuse and reopening.
    """
    known = state if state in CORE_STATES else _UNKNOWN
    lines: list[str] = list(getattr(cautions.state, known))
    if known == "back":
        return lines
    return [*lines, *cautions.reinstating.cautions, *cautions.surface.get(surface or "", [])]


def cautions_on_paper(cautions: CoreCautions, state: str, surface: str | None = None) -> list[str]:
    """Return the cautions for a core in few words, by its state and surface, that on lifting aside."""
    known = state if state in CORE_STATES else _UNKNOWN
    lines: list[str] = list(getattr(cautions.sheet.state, known))
    return lines if known == "back" else [*lines, *cautions.surface.get(surface or "", [])]


def lifting_caution(cautions: CoreCautions, core_kg: float, *, is_of_sheet: bool = False) -> str:
    """Return the caution on lifting a core of a weight in kilograms, NaN where it is not known."""
    texts = cautions.lifting
    if not np.isfinite(core_kg):
        return texts.not_known
    template = texts.by_hand if core_kg <= texts.most_by_hand.value else texts.by_machine
    if is_of_sheet:
        template = texts.heaviest
    (pounds,) = convert([core_kg], "kg", "lb")
    return template.replace("{weight}", f"{core_kg:.0f} kg ({pounds:.0f} lb)")


def cautions_by_core(cautions: CoreCautions, states: pd.Series, surfaces: pd.Series, core_kg: pd.Series) -> pd.Series:
    """Return the cautions of each core as one text.

    Parameters
    ----------
    cautions
        The cautions.
    states, surfaces
        N states, and N catalogue names of surfaces, missing where not known.
    core_kg
        N weights in kilograms, missing where not known.
    """
    # cores differ in few ways: each is put into words once
    ways = pd.DataFrame({"state": states, "surface": surfaces, "kg": core_kg.astype(float).round()})
    once = ways.drop_duplicates()
    texts = [
        " ".join([*cautions_by_state(cautions, str(state), _text(surface)), lifting_caution(cautions, kg)])
        for state, surface, kg in once.itertuples(index=False, name=None)
    ]
    codes = ways.groupby(list(ways), dropna=False, sort=False).ngroup().to_numpy()
    return pd.Series(pd.Series(texts, dtype="str").take(codes).array, states.index)


def cautions_of_sheets(
    cautions: CoreCautions, sheets: pd.Series, states: pd.Series, surfaces: pd.Series, core_kg: pd.Series
) -> pd.Series:
    """Return the cautions for each sheet as one text, each caution once, in the order of the states.

    ``sheets``: the sheet of each of N cores; the texts are on those in ascending order. Besides see above.
    """
    pairs = pd.DataFrame({"sheet": sheets, "state": states, "surface": surfaces}).drop_duplicates()
    rank = pairs["state"].map({state: place for place, state in enumerate(CORE_STATES)})
    ordered = pairs.assign(rank=rank).sort_values(["sheet", "rank", "surface"], kind="stable")
    once = ordered[["state", "surface"]].drop_duplicates()
    ways = {
        (state, _text(surface)): cautions_by_state(cautions, str(state), _text(surface))
        for state, surface in once.itertuples(index=False, name=None)
    }
    # a dictionary keeps each line once, where it came first
    lines: dict[object, dict[str, None]] = {}
    for sheet, state, surface in ordered[["sheet", "state", "surface"]].itertuples(index=False, name=None):
        lines.setdefault(sheet, {}).update(dict.fromkeys(ways[state, _text(surface)]))
    for sheet, heaviest in core_kg.astype(float).groupby(sheets).max().items():
        lines[sheet][lifting_caution(cautions, float(heaviest), is_of_sheet=True)] = None
    return pd.Series({sheet: " ".join(each) for sheet, each in lines.items()}, dtype="str")


def translated(cautions: CoreCautions, own: Mapping[str, str]) -> CoreCautions:
    """Return the cautions with each text in the wording that ``own`` has for it, where it has any."""

    def say(texts: Iterable[str]) -> list[str]:
        return [own.get(text, text) for text in texts]

    def by_state(texts: StateCautions) -> StateCautions:
        return StateCautions(**{name: say(those) for name, those in texts.model_dump().items()})

    lifting, sheet = cautions.lifting, cautions.sheet
    worded = {name: own.get(text, text) for name, text in lifting.model_dump(exclude={"most_by_hand"}).items()}
    return cautions.model_copy(
        update={
            "general": say(cautions.general),
            "sheet": SheetCautions(
                cautions=say(sheet.cautions), inspect=say(sheet.inspect), state=by_state(sheet.state)
            ),
            "surface": {name: say(texts) for name, texts in cautions.surface.items()},
            "state": by_state(cautions.state),
            "reinstating": _Reinstating(cautions=say(cautions.reinstating.cautions)),
            "lifting": lifting.model_copy(update=worded),
        }
    )


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None
