"""Building blocks of the sections of a programme file: their base class, and quantities written with a unit."""

from typing import Annotated, Final

from pydantic import BaseModel, BeforeValidator, ConfigDict

from pipeline.units import quantity

__all__ = ["Days", "KilometresAnHour", "Metres", "Minutes", "PositiveMetres", "Section", "Share", "ShareOrNone"]


# 95 % becomes 0.95, not what a division leaves of it
_DECIMALS: Final = 12


def _read(
    unit: str, *, least: str | None = None, above: str | None = None, below: str | None = None
) -> BeforeValidator:
    """Return the validator that reads a quantity written with a unit, within limits that are written the same way."""
    limits = {"at least": least, "above": above, "below": below}
    allowed = " and ".join(f"{word} {limit}" for word, limit in limits.items() if limit is not None)

    def read(written: object) -> float:
        number = round(quantity(written, unit), _DECIMALS)
        too_small = (least is not None and number < quantity(least, unit)) or (
            above is not None and number <= quantity(above, unit)
        )
        if too_small or (below is not None and number >= quantity(below, unit)):
            raise ValueError(f"found {written!r}, expected {allowed}")
        return number

    return BeforeValidator(read)


Metres = Annotated[float, _read("m", least="0 m")]
PositiveMetres = Annotated[float, _read("m", above="0 m")]
Share = Annotated[float, _read("%", above="0 %", below="100 %")]
ShareOrNone = Annotated[float, _read("%", least="0 %", below="100 %")]
Days = Annotated[float, _read("day", least="0 day")]
Minutes = Annotated[float, _read("min", above="0 min")]
KilometresAnHour = Annotated[float, _read("km/h", above="0 km/h")]
_FROZEN: Final = ConfigDict(extra="forbid", frozen=True, validate_default=True)


class Section(BaseModel):
    """A table of a programme file: unknown keys are refused, and nothing changes afterwards."""

    model_config = _FROZEN
