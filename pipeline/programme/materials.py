"""The materials of a reinstatement: each value with its source and, where it is uncertain, its range."""

from collections.abc import Callable
from typing import Annotated, ClassVar, Final, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo, model_validator

from pipeline.programme.ranges import Range

__all__ = ["Bedding", "Entry", "Geometry", "Grout", "Materials", "Sourced"]

# bulk density follows from particle density and voids: a larger difference is an error in one of the three
_LARGEST_DISAGREEMENT: Final = 0.03


class Entry(BaseModel):
    """A table of the catalogue; unknown keys are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Sourced(Entry):
    """A table with the source of its values."""

    source: str = Field(min_length=1)


def _end(written: object, info: ValidationInfo, within: Range, outer: Callable[[float, float], float]) -> float:
    """Return one end of a range; a shipped end is widened to the programme's own value by ``outer`` (min or max)."""
    if not isinstance(written, dict):
        return within.read(written)
    shipped = within.read(written.get("shipped"))
    return outer(shipped, info.data.get("value", shipped))


def _value(within: Range) -> BeforeValidator:
    """Return the validator of a value."""
    return BeforeValidator(within.read)


def _low(within: Range) -> BeforeValidator:
    """Return the validator of the lower end of a range."""
    return BeforeValidator(lambda written, info: _end(written, info, within, min))


def _high(within: Range) -> BeforeValidator:
    """Return the validator of the upper end of a range."""
    return BeforeValidator(lambda written, info: _end(written, info, within, max))


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


# what can be: beyond these ends a value is a slip of the pen, or in another unit than it says
_KERF: Final = Range("mm", above="0 mm", most="50 mm")
_PILOT: Final = Range("mm", least="0 mm", most="150 mm")
_LAYER: Final = Range("mm", least="0 mm", most="500 mm")
_PART: Final = Range("%", least="0 %", most="100 %")
_VOIDS: Final = Range("%", least="0 %", most="80 %")
_SURPLUS: Final = Range("%", least="0 %", most="200 %")
_DENSITY: Final = Range("kg/L", least="0.1 kg/L", most="10 kg/L")
_PACK: Final = Range("kg", least="0.1 kg", most="50000 kg")
_TIME: Final = Range("min", above="0 min", most="24 h")
_WATER: Final = Range("L", least="0.01 L", most="5000 L")


class _Mm(_Ranged):
    unit: ClassVar[str] = "mm"


class _Kerf(_Mm):
    value: Annotated[float, _value(_KERF)]
    low: Annotated[float | None, _low(_KERF)] = None
    high: Annotated[float | None, _high(_KERF)] = None


class _PilotHole(_Mm):
    value: Annotated[float, _value(_PILOT)]
    low: Annotated[float | None, _low(_PILOT)] = None
    high: Annotated[float | None, _high(_PILOT)] = None


class _Layer(_Mm):
    value: Annotated[float, _value(_LAYER)]
    low: Annotated[float | None, _low(_LAYER)] = None
    high: Annotated[float | None, _high(_LAYER)] = None


class _Kg(Sourced):
    unit: ClassVar[str] = "kg"
    value: Annotated[float, _value(_PACK)]


class _Litres(Sourced):
    unit: ClassVar[str] = "L"
    value: Annotated[float, _value(_WATER)]


class _Minutes(Sourced):
    unit: ClassVar[str] = "min"
    value: Annotated[float, _value(_TIME)]


class _KgPerLitre(_Ranged):
    unit: ClassVar[str] = "kg/L"
    value: Annotated[float, _value(_DENSITY)]
    low: Annotated[float | None, _low(_DENSITY)] = None
    high: Annotated[float | None, _high(_DENSITY)] = None


class _Share(_Ranged):
    unit: ClassVar[str] = "%"
    shown_per_one: ClassVar[float] = 100


class _Part(_Share):
    value: Annotated[float, _value(_PART)]
    low: Annotated[float | None, _low(_PART)] = None
    high: Annotated[float | None, _high(_PART)] = None


class _Voids(_Share):
    value: Annotated[float, _value(_VOIDS)]
    low: Annotated[float | None, _low(_VOIDS)] = None
    high: Annotated[float | None, _high(_VOIDS)] = None


class _Surplus(_Share):
    value: Annotated[float, _value(_SURPLUS)]
    low: Annotated[float | None, _low(_SURPLUS)] = None
    high: Annotated[float | None, _high(_SURPLUS)] = None


class Geometry(Entry):
    """The dimensions of the void that grout fills."""

    kerf: _Kerf
    pilot_hole: _PilotHole
    gap: _Layer
    bed_fill: _Part


class Grout(Entry):
    """Bags, water, when a mix is firm, its density and overfill, and what may be thrown away."""

    bag: _Kg
    water_per_bag: _Litres
    firm_after: _Minutes
    wet_density: _KgPerLitre
    overfill: _Surplus
    most_waste: _Surplus


class Bedding(Entry):
    """A gravel bed."""

    thickness: _Layer
    bulk_density: _KgPerLitre
    particle_density: _KgPerLitre
    voids: _Voids
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
    # by surface
    core_density: dict[str, _KgPerLitre]
