"""What goes into a reinstatement: each value with its source, and the range it may lie in where it is uncertain."""

from collections.abc import Callable
from functools import partial
from typing import Annotated, Final, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo, model_validator

from pipeline.units import quantity

__all__ = ["Bedding", "Entry", "Geometry", "Grout", "Materials", "Sourced"]

# bulk density, particle density and voids of a gravel say the same thing twice: more than this apart is a slip
_LARGEST_DISAGREEMENT: Final = 0.03


class Entry(BaseModel):
    """A table of the catalogue; a key it does not know is refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Sourced(Entry):
    """A table that says where its values come from."""

    source: str = Field(min_length=1)


def _end(written: object, info: ValidationInfo, unit: str, outer: Callable[[float, float], float]) -> float:
    """Read one end of a range; a shipped end gives way to a programme's own value, as ``outer`` says."""
    if not isinstance(written, dict):
        return quantity(written, unit)
    shipped = quantity(written.get("shipped"), unit)
    return outer(shipped, info.data.get("value", shipped))


def _low(unit: str) -> BeforeValidator:
    return BeforeValidator(lambda written, info: _end(written, info, unit, min))


def _high(unit: str) -> BeforeValidator:
    return BeforeValidator(lambda written, info: _end(written, info, unit, max))


class _Ranged(Sourced):
    """A value, and the range it plausibly lies in; the range is the value itself where none is stated."""

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
            raise ValueError(
                f"the value {self.value:g} lies outside its own range, {self.least:g} to {self.most:g} (in the unit "
                "used inside); expected low, value and high in this order. Correct them"
            )
        return self


class _Mm(_Ranged):
    value: Annotated[float, BeforeValidator(partial(quantity, unit="mm"))] = Field(ge=0)
    low: Annotated[float | None, _low("mm")] = Field(default=None, ge=0)
    high: Annotated[float | None, _high("mm")] = None


class _Kg(Sourced):
    value: Annotated[float, BeforeValidator(partial(quantity, unit="kg"))] = Field(gt=0)


class _Litres(Sourced):
    value: Annotated[float, BeforeValidator(partial(quantity, unit="L"))] = Field(gt=0)


class _KgPerLitre(_Ranged):
    value: Annotated[float, BeforeValidator(partial(quantity, unit="kg/L"))] = Field(gt=0)
    low: Annotated[float | None, _low("kg/L")] = Field(default=None, gt=0)
    high: Annotated[float | None, _high("kg/L")] = None


class _Share(_Ranged):
    value: Annotated[float, BeforeValidator(partial(quantity, unit="%"))] = Field(ge=0)
    low: Annotated[float | None, _low("%")] = Field(default=None, ge=0)
    high: Annotated[float | None, _high("%")] = None


class Geometry(Entry):
    """The void that grout fills."""

    kerf: _Mm
    pilot_hole: _Mm
    gap: _Mm
    bed_fill: _Share


class Grout(Entry):
    """Bags, water and what a mix yields."""

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
                f"bulk density {self.bulk_density.value:g} kg/L disagrees with particle density and voids, "
                f"which give {implied:.3g} kg/L; expected within {_LARGEST_DISAGREEMENT:.0%}"
            )
        return self


class Materials(Entry):
    """Everything that goes into a reinstatement."""

    geometry: Geometry
    grout: Grout
    bedding: dict[str, Bedding]
