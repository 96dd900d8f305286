"""What registers and crews record: a finding about the record, apart from all findings about the work."""

from typing import Any, Final

import pandas as pd

from pipeline.publish.report.names import LONGEST_NAME, column_label
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["record_tables"]

# more than this is in completeness.csv
_MOST_ROWS: Final = 60
_MOST_CREWS: Final = 30


def record_tables(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the values for the template of record completeness."""
    table = result.audit.completeness
    registers, crews = (table[table["by"].eq(by)] for by in ("register", "crew"))
    # what a crew left empty counts only where its register has the column, and an empty cell is no answer
    asked = crews[crews["share_filled"].notna()]
    by_crew = asked.groupby("group", sort=True)[["filled", "unreadable", "empty"]].sum()
    return {
        "record_columns": [_column(row, words) for row in registers.head(_MOST_ROWS).to_dict("records")],
        "record_columns_left": max(len(registers) - _MOST_ROWS, 0),
        "record_crews": [
            {
                "crew": words.own(name, LONGEST_NAME),
                **{key: words.number(count) for key, count in counts.items()},
                "share": words.percent(counts["filled"] / max(sum(counts.values()), 1), 1),
            }
            for name, counts in zip(by_crew.index, by_crew.head(_MOST_CREWS).to_dict("records"), strict=False)
        ],
        "record_crews_left": max(len(by_crew) - _MOST_CREWS, 0),
    }


def _column(row: dict[Any, Any], words: Words) -> dict[str, Any]:
    is_kept = row["kept"] != "no"
    share = row["share_filled"]
    otherwise = words.say("records.may_be_empty") if is_kept else ""
    return {
        "register": words.own(row["group"], LONGEST_NAME),
        "column": column_label(row["column"], words) or words.own(row["column"]),
        "among": words.say(f"records.{row['applies_to']}"),
        "cores": words.number(row["cores"]),
        "kept": words.say("format.yes" if is_kept else "format.no"),
        **{name: words.number(row[name]) if is_kept else "" for name in ("unreadable", "empty")},
        "share": words.percent(share, 1) if pd.notna(share) else otherwise,
    }
