"""What a plan goes by where a programme sets nothing and its registers show nothing: ``config/plan.toml``."""

import datetime as dt
import tomllib
from typing import Annotated, Any, Final

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from pipeline.programme.ranges import Range
from pipeline.programme.resources import shipped

__all__ = [
    "CORE_STEPS",
    "SURFACE_KINDS",
    "VISIT_STEPS",
    "Learning",
    "PlanDefaults",
    "Sizes",
    "Weights",
    "plan_defaults",
]

CORE_STEPS: Final = ("set_up", "dry_fit", "mix", "pour", "press", "clean")
VISIT_STEPS: Final = ("survey", "make_safe")
SURFACE_KINDS: Final = ("asphalt", "rigid")
_Minutes = Annotated[float, BeforeValidator(Range("min", above="0 min", most="24 h").read)]
_Source = Annotated[str, Field(min_length=1)]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Sizes(_Table):
    """Classes of the diameter of a hole, each but the last with its largest as written; the last has no end."""

    up_to: list[str] = Field(min_length=1)
    source: _Source

    @property
    def ends_mm(self) -> list[float]:
        """The largest diameter of each class but the last."""
        return [Range("mm", above="0 mm", most="10 m").read(written) for written in self.up_to]

    @property
    def names(self) -> list[str]:
        """What the classes are called."""
        return [*(f"up to {written}" for written in self.up_to), f"over {self.up_to[-1]}"]


class _CoreMinutes(_Table):
    set_up: list[_Minutes]
    dry_fit: list[_Minutes]
    mix: list[_Minutes]
    pour: list[_Minutes]
    press: list[_Minutes]
    clean: list[_Minutes]
    source: _Source


class _VisitMinutes(_Table):
    survey: _Minutes
    make_safe: _Minutes
    source: _Source


class _StepMinutes(_Table):
    asphalt: _CoreMinutes
    rigid: _CoreMinutes
    visit: _VisitMinutes


class Weights(_Table):
    """Minutes of a crew's work that a day late is worth, by urgency, and how many times as much by class of road."""

    hazard: _Minutes
    booked: _Minutes
    overdue: _Minutes
    usual: _Minutes
    after_a_year: float = Field(ge=1, le=100)
    road_class: dict[str, Annotated[float, Field(gt=0, le=100)]]
    source: _Source


class Learning(_Table):
    """How minutes are learnt from the times of a register."""

    least_cores: int = Field(ge=2)
    longest_min: _Minutes = Field(alias="longest")
    break_at: dt.time
    source: _Source

    @model_validator(mode="before")
    @classmethod
    def _reads_the_time(cls, written: Any) -> Any:  # noqa: ANN401 - whatever a TOML file holds
        return {**written, "break_at": dt.time.fromisoformat(written["break_at"])}


class _Break(_Table):
    minutes: _Minutes
    source: _Source


class PlanDefaults(_Table):
    """The contents of ``config/plan.toml``."""

    sizes: Sizes
    minutes: _StepMinutes
    rest: _Break = Field(alias="break")
    weights: Weights
    learning: Learning

    def core_minutes(self, kind: str) -> dict[str, list[float]]:
        """Return for each step of a reinstatement the minutes by class of size, for one kind of surface."""
        table: _CoreMinutes = getattr(self.minutes, kind)
        return {step: getattr(table, step) for step in CORE_STEPS}


def plan_defaults() -> PlanDefaults:
    """Read the shipped ``config/plan.toml``."""
    return PlanDefaults.model_validate(tomllib.loads((shipped("config") / "plan.toml").read_text("utf-8")))
