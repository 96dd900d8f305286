"""What a rehearsal says, as sentences and rows for the terminal and for the page."""

from typing import Any, Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contracts import REGISTER_COLUMNS
from pipeline.publish.words import Words
from pipeline.rehearse.kinds import NOT_PLANTED
from pipeline.rehearse.result import Rehearsal

__all__ = ["KindRow", "kind_rows", "other_rules", "size_rows", "verdict", "what_raises", "without_faults"]


class KindRow(NamedTuple):
    """One kind of fault: what it is, which rules know it, its counts, and its share with its interval as text.

    ``group``: heading of its group. ``low``, ``rate``, ``high``: as numbers.
    """

    group: str
    label: str
    rules: list[str]
    counts: list[str]
    share: str
    interval: str
    low: float
    rate: float
    high: float


_LABEL_OF: Final = {column.name: column.label for column in REGISTER_COLUMNS}
_COUNTS: Final = ("planted", "found", "noticed", "missed", "blamed")


def kind_label(kind: str, words: Words) -> str:
    """Return what a kind of fault is called."""
    return words.plainly(f"rehearse_kind.{kind.replace('-', '_')}")


def verdict(found: Rehearsal, words: Words) -> list[str]:
    """Return the sentences that come first: how much was found, what was missed, who was blamed."""
    known, unknown, say = found.known, found.unknown, words.plainly
    lines = [say("rehearse.none_known")]
    if known["planted"]:
        counts = {name: words.number(known[name]) for name in _COUNTS}
        ends = {name: words.percent(known[name], 1) for name in ("share", "low", "high")}
        lines = [
            say("rehearse.found", n=int(known["planted"]), found=counts["found"], **ends),
            say("rehearse.rest", noticed=counts["noticed"], missed=counts["missed"]),
        ]
    if unknown["planted"]:
        lines.append(say("rehearse.unknown", n=int(unknown["planted"]), noticed=words.number(unknown["noticed"])))
    blamed = int(known["blamed"] + unknown["blamed"])
    lines.append(say("rehearse.blamed", n=blamed) if blamed else say("rehearse.none_blamed"))
    return [*lines, *_slips(found, words)]


def _slips(found: Rehearsal, words: Words) -> list[str]:
    """Return how large a slip in a coordinate must be to be found, and how accurate positions are taken to be."""
    if not len(found.sizes):
        return []
    say, smallest, mostly = words.plainly, found.smallest_m, found.mostly_m
    if np.isnan(smallest):
        line = say("rehearse.slips_none")
    elif np.isnan(mostly):
        line = say("rehearse.slips_few", smallest=_metres(smallest, words))
    elif mostly <= smallest:
        line = say("rehearse.slips_from", smallest=_metres(smallest, words))
    else:
        line = say("rehearse.slips", smallest=_metres(smallest, words), mostly=_metres(mostly, words))
    if np.isnan(found.accuracy_m):
        return [line, say("rehearse.accuracy_learnt")]
    source = say(f"rehearse.from_{found.accuracy_from}")
    return [line, say("rehearse.accuracy", accuracy=words.measure(found.accuracy_m), source=source)]


def _metres(value: float, words: Words) -> str:
    return words.measure(float(f"{value:.2g}"))


def kind_rows(found: Rehearsal, words: Words) -> list[KindRow]:
    """Return a row for each kind that was planted, group by group."""
    planted = found.kinds[found.kinds["planted"].gt(0)]
    return [
        KindRow(
            group=words.plainly(f"rehearse_group.{row['group']}"),
            label=kind_label(row["kind"], words),
            rules=row["rules"].split(", ") if row["rules"] else [],
            counts=[words.number(row[name]) for name in _COUNTS],
            share=words.percent(row["share"]),
            interval=words.plainly("rehearse.span", low=words.percent(row["low"]), high=words.percent(row["high"])),
            low=row["low"],
            rate=row["share"],
            high=row["high"],
        )
        for row in planted.to_dict("records")
    ]


def size_rows(found: Rehearsal, words: Words) -> list[dict[str, Any]]:
    """Return a row for each band of sizes: its ``name``, ``planted``, ``found``, ``share``, ``interval`` as texts."""
    rows: list[dict[str, Any]] = []
    for row in found.sizes.to_dict("records"):
        start, end = words.measure(row["from_m"]), row["to_m"]
        if row["from_m"] == 0:
            name = words.plainly("rehearse.band_first", to=words.measure(end))
        elif np.isinf(end):
            name = words.plainly("rehearse.band_last", start=start)
        else:
            name = words.plainly("rehearse.band_middle", start=start, to=words.measure(end))
        span = words.plainly("rehearse.span", low=words.percent(row["low"]), high=words.percent(row["high"]))
        texts = {key: words.number(row[key]) for key in ("planted", "found")}
        ends = {key: float(row[key]) for key in ("share", "low", "high")}
        rows.append({**ends, **texts, "name": name, "share_text": words.percent(row["share"]), "interval": span})
    return rows


def what_raises(found: Rehearsal, words: Words) -> list[str]:
    """Return what would let the rules find more, the most useful first."""
    say, lines = words.plainly, []
    for row in found.remedies.to_dict("records"):
        rules = ", ".join(words.rule(slug) for slug in row["rules"].split(", "))
        lines.append(say("rehearse.record", input=_label(row["input"], words), n=int(row["faults"]), rules=rules))
    for row in found.narrower.to_dict("records"):
        ends = {name: words.number(row[f"{name}_mm"]) for name in ("low", "high")}
        held = words.number(row["cores"])
        lines.append(say("rehearse.narrower", rule=words.rule(row["rule"]), n=int(row["faults"]), held=held, **ends))
    if found.inaccurate:
        lines.append(say("rehearse.better", n=found.inaccurate))
    lacking = _lacking(found)
    if len(lacking):
        names = dict.fromkeys(name for text in lacking["lacks"] for name in text.split(", "))
        labels = ", ".join(_label(name, words) for name in names)
        lines.append(say("rehearse.lacking_all", n=len(lacking), columns=labels))
    return lines or [say("rehearse.nothing_raises")]


def without_faults(found: Rehearsal, words: Words) -> list[str]:
    """Return the kinds not planted: by the column that no register has or fills, and those that no row can hold."""
    lines = [
        words.plainly(
            "rehearse.lacking",
            columns=", ".join(_label(name, words) for name in str(columns).split(", ")),
            kinds=_labels(kinds, words),
        )
        for columns, kinds in _lacking(found).groupby("lacks", sort=False)["kind"]
    ]
    unheld = found.kinds.loc[found.kinds["planted"].eq(0) & found.kinds["lacks"].eq(""), "kind"]
    return [*lines, *([words.plainly("rehearse.not_held", kinds=_labels(unheld, words))] if len(unheld) else [])]


def _lacking(found: Rehearsal) -> pd.DataFrame:
    """Return the kinds that a rule knows, and that need a column that no register has, or has but blank."""
    return found.kinds[found.kinds["lacks"].ne("") & found.kinds["rules"].ne("")]


def other_rules(words: Words) -> list[str]:
    """Return the rules that no kind is planted for, by the reason."""
    lines = []
    for reason in dict.fromkeys(NOT_PLANTED.values()):
        rules = ", ".join(words.rule(slug) for slug, why in NOT_PLANTED.items() if why == reason)
        lines.append(words.plainly(f"rehearse.not_planted_{reason}", rules=rules))
    return lines


def _label(name: str, words: Words) -> str:
    """Return what people call a column; an input that is none by its name."""
    if name == "position":
        return words.plainly("records.position")
    return words.translated(_LABEL_OF[name]) if name in _LABEL_OF else name


def _labels(kinds: pd.Series, words: Words) -> str:
    return "; ".join(kind_label(kind, words) for kind in kinds)
