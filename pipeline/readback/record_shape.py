"""The shape of a run's record: what an entry of ``run.json`` is, wherever a reader of runs relies on it."""

from typing import Annotated, Any, Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import BaseModel, ConfigDict, Field, ValidationError, ValidationInfo, field_validator
from pyproj import CRS
from pyproj.exceptions import CRSError

from pipeline.contracts import SEVERITIES, STATUSES
from pipeline.programme.setting_errors import sentences

__all__ = ["COUNTS", "refuse_wrong_rules", "wrong_shape"]

# the counts that a record has, by its entry
COUNTS: Final = {
    "account": ("rows_read", *STATUSES, "unplaced"),
    "findings_by_severity": SEVERITIES,
}

# what every version that kept the working behind its answers wrote
_WITH_BASIS: Final = ("crs", "programme_file", "units_of_bare_numbers")
_SETTINGS_WITH_BASIS: Final = ("programme", "matching")


# more than any file has rows, and no more than every reader of numbers takes
_Count = Annotated[int, Field(ge=0, le=1 << 53)]


class _Entries(BaseModel):
    """Entries of a record; those of other versions are left as they are."""

    model_config = ConfigDict(strict=True, extra="allow")


class _Input(_Entries):
    section: str
    path: str = ""
    sha256: str


class _Register(_Entries):
    name: str | None = None
    columns: dict[str, str | None]
    units: dict[str, str] = {}
    x: str | None = None
    y: str | None = None
    position: str | None = None


class _Programme(_Entries):
    language: str = Field("en", pattern=r"^[a-z]{2,3}(-[A-Za-z0-9]+)*$")
    timezone: str = "UTC"

    @field_validator("timezone")
    @classmethod
    def _is_a_zone(cls, zone: str) -> str:
        try:
            ZoneInfo(zone)
        except (ZoneInfoNotFoundError, OSError, ValueError) as error:
            raise ValueError("expected a time zone") from error
        return zone


class _Settings(_Entries):
    cores: _Register | list[_Register]
    programme: _Programme = _Programme()
    matching: dict[str, Any] = {}

    @field_validator("cores")
    @classmethod
    def _has_a_register(cls, cores: _Register | list[_Register]) -> _Register | list[_Register]:
        if cores == []:
            raise ValueError("expected at least one register")
        return cores


class _File(_Entries):
    name: str
    sha256: str = ""


class _Rule(_Entries):
    rule: str
    title: str = ""
    severity: str = ""
    urgency: str = ""
    limits: str = ""
    source: str = ""
    needs: str = ""
    applies_to: str = ""
    assessed: int = 0
    found: int = 0
    at_limit: int = 0
    not_assessed: int = 0
    not_applicable: int = 0


class _Threshold(_Entries):
    rule: str
    threshold: str
    value: str = ""
    where: str = ""
    origin: str = ""
    source: str = ""


class _Orders(_Entries):
    bags_needed: float | int | None = None


class _Basis(_Entries):
    format: int
    sha256: dict[str, str] = {}


class _Rules(_Entries):
    rules: list[_Rule] = Field(min_length=1)
    thresholds: list[_Threshold]


class _Record(_Entries):
    programme: str
    as_of: str
    inputs: list[_Input]
    settings: _Settings
    account: dict[str, _Count]
    findings_by_severity: dict[str, _Count]
    rows_of_findings: int = 0
    run: str = ""
    crs: str = ""
    programme_file: _File | None = None
    units_of_bare_numbers: dict[str, Any] = {}
    catalogue_overridden: dict[str, Any] = {}
    not_asked_for: list[str] = []
    rules: list[_Rule] = []
    thresholds: list[_Threshold] = []
    orders: _Orders = _Orders()
    versions: dict[str, str | None] = {}
    basis: _Basis | None = None
    corrected_cells: int = 0

    @field_validator("account", "findings_by_severity")
    @classmethod
    def _has_its_counts(cls, counts: dict[str, int], entry: ValidationInfo) -> dict[str, int]:
        lost = [name for name in COUNTS[str(entry.field_name)] if name not in counts]
        if lost:
            raise ValueError(f"expected a count of {lost[0]!r}")
        return counts

    @field_validator("crs")
    @classmethod
    def _is_a_crs(cls, crs: str) -> str:
        try:
            CRS.from_user_input(crs)
        except CRSError as error:
            raise ValueError("expected a coordinate system") from error
        return crs


def wrong_shape(record: object) -> str | None:
    """Return what of a record is not as an audit writes it, in a sentence; None where all is."""
    try:
        read = _Record.model_validate(record)
    except ValidationError as error:
        return sentences(error, _Record)[0].rstrip(".")
    if read.basis is None:
        return None
    lost = [name for name in _WITH_BASIS if name not in read.model_fields_set]
    lost += [f"settings.{name}" for name in _SETTINGS_WITH_BASIS if name not in read.settings.model_fields_set]
    if read.programme_file is None or "sha256" not in read.programme_file.model_fields_set:
        lost.append("programme_file.sha256")
    lost += ["inputs.path" for file in read.inputs if "path" not in file.model_fields_set]
    return f"{lost[0]}: missing, and required" if lost else None


def refuse_wrong_rules(record: object) -> None:
    """Stop where a record's rules are not as an audit writes them; the rest of it may be anything.

    Raises
    ------
    ValueError
        They are not, with the reason.
    """
    try:
        _Rules.model_validate(record)
    except ValidationError as error:
        raise ValueError(sentences(error, _Rules)[0].rstrip(".")) from None
