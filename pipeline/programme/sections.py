"""What every section of a programme file is made of: the base of the models, and quantities with their unit."""

from typing import Annotated, Final

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from pipeline.units import quantity

__all__ = ["Days", "ErrorMetres", "KilometresAnHour", "Metres", "Minutes", "Section", "Share", "ShareOrNone"]


def _read(unit: str) -> BeforeValidator:
    # 95 % is 0.95, and not what is left of it after a division
    return BeforeValidator(lambda text: round(quantity(text, unit), 12))


Metres = Annotated[float, _read("m")]
# an error of nothing would make a coin toss sure
ErrorMetres = Annotated[Metres, Field(gt=0)]
Share = Annotated[float, _read("%"), Field(gt=0, lt=1)]
ShareOrNone = Annotated[float, _read("%"), Field(ge=0, lt=1)]
Days = Annotated[float, _read("day"), Field(ge=0)]
Minutes = Annotated[float, _read("min"), Field(gt=0)]
KilometresAnHour = Annotated[float, _read("km/h"), Field(gt=0)]
_FROZEN: Final = ConfigDict(extra="forbid", frozen=True, validate_default=True)


class Section(BaseModel):
    """A table of a programme file: no unknown keys, nothing changed afterwards."""

    model_config = _FROZEN
