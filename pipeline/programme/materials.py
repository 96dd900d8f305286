"""The materials of a reinstatement: each value with its source and, where it is uncertain, its range."""

from collections.abc import Callable
from functools import partial
from typing import Annotated, ClassVar, Final, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo, model_validator

from pipeline.units import quantity

__all__ = ["Bedding", "Entry", "Geometry", "Grout", "Materials", "Sourced"]

# bulk density follows from particle density and voids: a larger difference is an error in one of the three
_LARGEST_DISAGREEMENT: Final = 0.03


class Entry(BaseModel):
    """A table of the catalogue; unknown keys are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Sourced(Entry):
    """A table with the source of its values."""

    source: str = Field(min_length=1)


def _end(written: object, info: ValidationInfo, unit: str, outer: Callable[[float, float], float]) -> float:
    """Return one end of a range; a shipped end is widened to the programme's own value by ``outer`` (min or max)."""
    if not isinstance(written, dict):
        return quantity(written, unit)
    shipped = quantity(written.get("shipped"), unit)
    return outer(shipped, info.data.get("value", shipped))


def _low(unit: str) -> BeforeValidator:
    """Return the validator of the lower end of a range."""
    return BeforeValidator(lambda written, info: _end(written, info, unit, min))


def _high(unit: str) -> BeforeValidator:
    """Return the validator of the upper end of a range."""
    return BeforeValidator(lambda written, info: _end(written, info, unit, max))


class _Ranged(Sourced):
    """A value and the range it plausibly lies in; without a stated range, the value itself."""

    unit: ClassVar[str]
    # how many of the unit that people read make one of the unit inside
    shown_per_one: ClassVar[float] = 1

    value: float
    low: float | None = None
    high: float | None = None

    @property
    def least(self) -> float:
        """The lower end of the range."""
        return self.value if self.low is None else self.low

    @property
    def most(self) -> float:
        """The upper end of the range."""
        return self.value if self.high is None else self.high

    @model_validator(mode="after")
    def _lies_in_its_range(self) -> Self:
        if not self.least <= self.value <= self.most:
            low, value, high = (
                f"{number * self.shown_per_one:g} {self.unit}" for number in (self.least, self.value, self.most)
            )
            raise ValueError(f"found a value of {value} in a range from {low} to {high}, expected it within the range")
        return self


class _Mm(_Ranged):
    unit: ClassVar[str] = "mm"
    value: Annotated[float, BeforeValidator(partial(quantity, unit="mm"))] = Field(ge=0)
    low: Annotated[float | None, _low("mm")] = Field(default=None, ge=0)
    high: Annotated[float | None, _high("mm")] = None


class _Kg(Sourced):
    value: Annotated[float, BeforeValidator(partial(quantity, unit="kg"))] = Field(gt=0)


class _Litres(Sourced):
    value: Annotated[float, BeforeValidator(partial(quantity, unit="L"))] = Field(gt=0)


class _KgPerLitre(_Ranged):
    unit: ClassVar[str] = "kg/L"
    value: Annotated[float, BeforeValidator(partial(quantity, unit="kg/L"))] = Field(gt=0)
    low: Annotated[float | None, _low("kg/L")] = Field(default=None, gt=0)
    high: Annotated[float | None, _high("kg/L")] = None


class _Share(_Ranged):
    unit: ClassVar[str] = "%"
    shown_per_one: ClassVar[float] = 100
    value: Annotated[float, BeforeValidator(partial(quantity, unit="%"))] = Field(ge=0)
    low: Annotated[float | None, _low("%")] = Field(default=None, ge=0)
    high: Annotated[float | None, _high("%")] = None


class Geometry(Entry):
    """The dimensions of the void that grout fills."""

    kerf: _Mm
    pilot_hole: _Mm
    gap: _Mm
    bed_fill: _Share


class Grout(Entry):
    """Bags, water, and the density and overfill of a mix."""

    bag: _Kg
    water_per_bag: _Litres
    wet_density: _KgPerLitre
    overfill: _Share


class Bedding(Entry):
    """A gravel bed."""

    thickness: _Mm
    bulk_density: _KgPerLitre
    particle_density: _KgPerLitre
    voids: _Share
    pack: _Kg

    @model_validator(mode="after")
    def _agrees_with_itself(self) -> "Bedding":
        implied = self.particle_density.value * (1 - self.voids.value)
        if abs(implied / self.bulk_density.value - 1) > _LARGEST_DISAGREEMENT:
            raise ValueError(
                f"found a bulk_density of {self.bulk_density.value:g} kg/L where particle_density and voids give "
                f"{implied:.3g} kg/L, expected a difference of at most {_LARGEST_DISAGREEMENT * 100:g} %"
            )
        return self


class Materials(Entry):
    """All materials and dimensions of a reinstatement."""

    geometry: Geometry
    grout: Grout
    bedding: dict[str, Bedding]
