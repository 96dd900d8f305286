"""The section ``[decisions]``: the files in which people answer findings."""

from pydantic import Field

from pipeline.programme.sections import FilePaths, Section

__all__ = ["Decisions"]


class Decisions(Section):
    """The files of decisions, and how they are written."""

    paths: FilePaths = Field(alias="path", min_length=1)
    layer: str | None = None  # sheet of a workbook
    encoding: str | None = None
    delimiter: str | None = Field(default=None, min_length=1, max_length=1)
    header_row: int | None = Field(default=None, ge=1)  # None: the row that holds `decision`
    day_first: bool | None = None  # None: as in the registers, else as the dates of each file show
