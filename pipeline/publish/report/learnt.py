"""What the report says of learnt errors: a line on its first page, a table by batch, and a figure of reliability."""

from typing import Any, Final, NamedTuple

import pandas as pd
from markupsafe import Markup

from pipeline.locate.learning import Outcome
from pipeline.publish.learnt_errors import (
    declined_sentence,
    position_counts,
    reading_sentence,
    shift_warnings,
    unmeasured_outcomes,
)
from pipeline.publish.pages.reliability import Point, lowest_of, reliability_chart, reliability_mark
from pipeline.publish.report.names import LONGEST_NAME
from pipeline.publish.words import Words, plain_text
from pipeline.results import RunResult

__all__ = ["learnt_errors", "positions_line"]

# rows of the table, and charts of the figure: those with the most cores
_MOST_ROWS: Final = 30
_MOST_CHARTS: Final = 12
# shares of fewer cores jump about
_FEWEST: Final = 10


class _Batch(NamedTuple):
    """Cores whose error was learnt together; ``name`` is "" for those of a register that follow all of it."""

    outcome: Outcome
    name: str
    cores: pd.DataFrame
    right: float

    def points(self) -> list[Point]:
        """Return the points of its chart."""
        table = self.outcome.reliability
        own = table[table["batch"].eq(self.name) & table["cores"].ge(_FEWEST)]
        own = own.sort_values(["when", "group"], ascending=[False, True])
        columns = (own[name].to_list() for name in ("when", "stated", "agreed", "cores"))
        return [Point(*values) for values in zip(*columns, strict=True)]


def positions_line(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the values of the first page's line on what the positions rest on."""
    counts, accuracy = position_counts(result), words.measure(result.settings.matching.accuracy_m)
    return {
        "positions": [words.say(f"learnt.count_{name}", n=count, accuracy=accuracy) for name, count in counts.items()],
        "shifted": len(shift_warnings(result.reasons.learning, words, is_only=True)),
        "unmeasured": len(unmeasured_outcomes(result.reasons.learning)),
    }


def learnt_errors(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the values for the template of what was learnt, and what that changed."""
    outcomes, is_only = result.reasons.learning, len(result.settings.cores) == 1
    batches = [batch for outcome in outcomes if outcome.is_accepted for batch in _batches(outcome, result)]
    batches.sort(key=lambda batch: -len(batch.cores))
    charts = [(batch, points) for batch in batches if (points := batch.points())]
    shown = charts[:_MOST_CHARTS]
    every = [point for _, points in shown for point in points]
    lowest, most = lowest_of(every), max((point.cores for point in every), default=1)
    return {
        "is_learning": bool(outcomes),
        "no_learning": "learnt.all_stated" if result.settings.matching.learn else "learnt.switched_off",
        "learnt_declined": [
            declined_sentence(outcome, result.settings.matching.accuracy_m, words)
            for outcome in outcomes
            if not outcome.is_accepted
        ],
        "readings": [said for one in outcomes if (said := reading_sentence(one, words, is_only=is_only)) is not None],
        "learnt_rows": [
            {**_named(batch, words, is_only=is_only), **_row(batch, result, words)} for batch in batches[:_MOST_ROWS]
        ],
        "learnt_rows_left": max(len(batches) - _MOST_ROWS, 0),
        "reliability": [
            {
                **_named(batch, words, is_only=is_only),
                "cores": len(batch.cores),
                "chart": reliability_chart(points, lowest, most, f"reliability-{number}", _title(batch, words), words),
                "points": [
                    {
                        "when": words.say(f"learnt.{point.when}"),
                        "stated": words.percent(point.stated, 1),
                        "agreed": words.percent(point.agreed, 1),
                        "cores": words.number(point.cores),
                    }
                    for point in points
                ],
            }
            for number, (batch, points) in enumerate(shown, 1)
        ],
        "reliability_left": len(charts) - len(shown),
        "reliability_marks": {when: reliability_mark(when) for when in ("before", "after")},
    }


def _batches(outcome: Outcome, result: RunResult) -> list[_Batch]:
    """Return the batches of a register: those learnt by themselves, and the cores that follow the register."""
    cores = result.counted_cores
    source = result.reasons.errors["accuracy_from"].reindex(cores.index)
    mine = cores[source.eq("learnt") & cores["register"].eq(outcome.register)]
    key = mine[outcome.key] if outcome.key in mine else pd.Series("", mine.index, dtype="str")
    apart = [_Batch(outcome, name, mine[key.eq(name)], mixture.name_right) for name, mixture in outcome.batches.items()]
    rest = _Batch(outcome, "", mine[~key.isin(list(outcome.batches))], outcome.mixture.name_right)
    return [batch for batch in (*apart, rest) if len(batch.cores)]


def _row(batch: _Batch, result: RunResult, words: Words) -> dict[str, Any]:
    """Return what learning changed for one batch."""
    changed = result.reasons.changed
    looked_at = pd.DataFrame() if changed is None else changed[changed.index.isin(batch.cores.index)]
    after = batch.cores.loc[looked_at.index]
    row: dict[str, Any] = {
        "cores": words.number(len(batch.cores)),
        "looked_at": len(looked_at) if len(looked_at) < len(batch.cores) else 0,
        "right": words.percent(batch.right) if batch.cores["street"].notna().any() else words.say("learnt.no_names"),
    }
    for name in ("street", "surface", "shade"):
        row[name] = words.number(int(looked_at[name].sum())) if len(looked_at) else ""
    for name in ("segment", "surface"):
        before, now = (
            (looked_at[f"{name}_before"].mean(), after[f"{name}_confidence"].mean()) if len(looked_at) else (None, None)
        )
        shown = [words.say("format.unknown") if pd.isna(mean) else words.percent(mean, 1) for mean in (before, now)]
        row[f"{name}_confidence"] = words.say("learnt.from_to", before=shown[0], after=shown[1])
    return row


def _named(batch: _Batch, words: Words, *, is_only: bool) -> dict[str, Markup]:
    """Return what a batch is called, and what it is: a name alone, such as "42" or "South", reads as that of a crew."""
    kind = words.say(f"learnt.of_{batch.outcome.key}") if batch.name else Markup()
    if batch.name:
        own = words.own(batch.name, LONGEST_NAME)
    else:
        own = words.say("learnt.the_rest" if batch.outcome.batches else "learnt.every_core")
    register = words.own(batch.outcome.register, LONGEST_NAME)
    return {"name": own if is_only else words.say("learnt.batch_of", register=register, batch=own), "kind": kind}


def _title(batch: _Batch, words: Words) -> str:
    register = plain_text(batch.outcome.register, LONGEST_NAME)
    return words.plainly("learnt.figure_title", register=register, batch=plain_text(batch.name, LONGEST_NAME))
