"""Charts as inline SVG, each with a title and a description that gives its numbers in words.

Widths are in percent and letters in pixels, so a chart is as wide as the page and as legible on a phone as on paper.
Text from a register must be passed through ``plain_text`` first; every text is escaped here.
"""

import math
from itertools import pairwise
from typing import Final

import pandas as pd
from markupsafe import Markup

from pipeline.publish.looks import COLOURS, DISTRICT_LINE, HALO, INK, STATUS_LOOKS
from pipeline.publish.pages.svg import (
    LETTER,
    LETTER_WIDE,
    NARROWEST,
    line,
    named_chart,
    status_shape,
    symbol_beside,
    text,
)
from pipeline.publish.words import Words

__all__ = ["columns_chart", "curves", "interval_bar", "mark", "stacked_bars", "status_bar"]

_BAR: Final = 18
_LABEL: Final = 18
_GAP: Final = 8
_RULE: Final = COLOURS["chart-rule"]
# a number is written in its piece of a bar if the piece is this many percent wide per letter
_LETTER_SHARE: Final = 100 * LETTER_WIDE / NARROWEST
# a symbol and the gaps about it, beside a bar, in pixels
_SYMBOL: Final = 24
_HIGH: Final = 120
# between the names at the ends of lines, in pixels
_NAME_STEP: Final = 16
# where lines start and end; their names are to the right of the end
_LEFT: Final = 2.0
_RIGHT: Final = 70.0
_DASHES: Final = ("", ' stroke-dasharray="7 4"', ' stroke-dasharray="2 4"')


def mark(status: str) -> Markup:
    """Return the symbol of a status, to be shown beside its name."""
    start = '<svg class="mark" viewBox="-11 -11 22 22" width="14" height="14" aria-hidden="true">'
    return Markup(f"{start}{status_shape(status)}</svg>")  # noqa: S704 - constants


def status_bar(counts: dict[str, int], name: str, words: Words) -> Markup:
    """Return one bar of all cores, with a piece per status."""
    parts = _pieces(counts, 1, 26, _per_core([counts], words), words)
    description = words.plainly("chart.status_desc", counts=_counted(counts, words))
    return named_chart(name, 28, words.plainly("chart.status"), description, parts)


def stacked_bars(counts: pd.DataFrame, name: str, title: str, words: Words) -> Markup:
    """Return one bar per row: its name above, a piece per status, its number inside or beside the bar.

    Parameters
    ----------
    counts
        N rows with one column per status; the index holds the names, ready to be shown.
    name
        Id of the chart on the page.
    title
        What the chart shows.
    words
        The language.
    """
    bars = [{str(status): int(number) for status, number in row.items()} for row in counts.to_dict("records")]
    scale = _per_core(bars, words)
    step = _LABEL + _BAR + _GAP
    parts, entries = [], []
    for position, (group, numbers) in enumerate(zip(counts.index, bars, strict=True)):
        top = position * step
        parts.append(text(0, top + 13, str(group), "start"))
        parts.append(text(100, top + 13, words.number(sum(numbers.values())), "end"))
        parts += _pieces(numbers, top + _LABEL, _BAR, scale, words)
        entries.append(words.plainly("chart.entry", name=group, values=_counted(numbers, words)))
    return named_chart(name, len(counts) * step, title, "; ".join(entries), parts)


def _per_core(bars: list[dict[str, int]], words: Words) -> float:
    """Return the width of one core, in percent, so that every bar fits with the numbers beside it."""
    most = max([1, *(sum(counts.values()) for counts in bars)])
    scale = 100 / most
    # a narrower bar may have more numbers beside it: at most all three
    for _ in STATUS_LOOKS:
        rooms = [(sum(counts.values()), _room_beside(counts, scale, words)) for counts in bars]
        scale = min([scale, *((100 - room) / cores for cores, room in rooms if cores and room)])
    return scale


def _fits(number: int, scale: float, words: Words) -> bool:
    """Return whether a number can be written in its piece of a bar."""
    return number * scale > _LETTER_SHARE * (len(words.number(number)) + 1)


def _room_beside(counts: dict[str, int], scale: float, words: Words) -> float:
    """Return the width of the numbers beside a bar, in percent of the narrowest page."""
    beside = [number for number in counts.values() if number and not _fits(number, scale, words)]
    return 100 / NARROWEST * sum(_SYMBOL + LETTER_WIDE * len(words.number(number)) for number in beside)


def _pieces(counts: dict[str, int], top: float, high: float, scale: float, words: Words) -> list[str]:
    """Return a bar's pieces, each with its number inside, or beside the bar with its symbol where it is too narrow."""
    parts, beside, left = [], [], 0.0
    for status, number in counts.items():
        wide = scale * number
        if number:
            look = STATUS_LOOKS[status]
            parts.append(
                f'<rect x="{left:.2f}%" y="{top:g}" width="{wide:.2f}%" height="{high:g}" fill="{look.fill}" '
                f'stroke="{look.outline}"/>'
            )
            shown = words.number(number)
            if _fits(number, scale, words):
                parts.append(text(left + wide / 2, top + high / 2 + 4.5, shown, "middle", look.letters))
            else:
                beside.append((status, shown))
        left += wide
    aside = _SYMBOL / 2
    for status, shown in beside:
        parts.append(symbol_beside(left, top + high / 2, status, shown, aside))
        aside += _SYMBOL + LETTER_WIDE * len(shown)
    return parts


def _counted(counts: dict[str, int], words: Words) -> str:
    return ", ".join(
        words.plainly("chart.value", n=number, name=words.plainly(f"status.{status}"))
        for status, number in counts.items()
    )


def columns_chart(counts: pd.Series, name: str, title: str, fill: str, words: Words) -> Markup:
    """Return one column per entry, with its number above and its name below."""
    most = max(int(counts.max()), 1)
    top = 20
    step = 100 / max(len(counts), 1)
    base = top + _HIGH
    parts, entries = [], []
    for position, (group, number) in enumerate(counts.items()):
        tall = _HIGH * int(number) / most
        middle = (position + 0.5) * step
        parts.append(
            f'<rect x="{middle - step * 0.34:.2f}%" y="{base - tall:.1f}" width="{step * 0.68:.2f}%" '
            f'height="{tall:.1f}" fill="{fill}" stroke="{INK}"/>'
        )
        parts.append(text(middle, base - tall - 5, words.number(number), "middle"))
        parts.append(text(middle, base + 17, str(group), "middle"))
        entries.append(f"{group}: {words.number(number)}")
    parts.append(line(0, base, 100, base, INK))
    return named_chart(name, base + 24, title, "; ".join(entries), parts)


def curves(counts: pd.DataFrame, name: str, title: str, across: str, words: Words) -> Markup:
    """Return one line per column over the rows in order, each with its own dashes and its name at its end."""
    most = max(int(counts.to_numpy().max()), 1)
    top = 20
    base = top + _HIGH
    spots = [_LEFT + (_RIGHT - _LEFT) * position / max(len(counts) - 1, 1) for position in range(len(counts))]
    parts = _levels(most, top, _RIGHT, words)
    parts += _axis_names(spots, [str(row) for row in counts.index], base)
    parts.append(text(_RIGHT / 2, base + 36, across, "middle"))
    entries, ends = [], []
    for number, column in enumerate(counts.columns):
        values = [int(value) for value in counts[column]]
        levels = [base - _HIGH * value / most for value in values]
        parts += _path(spots, levels, number)
        ends.append((levels[-1] + 4, str(column)))
        entries.append(_series(str(column), values, list(map(str, counts.index)), words))
    return named_chart(name, base + 44, title, "; ".join(entries), parts + _end_names(ends, base))


def _levels(most: int, top: float, right: float, words: Words) -> list[str]:
    """Return lines at zero, half and full height, with the number on the upper two."""
    parts = []
    for share in (0, 0.5, 1):
        level = top + _HIGH * (1 - share)
        parts.append(line(0, level, right, level, _RULE if share else INK))
        if share:
            parts.append(text(0, level - 4, words.number(round(most * share)), "start"))
    return parts


def _axis_names(spots: list[float], names: list[str], base: float) -> list[str]:
    """Return the names below an axis: the last one always, the others where they keep clear of it and each other."""
    room = 100 * (LETTER_WIDE * max(map(len, names), default=0) + 10) / NARROWEST
    parts: list[str] = []
    taken = -math.inf
    last = len(spots) - 1
    for position, (x, name) in enumerate(zip(spots, names, strict=True)):
        if position == last or (x - taken >= room and spots[last] - x >= room):
            anchor = "start" if x == _LEFT else "middle"
            parts.append(text(0 if x == _LEFT else x, base + 18, name, anchor))
            # the first name starts at its point; the others are centred on theirs
            taken = x + (room / 2 if x == _LEFT else 0)
    return parts


def _path(spots: list[float], levels: list[float], number: int) -> list[str]:
    dashes = _DASHES[number % len(_DASHES)]
    ends = list(zip(spots, levels, strict=True))
    return [line(x, y, to_x, to_y, INK, f' stroke-width="2"{dashes}') for (x, y), (to_x, to_y) in pairwise(ends)]


def _end_names(ends: list[tuple[float, str]], base: float) -> list[str]:
    """Return the names at the ends of lines, clear of each other and of the names below the axis."""
    ranked = sorted(ends, reverse=True)
    levels, below = [], base + 20
    for level, _ in ranked:
        below = min(level, below - _NAME_STEP)
        levels.append(below)
    # what that pushed above the chart comes down again
    parts, above = [], -math.inf
    for level, (_, name) in zip(reversed(levels), reversed(ranked), strict=True):
        above = max(level, above + _NAME_STEP, LETTER)
        parts.append(text(_RIGHT + 3, above, name, "start"))
    return parts[::-1]


def _series(name: str, values: list[int], points: list[str], words: Words) -> str:
    """Return a line's numbers in words."""
    shown = [words.plainly("chart.point", n=value, point=point) for point, value in zip(points, values, strict=True)]
    return words.plainly("chart.entry", name=name, values=", ".join(shown))


def interval_bar(low: float, rate: float, high: float, most: float, *, is_filled: bool) -> Markup:
    """Return a share drawn as a dot on its interval, for a table row that gives both in numbers.

    Parameters
    ----------
    low, rate, high
        Shares.
    most
        The share at the right end.
    is_filled
        Whether the dot is filled, as it is for a group that differs from the others.
    """
    ends = [4 + 92 * min(share / most, 1.0) for share in (low, rate, high)]
    fill = INK if is_filled else HALO
    ground, reach = (
        line(4, 7, 96, 7, COLOURS["rule"]),
        line(ends[0], 7, ends[2], 7, DISTRICT_LINE, ' stroke-width="4"'),
    )
    return Markup(  # noqa: S704 - numbers alone
        f'<svg class="span" width="100%" height="14" aria-hidden="true">{ground}{reach}'
        f'<circle cx="{ends[1]:.2f}%" cy="7" r="4.5" fill="{fill}" stroke="{INK}" stroke-width="1.5"/></svg>'
    )
