"""What a sample is drawn by: the standard's tables, and the scheme that was asked for."""

import tomllib
from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from pipeline.errors import SettingsError
from pipeline.programme.resources import shipped
from pipeline.programme.setting_errors import sentences
from pipeline.units import quantity

__all__ = [
    "OF",
    "PLANS",
    "SCHEME",
    "Inspection",
    "Isolated",
    "Of",
    "PlanTables",
    "SamplingTables",
    "Scheme",
    "Series",
    "load_sampling",
    "scheme_of",
]

Of = Literal["back", "open", "all"]
OF: Final = ("back", "open", "all")
PLANS: Final = ("series", "isolated")
_LEVEL, _AQL, _LIMIT, _RISK, _ACCEPT = "II", "2.5", "5 %", "5 %", 0


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class PlanTables(_Part):
    """The standard's tables as data.

    ``bands``: largest lot of each band, rising; ``letters``: by level, one letter a band and one for the lots beyond;
    ``sizes``: cores inspected by letter; ``accept``: by AQL (percent, as text) and letter, the acceptance number, or
    the letter whose plan is used in its place.
    """

    bands: list[int]
    letters: dict[str, list[str]]
    sizes: dict[str, int]
    accept: dict[str, dict[str, int | str]]
    sources: list[str]


class Inspection(_Part):
    """How a filled-in sample is read, and what everyone who inspects is told."""

    passed: list[str]
    failed: list[str]
    not_inspected: list[str]
    cautions: list[str]
    series_caution: str
    results_caution: str


class SamplingTables(_Part):
    """Everything that ``sampling.toml`` holds."""

    plans: PlanTables
    inspection: Inspection


class Series(_Part):
    """A plan by AQL, for lots that are inspected one after another."""

    plan: Literal["series"] = "series"
    level: str = _LEVEL
    aql: str = _AQL


class Isolated(_Part):
    """A plan for one lot that stands alone: one beyond ``limit`` is accepted with a probability of ``risk`` at most."""

    plan: Literal["isolated"] = "isolated"
    limit: float = Field(ge=0, lt=1)
    risk: float = Field(gt=0, lt=1)
    accept: int = Field(ge=0)


Scheme = Annotated[Series | Isolated, Field(discriminator="plan")]
SCHEME: Final[TypeAdapter[Series | Isolated]] = TypeAdapter(Scheme)


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
    """Return the scheme that the options of the command line ask for; None stands for an option not given.

    Parameters
    ----------
    plan
        ``series`` (default) or ``isolated``.
    level, aql
        Of a plan for a series: inspection level and acceptance quality limit in percent.
    limit, risk
        Of a plan for an isolated lot: shares, such as ``"5 %"``.
    accept
        Of a plan for an isolated lot: failures that are still accepted.

    Raises
    ------
    SettingsError
        An option belongs to the other plan, or holds a wrong value.
    """
    of_series = {"--level": level, "--aql": aql}
    of_isolated = {"--limit": limit, "--risk": risk, "--accept": accept}
    is_isolated = plan == "isolated"
    astray = [name for name, value in (of_series if is_isolated else of_isolated).items() if value is not None]
    if astray:
        other = "series" if is_isolated else "isolated"
        raise SettingsError(f"{astray[0]}: belongs to --plan {other}. Leave it out, or add --plan {other}.")
    if not is_isolated:
        return Series(level=level or _LEVEL, aql=aql or _AQL)
    values: dict[str, Any] = {"accept": _ACCEPT if accept is None else accept}
    for name, written in (("limit", limit or _LIMIT), ("risk", risk or _RISK)):
        try:
            values[name] = quantity(written, "%")
        except ValueError as error:
            raise SettingsError(f"--{name}: {error}.") from error
    try:
        return Isolated(**values)
    except ValidationError as error:
        raise SettingsError("\n".join(f"--{line}" for line in sentences(error, Isolated))) from error
