"""The charts of a rehearsal: shares that were found, with their intervals, by kind and by how far a core was moved."""

from typing import Any, Final

from markupsafe import Markup

from pipeline.publish.looks import COLOURS, DISTRICT_LINE, HALO, INK
from pipeline.publish.pages.svg import line, named_chart, text
from pipeline.publish.words import Words

__all__ = ["share_bar", "size_chart"]

_STEP: Final = 30
_TOP: Final = 8
# where shares of none and of all are, in percent of the width; names are to the left
_NONE: Final = 34.0
_ALL: Final = 84.0
_RULE: Final = COLOURS["chart-rule"]


def size_chart(rows: list[dict[str, Any]], words: Words) -> Markup:
    """Return one line per band of sizes, as ``size_rows`` gives them: the interval, the share on it, and the counts."""
    base = _TOP + _STEP * len(rows)
    parts = []
    for share in (0.0, 0.5, 1.0):
        at = _across(share)
        parts.append(line(at, _TOP, at, base, _RULE if share else INK))
        parts.append(text(at, base + 18, words.percent(share), "middle"))
    entries = []
    for number, row in enumerate(rows):
        middle = _TOP + _STEP * (number + 0.5)
        parts.append(text(_NONE - 2, middle + 4, row["name"], "end"))
        parts.append(
            line(_across(row["low"]), middle, _across(row["high"]), middle, DISTRICT_LINE, ' stroke-width="5"')
        )
        parts.append(f'<circle cx="{_across(row["share"]):.2f}%" cy="{middle:.1f}" r="5" fill="{INK}" stroke="{INK}"/>')
        parts.append(text(_ALL + 2, middle + 4, f"{row['found']} / {row['planted']}", "start"))
        entries.append(words.plainly("rehearse.point", band=row["name"], share=row["share_text"], n=row["planted"]))
    return named_chart("sizes-chart", base + 26, words.plainly("rehearse.sizes_chart"), "; ".join(entries), parts)


def _across(share: float) -> float:
    return _NONE + (_ALL - _NONE) * share


def share_bar(low: float, rate: float, high: float, *, is_filled: bool) -> Markup:
    """Return a share as a dot on its interval, for a table row that gives both in numbers; a whole dot at the ends."""
    ground = line(0, 7, 100, 7, COLOURS["rule"])
    reach = line(100 * low, 7, 100 * high, 7, DISTRICT_LINE, ' stroke-width="4"')
    fill = INK if is_filled else HALO
    dot = f'<circle cx="{100 * rate:.2f}%" cy="7" r="4.5" fill="{fill}" stroke="{INK}" stroke-width="1.5"/>'
    head = '<svg class="span" width="94%" height="14" overflow="visible" aria-hidden="true">'
    return Markup(f"{head}{ground}{reach}{dot}</svg>")  # noqa: S704 - numbers alone
