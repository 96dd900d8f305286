"""The order of day and month, serial numbers and the decimal mark: from cells that can be read in one way only."""

from collections.abc import Iterable
from typing import Final

import pandas as pd

from pipeline.contracts import is_missing
from pipeline.intake.cells.date_order import SLIPS, count_orders, total_order
from pipeline.intake.cells.dates import read_dates
from pipeline.intake.cells.serial_dates import could_be_serial, serial_times
from pipeline.propose.cell_kinds import examples_of
from pipeline.propose.questions import PLACEHOLDER, Choice, Question, Section, one_line
from pipeline.wording import counted

__all__ = ["has_times", "propose_date_order", "propose_decimal", "propose_serial_dates", "propose_timezone"]

# fewer dates that can be read in one order only may be slips
_ENOUGH: Final = 3
_COMMA: Final = r"[0-9],[0-9]{1,2}(?![0-9])|[0-9],[0-9]{4,}|(?<![0-9,.])0,[0-9]+|[0-9]\.[0-9]{3},[0-9]"
_POINT: Final = r"[0-9]\.[0-9]{1,2}(?![0-9.])|[0-9]\.[0-9]{4,}|(?<![0-9,.])0\.[0-9]+|[0-9],[0-9]{3}\.[0-9]"
_TIME: Final = r"[0-9]{1,2}:[0-9]{2}"
_OFFSET: Final = r"(?:[Zz]|[+-][0-9]{2}:?[0-9]{2})\s*$"
_OPEN: Final = r"(?<![0-9.,])[1-9][0-9]{0,2}[.,][0-9]{3}(?![0-9.,])"


def propose_date_order(section: Section, columns: Iterable[pd.Series]) -> None:
    """Add ``day_first``: settled by dates that can be read in one order only, else a question."""
    texts = list(columns)
    order = total_order(count_orders(text) for text in texts)
    if not order.day_first + order.month_first + order.either:
        return
    few = max(SLIPS, (order.day_first + order.month_first) // 50)
    for day_first, agree, against, example in (
        (True, order.day_first, order.month_first, order.day_first_example),
        (False, order.month_first, order.day_first, order.month_first_example),
    ):
        if agree >= _ENOUGH and against <= few and agree > 10 * against:
            dates = counted(agree, "date")
            note = f'{dates} can only be read this way, such as "{one_line(example)}"'
            section.add("", "day_first", day_first, note if not against else f"{note}; {against} only the other way")
            return
    open_ones = pd.concat(texts)
    open_ones = open_ones[read_dates(open_ones, "UTC", day_first=None).problem.eq("day or month first")]
    examples = examples_of(open_ones.str.strip())
    choices = tuple(
        Choice(
            "true" if day_first else "false",
            ", ".join(_read(example, day_first=day_first) for example in examples),
            {("", "day_first"): day_first},
        )
        for day_first in (True, False)
    )
    why = "every date can be read in both orders"
    if order.day_first or order.month_first:
        why = f"{counted(order.day_first, 'date')} can only be day first and {order.month_first:,} only month first"
    section.ask(
        Question(f"Does the day come before the month in dates? {why[0].upper()}{why[1:]}.", choices, tuple(examples))
    )


def _read(example: str, *, day_first: bool) -> str:
    return _in_words(read_dates(pd.Series([example], dtype="str"), "UTC", day_first=day_first).instants.iloc[0])


def _in_words(day: pd.Timestamp) -> str:
    return "not a date" if pd.isna(day) else f"{day.day} {day:%b %Y}"


def propose_serial_dates(section: Section, columns: Iterable[pd.Series]) -> None:
    """Add a question where the dates of a text are serial numbers of a spreadsheet."""
    text = pd.concat(list(columns))
    numbers = text[could_be_serial(text).fillna(value=False) & ~is_missing(text)]
    if not len(numbers):
        return
    examples = examples_of(numbers.str.strip())
    choices = tuple(
        Choice(
            f'"{kind}"',
            ", ".join(
                _in_words(serial_times(pd.Series([example], dtype="str"), is_1904=is_1904).iloc[0])
                for example in examples
            ),
            {("", "dates"): kind},
        )
        for kind, is_1904 in (("serial", False), ("serial 1904", True))
    )
    found = f"{counted(len(numbers), 'date')} {'is a bare number' if len(numbers) == 1 else 'are bare numbers'}"
    section.ask(
        Question(
            f"Are bare numbers in the date columns the serial numbers of a spreadsheet? {found}; spreadsheets "
            "count days from 1900 or from 1904.",
            choices,
            tuple(examples),
        )
    )


def has_times(columns: Iterable[pd.Series]) -> pd.Series:
    """Return the cells that give a time of day without its offset from UTC."""
    text = pd.concat(list(columns)).dropna().drop_duplicates()
    found: pd.Series = text[text.str.contains(_TIME, regex=True) & ~text.str.contains(_OFFSET, regex=True)]
    return found


def propose_timezone(section: Section, columns: Iterable[pd.Series]) -> None:
    """Add a question for the time zone where cells give a time of day without its offset from UTC."""
    times = has_times(columns)
    if len(times):
        section.ask(
            Question(
                "Which time zone are the times of this register in? Without an answer, it is the programme's.",
                (
                    Choice(
                        f'"{PLACEHOLDER}"',
                        'an IANA time zone, such as "America/Toronto"',
                        {("", "timezone"): PLACEHOLDER},
                    ),
                ),
                tuple(examples_of(times)),
            )
        )


def propose_decimal(section: Section, columns: Iterable[pd.Series]) -> None:
    """Add ``decimal`` where numbers such as "1,200" can be read in two ways: settled by others, else a question."""
    text = pd.concat([pd.Series([], dtype="str"), *columns]).dropna().drop_duplicates()
    ambiguous = text[text.str.contains(_OPEN, regex=True)]
    commas, points = (text[text.str.contains(pattern, regex=True)] for pattern in (_COMMA, _POINT))
    with_comma = ambiguous[ambiguous.str.contains(",", regex=False)]
    if len(commas) and not len(points) and len(ambiguous):
        section.add("", "decimal", ",", f'as in "{one_line(commas.iloc[0])}"')
    elif len(points) and not len(commas) and len(with_comma):
        section.add("", "decimal", ".", f'as in "{one_line(points.iloc[0])}"')
    elif len(with_comma) and not len(points):
        examples = examples_of(with_comma)
        choices = tuple(
            Choice(
                f'"{mark}"',
                ", ".join(example.replace(",", other) for example in examples),
                {("", "decimal"): mark},
            )
            for mark, other in ((".", ""), (",", "."))
        )
        section.ask(
            Question(
                "Which character is the decimal mark? A comma before three digits may separate thousands.",
                choices,
                tuple(examples),
            )
        )
