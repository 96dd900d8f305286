"""The section ``[returns]``: the sheets of crews that came back, whose fields fill those that the registers lack."""

from typing import Literal

from pydantic import Field

from pipeline.programme.sections import FilePaths, Section

__all__ = ["Returns"]


class Returns(Section):
    """The registers of returns, and how they are written."""

    paths: FilePaths = Field(alias="path", min_length=1)
    layer: str | None = None  # sheet of a workbook
    encoding: str | None = None
    delimiter: str | None = Field(default=None, min_length=1, max_length=1)
    decimal: Literal[".", ","] | None = None
    day_first: bool | None = None  # None: as in the registers, else as the dates of each file show
