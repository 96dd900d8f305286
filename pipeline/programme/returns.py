"""The section ``[returns]``: the sheets of crews that came back, whose fields fill those that the registers lack."""

from typing import Literal

from pydantic import Field, field_validator

from pipeline.programme.sections import Section

__all__ = ["Returns"]


class Returns(Section):
    """The registers of returns, and how they are written."""

    paths: list[str] = Field(alias="path", min_length=1)
    layer: str | None = None  # sheet of a workbook
    encoding: str | None = None
    delimiter: str | None = Field(default=None, min_length=1, max_length=1)
    decimal: Literal[".", ","] | None = None
    day_first: bool | None = None  # None: as in the registers, else as the dates of each file show

    @field_validator("paths", mode="before")
    @classmethod
    def _lists_files(cls, written: object) -> object:
        paths = written if isinstance(written, list) else [written]
        if not all(isinstance(path, str) and path for path in paths):
            raise ValueError("expected the path of a file, or a list of paths")
        if twice := [path for path in paths if paths.count(path) > 1]:
            raise ValueError(f"found {twice[0]!r} twice, expected each file once")
        return paths
