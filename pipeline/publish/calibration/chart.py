"""The chart of a calibration, an SVG file: litres used against depth, one panel per diameter.

It contains no text from a register.
"""

from collections.abc import Callable
from typing import Final

import numpy as np
import pandas as pd
from markupsafe import escape

from pipeline.calibrate import Calibration
from pipeline.publish.looks import COLOURS, HALO, INK
from pipeline.wording import counted

__all__ = ["calibration_chart"]

_WIDTH: Final = 680
_LEFT: Final = 56
_RIGHT: Final = 24
_HEAD: Final = 64
_TALL: Final = 220
_FOOT: Final = 58
_MOST_PANELS: Final = 4
_FEWEST_OF_A_PANEL: Final = 5
_LINE_POINTS: Final = 25
# different in lightness, and each with its own dashes, so that colour is never the only cue
_FITTED: Final = "#0072B2"
_STATED: Final = INK
_OUTLIER: Final = COLOURS["warning"]
_RECORD: Final = COLOURS["grey"]


def calibration_chart(calibration: Calibration) -> str:
    """Return the whole file; the same calibration gives the same text.

    Parameters
    ----------
    calibration
        Each of its records is drawn as a bar over the interval of litres that it stands for.
    """
    shown = calibration.by_diameter
    main = shown[shown["records"].ge(_FEWEST_OF_A_PANEL) | (shown.index == 0)].head(_MOST_PANELS)
    parts, sentences = _legend(), [_in_words(calibration)]
    if not calibration.enough:
        parts.append(_text(_LEFT, 40, "Not enough to go by. The stated values apply.", bold=True))
    panels = main.to_dict("records")
    for number, panel in enumerate(panels):
        inch = (calibration.records["hole_mm"] / 25.4).round()
        records = calibration.records[inch.eq(panel["inch"])]
        parts += _panel(calibration, records, float(panel["hole_mm"]), _HEAD + number * (_TALL + _FOOT))
        sentences.append(
            f"Holes of {panel['hole_mm']:.0f} mm: {counted(panel['records'], 'record')}, "
            f"{counted(panel['outliers'], 'outlier')} excluded, depth "
            f"{records['depth_mm'].min():.0f} to {records['depth_mm'].max():.0f} mm, "
            f"{records['grout_used_l'].min():.1f} to {records['grout_used_l'].max():.1f} L used."
        )
    if not panels:
        parts.append(_text(_LEFT, _HEAD + 20, "There are no usable records of use."))
    height = _HEAD + max(len(panels), 1) * (_TALL + _FOOT)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {height}" role="img" '
        f'aria-labelledby="title words" font-family="sans-serif" font-size="13">'
    )
    title = '<title id="title">Grout used against depth</title>'
    words = f'<desc id="words">{escape(" ".join(sentences))}</desc>'
    ground = f'<rect width="{_WIDTH}" height="{height}" fill="{HALO}"/>'
    return "\n".join([head, title, words, ground, *parts, "</svg>"]) + "\n"


def _in_words(calibration: Calibration) -> str:
    if np.isnan(calibration.kerf.mm):
        return " ".join(["Not enough to go by.", *calibration.reasons])
    kerf, bed = calibration.kerf, calibration.bed
    reasons = " ".join(calibration.reasons)
    verdict = "The records are sufficient." if calibration.enough else f"Not enough to go by. {reasons}"
    return (
        f"{verdict} {counted(len(calibration.records), 'record')} of use, {counted(calibration.outliers, 'outlier')} "
        f"excluded, give a kerf of {kerf.mm:.1f} mm ({kerf.low_mm:.1f} to {kerf.high_mm:.1f}) and a bed of "
        f"{bed.mm:.1f} mm ({bed.low_mm:.1f} to {bed.high_mm:.1f}); the stated values are {kerf.stated_mm:.1f} and "
        f"{bed.stated_mm:.1f} mm."
    )


def _panel(calibration: Calibration, records: pd.DataFrame, hole_mm: float, top: float) -> list[str]:
    deep = float(np.ceil(records["depth_mm"].max() * 1.02 / 50) * 50)
    depth = pd.Series(np.linspace(0, deep, _LINE_POINTS))
    lines = calibration.lines_l(pd.Series(hole_mm, depth.index), depth)
    most = float(np.ceil(max(records["to_l"].max(), lines.max().max()) / 2) * 2)

    def x(value: float) -> float:
        return _LEFT + (_WIDTH - _LEFT - _RIGHT) * value / deep

    def y(value: float) -> float:
        return top + _TALL * (1 - value / most)

    parts = [
        _text(_LEFT, top - 8, f"Hole of {hole_mm:.0f} mm, {counted(len(records), 'record')}: grout used", bold=True)
    ]
    for litres in np.linspace(0, most, 5):
        parts.append(f'<path d="M{_LEFT} {y(litres):.1f}H{_WIDTH - _RIGHT}" stroke="{COLOURS["rule"]}"/>')
        parts.append(_text(_LEFT - 6, y(litres) + 4, f"{litres:g} L", anchor="end"))
    ticks = np.arange(0, deep + 1, 100 if deep > 300 else 50)
    parts += [_text(x(at), top + _TALL + 18, f"{at:g}", anchor="middle") for at in ticks]
    parts.append(_text((_LEFT + _WIDTH - _RIGHT) / 2, top + _TALL + 36, "core depth, mm", anchor="middle"))
    different = records.groupby(["depth_mm", "from_l", "to_l", "is_outlier"], sort=True).size().reset_index()
    for one in different.to_dict("records"):
        where = f"M{x(one['depth_mm']):.1f} {y(max(one['from_l'], 0)):.1f}V{y(one['to_l']):.1f}"
        look = (
            f'stroke="{_OUTLIER}" stroke-width="2" stroke-dasharray="2 2"'
            if one["is_outlier"]
            else f'stroke="{_RECORD}" stroke-width="2"'
        )
        # round ends make even a bar of almost no height visible
        parts.append(f'<path d="{where}" {look} stroke-linecap="round" stroke-opacity="0.75"/>')
    if lines["fitted"].notna().all():
        there = [f"{x(at):.1f} {y(value):.1f}" for at, value in zip(depth, lines["high"], strict=True)]
        back = [f"{x(at):.1f} {y(max(value, 0)):.1f}" for at, value in zip(depth, lines["low"], strict=True)]
        parts.append(f'<path d="M{"L".join([*there, *back[::-1]])}Z" fill="{_FITTED}" fill-opacity="0.22"/>')
        parts.append(_line(depth, lines["fitted"], x, y, f'stroke="{_FITTED}" stroke-width="2.5"'))
    parts.append(_line(depth, lines["stated"], x, y, f'stroke="{_STATED}" stroke-width="2" stroke-dasharray="7 4"'))
    return parts


def _line(
    depth: pd.Series, litres: pd.Series, x: Callable[[float], float], y: Callable[[float], float], look: str
) -> str:
    spots = "L".join(f"{x(at):.1f} {y(value):.1f}" for at, value in zip(depth, litres, strict=True))
    return f'<path d="M{spots}" fill="none" {look}/>'


def _legend() -> list[str]:
    looks = (
        ("fitted, 95% band", f'stroke="{_FITTED}" stroke-width="2.5"'),
        ("stated", f'stroke="{_STATED}" stroke-width="2" stroke-dasharray="7 4"'),
        ("record (interval)", f'stroke="{_RECORD}" stroke-width="2"'),
        ("outlier", f'stroke="{_OUTLIER}" stroke-width="2" stroke-dasharray="2 2"'),
    )
    parts, left = [], float(_LEFT)
    for name, look in looks:
        parts.append(f'<path d="M{left:.0f} 18h28" fill="none" {look}/>')
        parts.append(_text(left + 34, 22, name))
        left += 62 + 6.4 * len(name)
    return parts


def _text(x: float, y: float, text: str, *, anchor: str = "start", bold: bool = False) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{INK}"{weight}>{escape(text)}</text>'
