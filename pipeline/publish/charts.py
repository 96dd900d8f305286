"""Charts as inline SVG, each with a title and a description that says the same in words."""

import datetime as dt
from typing import Final

import pandas as pd
from markupsafe import Markup, escape

from pipeline.publish.looks import STATUS_LOOKS

__all__ = ["columns_chart", "curves", "intervals", "mark", "over_time", "stacked_bars"]

_BAR: Final = 20
_GAP: Final = 10
_WIDTH: Final = 640
_LABEL: Final = 170
_TOTAL: Final = 60
_LONGEST_LABEL: Final = 24
# a date and the space beside it
_DATE_WIDTH: Final = 90
# with more points than this along a line, marks would run together
_MOST_MARKS: Final = 40
_DASHES: Final = ("", ' stroke-dasharray="7 4"', ' stroke-dasharray="2 4"')
# the same shapes as on the map: colour is never the only cue
_SHAPES: Final = {
    "flagged": '<path d="M7 1 13 12.5H1Z" fill="{fill}" stroke="{outline}"/>',
    "pending": '<path d="M1.5 1.5h11v11h-11Z" fill="{fill}" stroke="{outline}"/>',
    "reinstated": '<circle cx="7" cy="7" r="5.8" fill="{fill}" stroke="{outline}"/>',
}


def mark(status: str) -> Markup:
    """Return the small sign of a status, for a legend or a table head."""
    look = STATUS_LOOKS[status]
    shape = _SHAPES[status].format(fill=look.fill, outline=look.outline)
    return Markup(f'<svg class="mark" viewBox="0 0 14 14" role="img"><title>{status}</title>{shape}</svg>')  # noqa: S704 - constants


def stacked_bars(counts: pd.DataFrame, title: str) -> Markup:
    """Draw one bar a row, a piece a status, its number inside where there is room.

    Parameters
    ----------
    counts
        N rows named by their index, a column a status.
    title
        What the chart shows.
    """
    most = max(int(counts.sum(axis="columns").max()), 1)
    scale = (_WIDTH - _LABEL - _TOTAL) / most
    height = len(counts) * (_BAR + _GAP) + _GAP
    parts, said = [], []
    for place, (name, row) in enumerate(zip(counts.index, counts.to_dict("records"), strict=True)):
        top = _GAP + place * (_BAR + _GAP)
        left = float(_LABEL)
        parts.append(_text(_LABEL - 8, top + 15, _short(str(name)), "end"))
        for status in counts.columns:
            number = int(row[status])
            wide = number * scale
            if number:
                look = STATUS_LOOKS[str(status)]
                parts.append(
                    f'<rect x="{left:.1f}" y="{top}" width="{wide:.1f}" height="{_BAR}" fill="{look.fill}" '
                    f'stroke="{look.outline}" stroke-width="1"/>'
                )
                if wide > 8 * len(str(number)) + 6:
                    ink = "#ffffff" if status == "flagged" else "#111111"
                    parts.append(_text(left + wide / 2, top + 15, f"{number:,}", "middle", ink))
            left += wide
        total = sum(int(row[status]) for status in counts.columns)
        parts.append(_text(left + 8, top + 15, f"{total:,}", "start"))
        said.append(f"{name}: " + ", ".join(f"{int(row[status]):,} {status}" for status in counts.columns))
    return _svg(height, title, "; ".join(said), parts)


def columns_chart(counts: pd.Series, title: str, fill: str) -> Markup:
    """Draw one column an entry, its number above it and its name below."""
    most = max(int(counts.max()), 1)
    high, top, foot = 150, 24, 26
    step = _WIDTH / max(len(counts), 1)
    parts, said = [], []
    for place, (name, number) in enumerate(counts.items()):
        tall = high * int(number) / most
        left = place * step + step * 0.18
        base = top + high
        parts.append(
            f'<rect x="{left:.1f}" y="{base - tall:.1f}" width="{step * 0.64:.1f}" height="{tall:.1f}" fill="{fill}" '
            'stroke="#222222" stroke-width="1"/>'
        )
        middle = left + step * 0.32
        parts.append(_text(middle, base - tall - 6, f"{int(number):,}", "middle"))
        parts.append(_text(middle, base + 18, str(name), "middle"))
        said.append(f"{name}: {int(number):,}")
    parts.append(f'<path d="M0 {top + high}H{_WIDTH}" stroke="#222222"/>')
    return _svg(top + high + foot, title, "; ".join(said), parts)


def curves(counts: pd.DataFrame, title: str, across: str) -> Markup:
    """Draw one line a column over the rows in order, each with its name at its end and its own dashes."""
    most = max(int(counts.to_numpy().max()), 1)
    high, top, left = 170, 20, 50
    step = (_WIDTH - left - 130) / max(len(counts) - 1, 1)
    parts, said = [], []
    last = [top + high * (1 - float(counts[column].iloc[-1]) / most) + 4 for column in counts.columns]
    labels = _apart(last, 14, top + high + 4)
    for place, name in enumerate(counts.index):
        parts.append(_text(left + place * step, top + high + 18, str(name), "middle"))
    parts.append(_text(left + (len(counts) - 1) * step / 2, top + high + 36, across, "middle"))
    for share in (0, 0.5, 1):
        level = top + high * (1 - share)
        parts.append(f'<path d="M{left} {level}H{_WIDTH - 130}" stroke="#c9c5bb"/>')
        parts.append(_text(left - 6, level + 4, f"{round(most * share):,}", "end"))
    for place, column in enumerate(counts.columns):
        values = counts[column].tolist()
        spots = [(left + at * step, top + high * (1 - value / most)) for at, value in enumerate(values)]
        path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in spots)
        dashes = _DASHES[place % len(_DASHES)]
        parts.append(f'<path d="{path}" fill="none" stroke="#222222" stroke-width="2"{dashes}/>')
        parts.append(_text(spots[-1][0] + 8, labels[place], str(column), "start"))
        said.append(
            f"{column}: " + ", ".join(f"{value:,} at {name}" for name, value in zip(counts.index, values, strict=True))
        )
    return _svg(top + high + 44, title, "; ".join(said), parts)


def _apart(levels: list[float], gap: float, lowest: float) -> list[float]:
    """Names at the ends of lines keep clear of each other, and of what stands below the lowest level."""
    order = sorted(range(len(levels)), key=lambda place: levels[place], reverse=True)
    out, below = list(levels), lowest + gap
    for place in order:
        out[place] = below = min(levels[place], below - gap)
    return out


def over_time(counts: pd.DataFrame, title: str) -> Markup:
    """Draw one line a status over days to scale, with its mark at each day.

    Parameters
    ----------
    counts
        N rows by day, the index ISO dates in order; a column a status.
    title
        What the chart shows.
    """
    most = max(int(counts.to_numpy().max()), 1)
    high, top, left, right = 170, 20, 50, _WIDTH - 150
    days = [dt.date.fromisoformat(str(day)).toordinal() for day in counts.index]
    scale = (right - left) / max(days[-1] - days[0], 1)
    across = [left + (day - days[0]) * scale for day in days]
    parts, said = [], []
    for share in (0, 0.5, 1):
        level = top + high * (1 - share)
        parts.append(f'<path d="M{left} {level}H{right}" stroke="#c9c5bb"/>')
        parts.append(_text(left - 10, level + 4, f"{round(most * share):,}", "end"))
    shown: list[float] = []
    for x, name in zip(across, counts.index, strict=True):
        # the last day is always named, and the others where they keep clear of it and of each other
        if x == across[-1] or (across[-1] - x >= _DATE_WIDTH and (not shown or x - shown[-1] >= _DATE_WIDTH)):
            parts.append(f'<path d="M{x:.1f} {top + high}v5" stroke="#222222"/>')
            parts.append(_text(x, top + high + 20, str(name), "middle"))
            shown.append(x)
    labels = []
    for place, status in enumerate(map(str, counts.columns)):
        values = counts[status].tolist()
        spots = [(x, top + high * (1 - value / most)) for x, value in zip(across, values, strict=True)]
        path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in spots)
        parts.append(f'<path d="{path}" fill="none" stroke="#222222" stroke-width="2"{_DASHES[place % len(_DASHES)]}/>')
        look = STATUS_LOOKS[status]
        shape = _SHAPES[status].format(fill=look.fill, outline=look.outline)
        for x, y in spots if len(spots) <= _MOST_MARKS else spots[-1:]:
            parts.append(f'<g transform="translate({x - 7:.1f} {y - 7:.1f})">{shape}</g>')
        labels.append((spots[-1][1] + 4, f"{status} {values[-1]:,}"))
        said.append(
            f"{status}: " + ", ".join(f"{value:,} on {day}" for day, value in zip(counts.index, values, strict=True))
        )
    lowest = float("-inf")
    for level, label in sorted(labels):
        lowest = max(level, lowest + 15)
        parts.append(_text(right + 14, lowest, label, "start"))
    return _svg(top + high + 44, title, "; ".join(said), parts)


def _svg(height: int, title: str, words: str, parts: list[str]) -> Markup:
    body = "".join(parts)
    head = f'<svg class="chart" viewBox="0 0 {_WIDTH} {height}" role="img">'
    # every text in it went through escape()
    return Markup(f"{head}<title>{escape(title)}</title><desc>{escape(words)}</desc>{body}</svg>")  # noqa: S704


def _text(x: float, y: float, text: str, anchor: str, ink: str = "#111111") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{ink}">{escape(text)}</text>'


def _short(name: str) -> str:
    return name if len(name) <= _LONGEST_LABEL else name[: _LONGEST_LABEL - 1] + "…"


def intervals(rates: pd.DataFrame, title: str) -> Markup:
    """Draw one row a group: its share as a dot, the interval on it as a bar; filled where it differs from the others.

    Parameters
    ----------
    rates
        N rows named by their index: ``rate``, ``low``, ``high`` (shares), ``cores``, ``differs``.
    title
        What the chart shows.
    """
    top, row = 24, _BAR + 4
    most = min(1.0, max(0.1, float(rates["high"].max())))
    wide = _WIDTH - _LABEL - _TOTAL
    parts, said = [], []
    foot = top + len(rates) * row
    for step in range(5):
        share = most * step / 4
        across = _LABEL + wide * step / 4
        parts.append(f'<path d="M{across:.1f} {top - 6}V{foot}" stroke="#c9c5bb"/>')
        parts.append(_text(across, top - 10, f"{share:.0%}", "middle"))
    for place, (name, one) in enumerate(zip(rates.index, rates.to_dict("records"), strict=True)):
        level = top + place * row + row / 2
        low, dot, high = (_LABEL + wide * min(one[key] / most, 1.0) for key in ("low", "rate", "high"))
        fill = "#222222" if one["differs"] in {"more", "less"} else "#ffffff"
        parts.append(_text(_LABEL - 8, level + 4, _short(str(name)), "end"))
        parts.append(f'<path d="M{low:.1f} {level}H{high:.1f}" stroke="#5a4a86" stroke-width="4"/>')
        parts.append(f'<circle cx="{dot:.1f}" cy="{level}" r="5" fill="{fill}" stroke="#222222" stroke-width="2"/>')
        parts.append(_text(_LABEL + wide + 8, level + 4, f"of {one['cores']:,}", "start"))
        said.append(f"{name}: {one['rate']:.1%} ({one['low']:.1%} to {one['high']:.1%}) of {one['cores']:,}")
    return _svg(foot + 8, title, "; ".join(said), parts)
