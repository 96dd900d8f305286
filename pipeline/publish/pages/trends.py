"""Trends as small charts side by side, each with its own scale from zero."""

import datetime as dt
from itertools import pairwise
from typing import Final

import pandas as pd
from markupsafe import Markup

from pipeline.publish.looks import COLOURS, INK
from pipeline.publish.pages.svg import line, named_chart, symbol_beside, text
from pipeline.publish.words import Words

__all__ = ["trend_chart"]

# from the top of a chart to its highest value, whose number is above it; and from there to zero, in pixels
_TOP: Final = 44
_HIGH: Final = 56
# where the first and the last day are, in percent
_LEFT: Final = 3.0
_RIGHT: Final = 97.0
# more dots than this along a line would run together
_MOST_DOTS: Final = 24


def trend_chart(values: pd.Series, name: str, title: str, words: Words, status: str | None = None) -> Markup | None:
    """Return one measure over days drawn to scale, from zero, its first and last value written; None without values.

    Parameters
    ----------
    values
        N numbers; the index holds ISO dates in order. Missing ones are left out.
    name
        Id of the chart on the page.
    title
        What is measured.
    words
        The language.
    status
        The status whose symbol precedes the title; None for none.
    """
    known = values.dropna()
    if known.empty:
        return None
    numbers = [float(value) for value in known]
    most, base = max(*numbers, 1.0), _TOP + _HIGH
    days = [dt.date.fromisoformat(str(day)).toordinal() for day in known.index]
    spots = [_LEFT + (_RIGHT - _LEFT) * (day - days[0]) / max(days[-1] - days[0], 1) for day in days]
    levels = [base - _HIGH * number / most for number in numbers]
    digits = 0 if all(number.is_integer() for number in numbers) else 1
    shown = [words.number(number, digits) for number in numbers]
    named = [words.day(str(day)) for day in known.index]
    ends = (0, -1) if len(numbers) > 1 else (0,)
    points = [words.plainly("chart.point", n=number, point=day) for number, day in zip(shown, named, strict=True)]
    parts = [
        text(0, 13, title, "start") if status is None else symbol_beside(0, 8, status, title, 7),
        *(line(x, base, x, level, COLOURS["chart-rule"]) for x, level in zip(spots, levels, strict=True)),
        line(0, base, 100, base, INK),
        *(line(*start, *end, INK, ' stroke-width="2"') for start, end in pairwise(zip(spots, levels, strict=True))),
        *_dots(spots, levels),
    ]
    for at in ends:
        x, anchor = (0, "start") if at == 0 else (100, "end")
        parts.append(text(x, levels[at] - 8, shown[at], anchor, has_halo=True))
        parts.append(text(x, base + 17, named[at], anchor))
    description = words.plainly("chart.entry", name=title, values=", ".join(points))
    return named_chart(name, base + 22, title, description, parts)


def _dots(spots: list[float], levels: list[float]) -> list[str]:
    """Return a dot per day, or for the last day alone where they would run together."""
    dots = [f'<circle cx="{x:.2f}%" cy="{y:.1f}" r="3" fill="{INK}"/>' for x, y in zip(spots, levels, strict=True)]
    return dots if len(dots) <= _MOST_DOTS else dots[-1:]
