"""What was decided about one core, and what the runs kept say of it."""

from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.publish.explain.parts import Cell, Grid, Paragraph, Section, Shown, is_given

__all__ = ["decisions_section", "history_section"]

# the columns of the findings that say what became of one, as far as a run has them
_DECIDED: Final = (
    "decision", "decided_by", "decided_on", "decided_until", "decision_reason", "decision_standing", "owner",
    "first_seen", "baseline", "fingerprint",
)  # fmt: skip


def decisions_section(findings: pd.DataFrame, show: Shown) -> Section:
    """Return what was decided on each finding about the core; ``findings`` is theirs, every cell text."""
    say, words = show.words.say, show.words
    known = [name for name in _DECIDED if name in findings]
    rows = []
    for one in findings.to_dict("records"):
        kept = [(name, one[name]) for name in known if is_given(one[name]) and one[name] != ""]
        if kept:
            pairs = [
                say("explain.pair", label=say(f"explain.past_{name}"), value=words.own(cell)) for name, cell in kept
            ]
            rows.append((words.rule_label(one["rule"]), words.number(int(one["row"])), Markup("; ").join(pairs)))
    parts: list[Paragraph | Grid] = []
    if rows:
        heads = tuple(say(f"explain.head_{name}") for name in ("rule", "row", "recorded"))
        parts.append(Grid(say("explain.recorded"), heads, tuple(rows)))
    decided = findings.get("decision")
    if decided is None or not decided.fillna("").ne("").any():
        parts.insert(0, Paragraph(say("explain.no_decision")))
    return Section(say("explain.decisions"), tuple(parts), level=2)


def history_section(history: pd.DataFrame, as_of: str, later: list[str], notices: list[str], show: Shown) -> Section:
    """Return the core's status by run, up to this one; ``later`` are the dates of runs that are kept after it."""
    say, words = show.words.say, show.words
    rows = tuple(_run(one, as_of, show) for one in history.to_dict("records"))
    heads = tuple(say(f"explain.head_{name}") for name in ("as_of", "row", "status", "findings"))
    parts: list[Paragraph | Grid] = [Grid(say("explain.kept"), heads, rows)]
    if len(history):
        parts.insert(0, Paragraph(say("explain.first_seen", day=words.date(str(history["as_of"].iloc[0])))))
    if later:
        parts.append(Paragraph(say("explain.later", n=len(later), days=words.listed(words.date(day) for day in later))))
    parts += [Paragraph(words.own(notice)) for notice in notices]
    return Section(say("explain.history"), tuple(parts), level=2)


def _run(one: dict[Any, Any], as_of: str, show: Shown) -> tuple[Cell, ...]:
    say, words = show.words.say, show.words
    day = words.date(str(one["as_of"]))
    slugs = [slug for slug in str(one["findings"]).split(";") if slug] if is_given(one["findings"]) else []
    return (
        say("explain.this_run", day=day) if one["as_of"] == as_of else day,
        words.number(int(one["row"])),
        say(f"status.{one['status']}"),
        words.listed(words.rule_label(slug) for slug in slugs) if slugs else say("explain.none"),
    )
