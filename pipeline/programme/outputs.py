"""The outputs of a run that a programme may leave out or have in parts; tables and record are always written."""

from typing import Final, Literal, get_args
from urllib.parse import quote

from pydantic import Field, field_validator, model_validator

from pipeline.databases import address_of
from pipeline.errors import SettingsError
from pipeline.programme.sections import Count, Section

__all__ = ["DATABASE", "OUTPUTS", "PAPERS", "Database", "Output", "Publish", "refuse_pdf_of_nothing"]

Output = Literal[
    "crew-sheets.html", "days", "orders.xlsx", "cores.gpkg", "map.html", "report.html", "handover", "basis"
]
OUTPUTS: Final[tuple[Output, ...]] = get_args(Output)
# the pages that a PDF can be made of
PAPERS: Final[tuple[Output, ...]] = ("report.html", "crew-sheets.html")
# the key of a database in a programme file
DATABASE: Final = "publish.database"
# PostgreSQL cuts longer names
_LONGEST_NAME: Final = 63


class Database(Section):
    """A database that takes the run too, and the schema of its tables there."""

    path: str | None = None
    service: str | None = Field(default=None, min_length=1)
    schema_name: str = Field(default="kerfbook", min_length=1, alias="schema")

    @field_validator("service")
    @classmethod
    def _is_a_name_of_a_service(cls, name: str | None) -> str | None:
        if name is not None and ("@" in name or "://" in name):
            raise ValueError("found an address, expected the name of a service in ~/.pg_service.conf")
        return name

    @field_validator("schema_name")
    @classmethod
    def _is_a_name_of_a_schema(cls, name: str) -> str:
        if len(name.encode()) > _LONGEST_NAME or "\0" in name or name.startswith("pg_") or name == "information_schema":
            raise ValueError(
                f"expected the name of a schema: at most {_LONGEST_NAME} bytes, and none of the server's own (pg_...)"
            )
        return name

    @model_validator(mode="after")
    def _has_one_address(self) -> "Database":
        if (self.path is None) == (self.service is None):
            found = "neither" if self.path is None else "both"
            raise ValueError(
                f'found {found} of path and service, expected one, such as path = "postgresql://host/town"'
            )
        try:
            address_of(self.address, DATABASE)
        except SettingsError as error:
            reason = str(error).removeprefix(f"{DATABASE}: ")
            raise ValueError(reason if reason.startswith("found ") else f"found an unusable path: {reason}") from None
        return self

    @property
    def address(self) -> str:
        """The address of the database."""
        return self.path or f"postgresql:///?service={quote(self.service or '', safe='')}"

    @property
    def place(self) -> str:
        """The address as people may see it."""
        return address_of(self.address, DATABASE).shown

    @property
    def shown(self) -> str:
        """The address as people may see it, and the schema."""
        return f"{self.place}, schema {self.schema_name}"


class Publish(Section):
    """Which outputs are written, besides the tables that later runs and other commands read, and which in parts."""

    outputs: list[Output] = Field(default=list(OUTPUTS))
    database: Database | None = None
    map: Literal["by size", "one file", "by district"] = "by size"
    largest_map: Count = 2_000_000  # cores; more are mapped by district
    geopackage: Literal["one file", "by district"] = "one file"
    parquet: Literal["one file", "in parts"] = "one file"
    parquet_rows: Count = 1_000_000  # of a part

    @field_validator("outputs")
    @classmethod
    def _names_each_once(cls, outputs: list[Output]) -> list[Output]:
        if twice := [name for name in OUTPUTS if outputs.count(name) > 1]:
            raise ValueError(f"found {twice[0]!r} twice, expected each output once")
        return outputs

    def writes(self, output: Output) -> bool:
        """Return whether an output is written."""
        return output in self.outputs

    def maps_by_district(self, cores: int, *, has_districts: bool) -> bool:
        """Return whether so many cores get a map per district, not one for all."""
        return has_districts and (self.map == "by district" or (self.map == "by size" and cores > self.largest_map))

    @property
    def needs_districts(self) -> str:
        """The key that asks for a part per district; empty where none does."""
        return next((name for name in ("map", "geopackage") if getattr(self, name) == "by district"), "")

    @property
    def left_out(self) -> list[Output]:
        """The outputs that the programme does not ask for."""
        return [name for name in OUTPUTS if name not in self.outputs]


def refuse_pdf_of_nothing(publish: Publish, where: str) -> None:
    """Raise a SettingsError if no output is written that a PDF could be made of."""
    if not any(map(publish.writes, PAPERS)):
        raise SettingsError(
            f"{where}: publish.outputs: found neither report.html nor crew-sheets.html, expected at least one of them "
            "for --pdf. Add one to outputs in [publish], or leave --pdf out."
        )
