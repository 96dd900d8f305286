"""Sampling schemes: the tables of the standard, and the scheme chosen on the command line."""

import tomllib
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from pipeline.errors import SettingsError
from pipeline.programme.resources import shipped
from pipeline.programme.setting_errors import sentences
from pipeline.units import quantity

__all__ = [
    "Inspection",
    "Isolated",
    "Of",
    "PlanTables",
    "SamplingTables",
    "Series",
    "load_sampling",
    "scheme_of",
]

# records of samples drawn by version 0.1.0 have "back" for "reinstated"
# what makes a lot: the cores of a district, of a register (contractor), or of a crew
LotsBy = Literal["district", "register", "crew"]
Of = Annotated[Literal["reinstated", "open", "all"], BeforeValidator(lambda of: "reinstated" if of == "back" else of)]
_LEVEL, _AQL, _LIMIT, _RISK, _ACCEPT = "II", "2.5", "5 %", "5 %", 0


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class PlanTables(_Table):
    """The tables of the standard.

    ``bands``: the largest lot of each band, ascending; ``letters``: by level, one letter per band and one for larger
    lots; ``sizes``: cores to inspect by letter; ``accept``: by AQL (percent, as text) and letter, the acceptance
    number, or the letter whose plan is used instead.
    """

    bands: list[int]
    letters: dict[str, list[str]]
    sizes: dict[str, int]
    accept: dict[str, dict[str, int | str]]
    sources: list[str]


class Inspection(_Table):
    """How entries in a filled-in sample are understood, and the cautions for everyone who inspects."""

    passed: list[str]
    failed: list[str]
    not_inspected: list[str]
    cautions: list[str]
    series_caution: str
    results_caution: str


class SamplingTables(_Table):
    """The contents of ``sampling.toml``."""

    plans: PlanTables
    inspection: Inspection


class Series(_Table):
    """A plan by AQL, for lots that are inspected one after another."""

    plan: Literal["series"] = "series"
    level: str = _LEVEL
    aql: str = _AQL


class Isolated(_Table):
    """A plan for a single lot: one worse than ``limit`` is accepted with a probability of at most ``risk``."""

    plan: Literal["isolated"] = "isolated"
    limit: float = Field(ge=0, lt=1)
    risk: float = Field(gt=0, lt=1)
    accept: int = Field(ge=0)


def load_sampling() -> SamplingTables:
    """Read the shipped tables of ``config/sampling.toml``."""
    written = tomllib.loads((shipped("config") / "sampling.toml").read_text("utf-8"))
    letters, plans = written["code_letters"], written["plans"]
    rows = {letter: plan for letter, plan in plans.items() if letter != "source"}
    tables = PlanTables(
        bands=letters["bands"],
        letters={level: one["letters"].split() for level, one in letters["levels"].items()},
        sizes={letter: plan["n"] for letter, plan in rows.items()},
        accept={
            aql: {letter: plan["accept"][aql] for letter, plan in rows.items()}
            for aql in next(iter(rows.values()))["accept"]
        },
        sources=[letters["source"], plans["source"]],
    )
    return SamplingTables(plans=tables, inspection=Inspection.model_validate(written["inspection"]))


def scheme_of(
    plan: str | None = None,
    level: str | None = None,
    aql: str | None = None,
    limit: str | None = None,
    risk: str | None = None,
    accept: int | None = None,
) -> Series | Isolated:
    """Return the scheme for the options of the command line; None is an option that was not given.

    Parameters
    ----------
    plan
        ``series`` (default) or ``isolated``.
    level, aql
        For a series: inspection level, and acceptance quality limit in percent.
    limit, risk
        For an isolated lot: shares, such as ``"5 %"``.
    accept
        For an isolated lot: failures accepted.

    Raises
    ------
    SettingsError
        An option belongs to the other plan, or its value is wrong.
    """
    of_series = {"--level": level, "--aql": aql}
    of_isolated = {"--limit": limit, "--risk": risk, "--accept": accept}
    is_isolated = plan == "isolated"
    misplaced = [name for name, value in (of_series if is_isolated else of_isolated).items() if value is not None]
    if misplaced:
        other = "series" if is_isolated else "isolated"
        raise SettingsError(f"{misplaced[0]}: only valid with --plan {other}. Leave it out, or add --plan {other}.")
    if not is_isolated:
        return Series(level=level or _LEVEL, aql=aql or _AQL)
    values: dict[str, Any] = {"accept": _ACCEPT if accept is None else accept}
    for name, written in (("limit", limit or _LIMIT), ("risk", risk or _RISK)):
        try:
            values[name] = quantity(written, "%")
        except ValueError as error:
            raise SettingsError(f"--{name}: {error}.") from error
        if values[name] >= 1:
            raise SettingsError(
                f'--{name}: found "{written}", expected a share below 100 %, such as "5 %". Correct it.'
            )
    try:
        return Isolated(**values)
    except ValidationError as error:
        raise SettingsError("\n".join(f"--{line}" for line in sentences(error, Isolated))) from error
