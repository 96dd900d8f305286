"""The table of findings of a finished run, read back; of any version."""

from pathlib import Path
from typing import Final

import pandas as pd
import pyarrow as pa
from pyarrow import csv as arrow_csv

from pipeline.contracts import FINDING_COLUMNS
from pipeline.errors import InputError
from pipeline.ledger import fingerprints_as_written
from pipeline.spreadsheet_text import as_written

__all__ = ["damaged", "read_findings"]

# the columns that every version writes; a later one is empty in an older run
_NEEDED: Final = ("row", "core_id", "rule", "severity", "message", "evidence")


def read_findings(file: Path, rows: int) -> pd.DataFrame:
    """Return the table of findings, FINDING_COLUMNS, every cell text.

    Parameters
    ----------
    file
        ``findings.csv`` of a run.
    rows
        The number of findings that the run's record counts.

    Returns
    -------
    pandas.DataFrame
        Of a run that gave findings no fingerprints, they are worked out from rule, core id and evidence.

    Raises
    ------
    InputError
        The file is missing, incomplete or damaged.
    """
    try:
        raw = file.read_bytes()
        # a file that ends within a line is incomplete
        if not raw.endswith(b"\n"):
            raise damaged(file, "its last line is incomplete")
        parsing = arrow_csv.ParseOptions(newlines_in_values=True)
        there = arrow_csv.open_csv(pa.BufferReader(raw), parse_options=parsing).schema.names
        table: pd.DataFrame = arrow_csv.read_csv(
            pa.BufferReader(raw),
            parse_options=parsing,
            convert_options=arrow_csv.ConvertOptions(
                column_types=dict.fromkeys(FINDING_COLUMNS, pa.string()),
                include_columns=[name for name in FINDING_COLUMNS if name in there or name in _NEEDED],
                strings_can_be_null=True,
                null_values=[""],
                quoted_strings_can_be_null=False,
            ),
        ).to_pandas()
    except (OSError, ValueError, KeyError, pa.ArrowException) as error:
        raise damaged(file, str(error)) from error
    if len(table) != rows:
        raise damaged(file, f"{len(table)} findings, while run.json counts {rows}")
    table = table.astype("str").apply(as_written)
    if "fingerprint" not in table:
        table = table.assign(fingerprint=fingerprints_as_written(table))
    return table.reindex(columns=[*FINDING_COLUMNS]).astype("str")


def damaged(file: Path, found: str) -> InputError:
    """Return the error for a file of a run that is not as the audit wrote it; ``found`` says what is wrong with it."""
    return InputError(
        f"{file}: cannot be used ({found.rstrip('.')}), expected the file as the audit wrote it. Run the audit again, "
        "or copy the folder again."
    )
