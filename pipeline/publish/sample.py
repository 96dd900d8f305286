"""The files of a sample: the sheet to fill in and its record; later the results and their record."""

from pathlib import Path
from typing import Any, Final

import pandas as pd

from pipeline.errors import OutputError
from pipeline.publish.folder import lay_files
from pipeline.publish.record import as_json
from pipeline.publish.tables import write_csv

__all__ = ["RESULTS", "SHEET", "publish_results", "publish_sample"]

SHEET: Final = ("sample.csv", "sample.json")
RESULTS: Final = ("results.csv", "results.json")


def publish_sample(sheet: pd.DataFrame, record: dict[str, Any], folder: Path) -> None:
    """Write ``sample.csv`` and ``sample.json`` into a folder.

    Raises
    ------
    OutputError
        The folder cannot be written to, or already has another sample, or this one filled in: it is not replaced.
    """
    with lay_files(folder) as draft:
        write_csv(sheet, draft / SHEET[0])
        (draft / SHEET[1]).write_text(as_json(record), encoding="utf-8", newline="\n")
        for name in SHEET:
            present = folder / name
            if present.exists() and present.read_bytes() != (draft / name).read_bytes():
                raise OutputError(
                    f"{present}: already exists and is different: another sample, or one that was filled in. "
                    "Nothing was replaced. Choose another folder with --out."
                )


def publish_results(rows: pd.DataFrame, record: dict[str, Any], folder: Path) -> None:
    """Write ``results.csv`` and ``results.json`` into a folder, replacing earlier ones.

    Raises
    ------
    OutputError
        The folder cannot be written to.
    """
    with lay_files(folder) as draft:
        write_csv(rows, draft / RESULTS[0])
        (draft / RESULTS[1]).write_text(as_json(record), encoding="utf-8", newline="\n")
