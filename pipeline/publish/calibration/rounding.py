"""How each crew rounds, what rounding and waste would change, as texts and tables for the terminal."""

from typing import Final, NamedTuple

import numpy as np

from pipeline.calibrate import LEAD, Calibration, bags_by_habit, needs_before_and_after
from pipeline.publish.words import Words

__all__ = ["Listed", "list_crews", "list_ways", "note_spread"]

# more crews than this are counted
_MOST_CREWS: Final = 12
# a crew that uses so much more or less than the fit is worth a question
_MUCH: Final = 0.05
_SHOWN_DEPTH_IN: Final = 12.0
_LAST: Final = ("calibration.beside", "calibration.used")


class Listed(NamedTuple):
    """A table: its title, the headers of its columns, its rows, and sentences below it."""

    title: str
    headers: list[str]
    rows: list[list[str]]
    notes: list[str]


def note_spread(calibration: Calibration, words: Words) -> list[str]:
    """Return the sentences on scatter, waste and, where it shows, uneven use."""
    uneven = calibration.uneven_share
    return [
        words.plainly("calibration.scatter", share=words.percent(calibration.scatter)),
        words.plainly("calibration.waste", most=words.percent(calibration.most_waste)),
        *([words.plainly("calibration.uneven", share=words.percent(uneven))] if uneven else []),
    ]


def list_crews(calibration: Calibration, words: Words) -> Listed:
    """Return how each crew rounds, the crews with the most records first; names are text of a register."""
    say = words.plainly
    crews = calibration.crews.sort_values("records", ascending=False, kind="stable")
    has_leads = bool(crews["lead"].notna().any())
    names = ["calibration.crew", "calibration.records", "calibration.step", "calibration.rounded", "calibration.known"]
    headers = [say(name) for name in (*names, *(["calibration.lead"] if has_leads else []), *_LAST)]
    rows = []
    for name, row in crews.head(_MOST_CREWS).iterrows():
        source = "against" if row["against"] else row["known_from"] or "unknown"
        lead = "" if np.isnan(row["lead"]) else words.number(row["lead"], 1)
        cells = [
            str(name),
            words.number(row["records"]),
            words.measure(row["step_bags"]),
            say(f"calibration.habit_{row['habit'] or 'unknown'}"),
            say(f"calibration.from_{source}"),
            *([lead] if has_leads else []),
            _signed_percent(row["beside_fit"], words),
            say("calibration.is_used" if row["is_used"] else "calibration.not_used"),
        ]
        rows.append(cells)
    more = len(crews) - len(rows)
    notes = [say("calibration.more_crews", n=more)] if more else []
    if has_leads:
        notes.append(say("calibration.lead_meaning", least=words.measure(LEAD)))
    if crews["beside_fit"].abs().ge(_MUCH).any():
        notes.append(say("calibration.beside_meaning", least=words.percent(_MUCH)))
    return Listed(say("calibration.crews"), headers, rows, notes)


def list_ways(calibration: Calibration, words: Words) -> Listed:
    """Return kerf and bed with their intervals, if all records were rounded in one way."""
    say = words.plainly
    names = ("if_rounded", "kerf", "interval", "bed", "interval", "bags", "against")
    headers = [say(f"calibration.{name}") for name in names]
    needs = needs_before_and_after(calibration).set_index("depth_in")["bags_calibrated"]
    bags = bags_by_habit(calibration)
    ways = calibration.by_habit.assign(bags=bags, change=bags / float(needs.loc[_SHOWN_DEPTH_IN]) - 1)
    rows = [
        [
            say(f"calibration.habit_{habit}"),
            words.number(row["kerf_mm"], 1),
            say("calibration.span", low=words.number(row["kerf_low_mm"], 1), high=words.number(row["kerf_high_mm"], 1)),
            words.number(row["bed_mm"], 1),
            say("calibration.span", low=words.number(row["bed_low_mm"], 1), high=words.number(row["bed_high_mm"], 1)),
            words.number(row["bags"], 2),
            _signed_percent(row["change"], words),
        ]
        for habit, row in ways.iterrows()
    ]
    return Listed(say("calibration.ways"), headers, rows, [])


def _signed_percent(share: float, words: Words) -> str:
    """Return a difference in whole percent with its sign; nothing where it is missing."""
    if np.isnan(share):
        return ""
    change = round(100 * share)
    return words.plainly("calibration.percent", change=words.signed(change)) if change else words.percent(0)
