"""The entries ``[[owners]]`` of a programme file: who has to act on which findings."""

from typing import Annotated, Final

from pydantic import BeforeValidator, Field, StringConstraints, field_validator

from pipeline.contracts import SEVERITIES, URGENCIES
from pipeline.programme.names import as_known
from pipeline.programme.sections import Section

__all__ = ["OF_CORES", "OF_FINDINGS", "Owner"]

# what an owner can be limited to: of the finding, and of its core
OF_FINDINGS: Final = ("rule", "family", "urgency", "severity")
OF_CORES: Final = ("register", "district", "road_authority")
_Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]
# a lone name is a list of one
_Names = Annotated[list[_Text], BeforeValidator(lambda written: [written] if isinstance(written, str) else written)]


class Owner(Section):
    """Who has to act on the findings that match everything that is named; without any, on all that are left."""

    name: Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=100)]
    rule: _Names = Field(default_factory=list)
    family: _Names = Field(default_factory=list)
    urgency: _Names = Field(default_factory=list)
    severity: _Names = Field(default_factory=list)
    register_name: _Names = Field(default_factory=list, alias="register")
    district: _Names = Field(default_factory=list)
    road_authority: _Names = Field(default_factory=list)

    @field_validator("urgency")
    @classmethod
    def _has_urgencies(cls, names: list[str]) -> list[str]:
        return [_one_of(name, URGENCIES) for name in names]

    @field_validator("severity")
    @classmethod
    def _has_severities(cls, names: list[str]) -> list[str]:
        return [_one_of(name, SEVERITIES) for name in names]

    @property
    def scope(self) -> dict[str, list[str]]:
        """What findings and their cores have to match, by column."""
        # "register" would hide a method of the base class
        fields = {key: "register_name" if key == "register" else key for key in (*OF_FINDINGS, *OF_CORES)}
        named: dict[str, list[str]] = {key: getattr(self, field) for key, field in fields.items()}
        return {key: names for key, names in named.items() if names}


def _one_of(name: str, known: tuple[str, ...]) -> str:
    found = as_known(name, known)
    if found is None:
        raise ValueError(f'found "{name}", expected one of: {", ".join(known)}')
    return found
