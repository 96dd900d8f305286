"""Each rule on one row's core: its limit with source and who set it, what was compared, and the outcome."""

import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.audit.outcomes import AT_LIMIT, FOUND, NOT_APPLICABLE, NOT_ASSESSED, PASSED
from pipeline.contracts import AUDIT_FRAME, LOCATED_COLUMNS, MADE_FROM, REGISTER_COLUMNS, SEVERITIES
from pipeline.programme.names import folded
from pipeline.programme.sources import outside_source
from pipeline.programme.thresholds import SCOPE_COLUMNS
from pipeline.publish.explain.parts import Cell, Grid, Paragraph, Section, Shown, is_given
from pipeline.readback.basis import Basis, CoreBasis

__all__ = ["limits_in_force", "rules_sections"]

# one table per outcome, in this order; the others are named in a sentence
_TABLES: Final = {FOUND: "found", AT_LIMIT: "at_limit", NOT_ASSESSED: "not_assessed", PASSED: "passed"}
# columns that a rule compares row by row and that say nothing by themselves
_INTERNAL: Final = {"same_core", "same_row", "is_copy", "file_no", "register_no", "segment"}
_EVIDENCE_NAME: Final = re.compile(r"(?:^|; )(\w+)=")
_POSITION: Final = {"x_m", "y_m", "x", "y", "lon", "lat", "spacing_x_m"}
# what the position gives, directly or with the layers
_BY_POSITION: Final = _POSITION | {column.name for column in LOCATED_COLUMNS} - {"surface_recorded_name"}
_OF_REGISTER: Final = frozenset(column.name for column in REGISTER_COLUMNS)


def limits_in_force(limits: pd.DataFrame, core: Mapping[str, Any]) -> pd.DataFrame:
    """Return the setting of each limit that applies to a core: the last of those for its road and surface."""
    here = pd.Series(data=True, index=limits.index)
    for name in SCOPE_COLUMNS:
        own = [folded(str(core[name]))] if is_given(core[name]) else []
        here &= limits[name].isna() | limits[name].map(folded, na_action="ignore").isin(own)
    return limits[here].drop_duplicates(["rule", "threshold"], keep="last")


def rules_sections(
    row: CoreBasis, basis: Basis, book: Sequence[Mapping[str, Any]], findings: pd.DataFrame, show: Shown
) -> list[Section]:
    """Return a section per outcome.

    Parameters
    ----------
    row, basis
        The row's tables, and those of the run.
    book
        The rules of the run's record, in their order.
    findings
        The findings about the row.
    show
        How values are shown.
    """
    say = show.words.say
    limits = limits_in_force(basis.limits, row.core)
    reads: dict[str, dict[Any, Any]] = {str(one["rule"]): one for one in basis.rules.to_dict("records")}
    messages = dict(zip(findings["rule"], findings["message"], strict=True))
    evidence = dict(zip(findings["rule"], findings["evidence"], strict=True))
    sections = []
    for code, name in _TABLES.items():
        rules = [rule for rule in book if row.outcomes.get(rule["rule"]) == code]
        if code == FOUND:
            rules.sort(key=lambda rule: SEVERITIES.index(rule["severity"]))
        if not rules:
            continue
        compared = "missing" if code == NOT_ASSESSED else "compared"
        heads = tuple(say(f"explain.head_{head}") for head in ("rule", "limit", compared))
        rows = tuple(
            (
                _rule(rule, messages.get(rule["rule"]), show),
                _limits(limits[limits["rule"].eq(rule["rule"])], show),
                _missing(rule, reads.get(rule["rule"], {}), row.core, show)
                if code == NOT_ASSESSED
                else _compared(reads.get(rule["rule"], {}), row.core, evidence.get(rule["rule"]), show),
            )
            for rule in rules
        )
        title = say(f"explain.{name}", n=len(rules))
        sections.append(Section(title, (Grid(say(f"explain.{name}_means"), heads, rows),)))
    return [*sections, *_not_applicable(row, book, show)]


def _not_applicable(row: CoreBasis, book: Sequence[Mapping[str, Any]], show: Shown) -> list[Section]:
    say = show.words.say
    rules = [rule for rule in book if row.outcomes.get(rule["rule"]) == NOT_APPLICABLE]
    if not rules:
        return []
    # a rule for all cores does not apply to a row only where another row of the same core is judged in its place
    is_superseded = any(rule["applies_to"] == "all" for rule in rules)
    parts = [Paragraph(say("explain.superseded", row=int(row.core["copy_of"])))] if is_superseded else []
    for applies_to in () if is_superseded else ("open", "reinstated"):
        named = [show.words.rule_label(rule["rule"]) for rule in rules if rule["applies_to"] == applies_to]
        if named:
            parts.append(Paragraph(say(f"explain.applies_to_{applies_to}", rules=show.words.listed(named))))
    return [Section(say("explain.not_applicable", n=len(rules)), tuple(parts))]


def _rule(rule: Mapping[str, Any], message: object, show: Shown) -> Cell:
    """The rule by its label, severity and title, and the finding if there is one."""
    say, words = show.words.say, show.words
    grades = [words.translated(rule[name]) for name in ("severity", "urgency") if is_given(rule.get(name))]
    grade = Markup(", ").join(grades)
    title = words.translated(rule["title"])
    label = Markup("<b>{}</b>").format(words.rule_label(rule["rule"]))
    head = say("explain.rule", label=label, grade=grade, title=title)
    return head if message is None else say("explain.rule_found", rule=head, message=words.own(message, 4000))


def _limits(limits: pd.DataFrame, show: Shown) -> Cell:
    """The limits in force, those of one source together, with that source and who set them."""
    say = show.words.say
    shown = [
        say(
            "explain.limit",
            limits=Markup("; ").join(_limit(one, show) for one in group.to_dict("records")),
            source=show.words.own(outside_source(str(source)), 2000),
            by=_set_by(str(origin), show),
        )
        for (source, origin), group in limits.groupby(["source", "origin"], sort=False)
    ]
    return Markup(" ").join(shown) if shown else say("explain.no_limit")


def _limit(one: Mapping[Any, Any], show: Shown) -> Cell:
    say = show.words.say
    name = show.words.translated(str(one["threshold"]).replace("_", " "))
    where = "" if one["where"] == "everywhere" else say("explain.where", where=show.named(one["where"]))
    return say("explain.one_limit", name=name, value=one["value"], where=where)


def _set_by(origin: str, show: Shown) -> Cell:
    kind, _, name = origin.partition(" ")
    say = show.words.say
    return say("explain.set_code", code=show.words.own(name)) if kind == "code" else say(f"explain.set_{kind}")


def _read_by(rule: Mapping[Any, Any], *groups: str) -> list[str]:
    written = [rule[group] for group in groups if is_given(rule.get(group))]
    names = [name for names in written for name in str(names).split(";") if name]
    return [name for name in dict.fromkeys(names) if name != "core_id"]


def _compared(rule: Mapping[Any, Any], core: Mapping[str, Any], evidence: object, show: Shown) -> Cell:
    """The values that the rule read; of those that it can do without, the ones that are there."""
    say = show.words.say
    needed = _read_by(rule, "needs")
    others = [name for name in _read_by(rule, "needs_any", "shows") if name not in needed and is_given(core.get(name))]
    read = [name for name in (*needed, *others) if name not in _INTERNAL]
    values = [
        say("explain.pair", label=show.label(name), value=show.value(name, core.get(name)))
        for name in read
        if name not in _POSITION
    ]
    if any(name in _POSITION for name in read) and is_given(core["lon"]):
        lon, lat = (show.words.number(core[name], 7) for name in ("lon", "lat"))
        place = say("explain.lon_lat", lon=lon, lat=lat)
        values.insert(0, say("explain.pair", label=say("explain.position"), value=place))
    # what the finding worked out besides, such as a number of days
    if is_given(evidence) and set(_EVIDENCE_NAME.findall(str(evidence))) - {*needed, *others}:
        values.append(say("explain.evidence", evidence=show.words.own(evidence, 4000)))
    return Markup("; ").join(values) if values else say("explain.none")


def _missing(rule: Mapping[str, Any], reads: Mapping[Any, Any], core: Mapping[str, Any], show: Shown) -> Cell:
    """What the rule would have needed, with the inputs that would give it."""
    say = show.words.say
    lacking = [name for name in _read_by(reads, "needs") if not is_given(core.get(name))]
    if rule["applies_to"] != "all" and not (core["is_open"] or is_given(core["reinstated_at"])):
        lacking.append("reinstated_at")
    shown = dict.fromkeys(_lacking(name, core, show) for name in lacking)
    any_of, at_least = _read_by(reads, "needs_any"), int(reads.get("at_least") or 0)
    if sum(is_given(core.get(name)) for name in any_of) < min(at_least, len(any_of)):
        columns = show.words.listed(show.label(name) for name in any_of)
        shown[say("explain.lacks_any", n=at_least, columns=columns)] = None
    return show.words.listed(shown) if shown else say("explain.none")


def _lacking(name: str, core: Mapping[str, Any], show: Shown) -> Cell:
    """A column that is missing, with what it is made from and that is missing too."""
    say, made_from = show.words.say, MADE_FROM.get(name, ())
    if not is_given(core["x_m"]) and (name in _BY_POSITION or "position" in made_from):
        return say("explain.position")
    label = show.label(name)
    if name in _OF_REGISTER:
        is_unreadable = is_given(core.get(AUDIT_FRAME[name].problem_name))
        return say("explain.lacks_readable", label=label) if is_unreadable else label
    sources = [source for source in made_from if source in _OF_REGISTER and not is_given(core.get(source))]
    # volumes and beds follow from the surface too
    if not sources and name not in _BY_POSITION and core["surface"] == "unknown":
        sources = ["surface"]
    if not sources:
        return label
    return say("explain.lacks_from", label=label, sources=show.words.listed(show.label(source) for source in sources))
