"""A finished run's order lines, read back, every cell text."""

import pandas as pd
import pyarrow as pa
from pyarrow import csv as arrow_csv

from pipeline.contracts import ORDER_COLUMNS
from pipeline.readback.findings import damaged
from pipeline.readback.runs import Run
from pipeline.spreadsheet_text import as_written

__all__ = ["read_order_lines"]


def read_order_lines(run: Run) -> pd.DataFrame:
    """Return the lines of ``orders.csv``.

    Raises
    ------
    InputError
        The file is missing or damaged.
    """
    file = run.folder / "orders.csv"
    try:
        table: pd.DataFrame = arrow_csv.read_csv(
            file,
            parse_options=arrow_csv.ParseOptions(newlines_in_values=True),
            convert_options=arrow_csv.ConvertOptions(
                column_types=dict.fromkeys(ORDER_COLUMNS, pa.string()),
                include_columns=list(ORDER_COLUMNS),
            ),
        ).to_pandas()
    except (OSError, ValueError, KeyError, pa.ArrowException) as error:
        raise damaged(file, str(error)) from error
    return table.astype("str").apply(as_written)
