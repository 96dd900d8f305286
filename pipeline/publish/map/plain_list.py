"""The flagged cores and the hazards as plain HTML, for a reader without JavaScript or with an old browser."""

import datetime as dt
import html
from typing import Any, Final

import pandas as pd

from pipeline.contracts import CORE_STATES, STATUSES, URGENCIES
from pipeline.publish.acceptance import with_acceptance
from pipeline.publish.map.cores import HAZARD, count_statuses
from pipeline.publish.map.packing import shown_text
from pipeline.publish.urgent_first import most_urgent_first, rank_of
from pipeline.publish.words import Words

__all__ = ["draw_plain_list"]

# a few screens; the tables beside the map hold every core
_MOST_ROWS: Final = 200
_MOST_FINDINGS: Final = 5
_SHOWN: Final = frozenset({"row", "core_id", "street", "district", "state", "urgency"})


def draw_plain_list(title: str, cores: pd.DataFrame, findings: pd.DataFrame, as_of: dt.date, words: Words) -> str:
    """Return counts by status, and the first cores that are flagged or a hazard, by urgency, as HTML.

    Every text of the register is escaped.
    """
    urgency = cores["urgency"] if "urgency" in cores else pd.Series(None, cores.index, dtype="str")
    wanted = cores["status"].eq("flagged") | urgency.eq(HAZARD)
    ranked = pd.DataFrame({"row": cores["row"].to_numpy(), "rank": rank_of(urgency, URGENCIES)})
    flagged = ranked[wanted.to_numpy(dtype=bool)].sort_values(["rank", "row"])
    first = flagged.head(_MOST_ROWS)
    shown = cores[[name for name in cores if name in _SHOWN]].iloc[first.index].assign(rank=first["rank"].to_numpy())
    counts = dict(zip(STATUSES, count_statuses(cores), strict=True))
    if not len(flagged):
        caption = words.plainly("plain.none")
    elif len(shown) == len(flagged):
        caption = words.plainly("plain.all", n=len(flagged))
    else:
        caption = words.plainly("plain.first", shown=len(shown), all=len(flagged))
    return (
        f"<h1>{_safe(title)}</h1>\n<p>{_safe(words.plainly('plain.why'))}</p>\n"
        f"<p>{_safe(words.plainly('plain.counts', as_of=words.day(as_of), all=len(cores), **counts))}</p>\n"
        f"<h2>{_safe(words.plainly('plain.title'))}</h2>\n<p>{_safe(caption)}</p>\n"
        f"{_table(shown, findings, words) if len(shown) else ''}"
    )


def _table(shown: pd.DataFrame, findings: pd.DataFrame, words: Words) -> str:
    """Return a table with a group of rows per urgency; without that column, all rows are one group."""
    heads = ["plain.core", "plain.street", "plain.district", "plain.failures"]
    if "state" in shown:
        heads.insert(1, "plain.state")
    head = "".join(f'<th scope="col">{_safe(words.plainly(key))}</th>' for key in heads)
    sentences = _sentences(shown, findings, words)
    groups = []
    names = {place: f"urgency.{urgency}" for place, urgency in enumerate(URGENCIES)}
    for rank, mine in shown.groupby("rank"):
        if "urgency" in shown:
            name = names.get(int(str(rank)), "plain.no_urgency")
            title = words.plainly("plain.group", name=words.plainly(name), n=len(mine))
            groups.append(f'<tr><th scope="colgroup" colspan="{len(heads)}">{_safe(title)}</th></tr>\n')
        groups += [_row(core, sentences, words) for core in mine.to_dict("records")]
    return f"<table><thead><tr>{head}</tr></thead><tbody>\n{''.join(groups)}</tbody></table>"


def _sentences(shown: pd.DataFrame, findings: pd.DataFrame, words: Words) -> dict[object, str]:
    """Return by row the first failures and hazards of its core, the most urgent first."""
    grave = findings["severity"].eq("fail")
    if "urgency" in findings:
        grave |= findings["urgency"].eq(HAZARD)
    failures = findings[findings["row"].isin(shown["row"]) & grave]
    worded = with_acceptance(most_urgent_first(failures), words)
    first = worded[worded.groupby("row").cumcount() < _MOST_FINDINGS]
    sentences: dict[object, list[str]] = {}
    for row, message in zip(first["row"].tolist(), first["message"].tolist(), strict=True):
        sentences.setdefault(row, []).append(shown_text(message))
    return {row: " ".join(messages) for row, messages in sentences.items()}


def _row(core: dict[Any, Any], sentences: dict[object, str], words: Words) -> str:
    cells = [core["street"], core["district"], sentences.get(core["row"])]
    if "state" in core:
        state = core["state"]
        cells.insert(0, words.plainly(f"state.{state}") if state in CORE_STATES else state)
    body = "".join(f"<td>{_safe(cell)}</td>" for cell in cells)
    return f'<tr><th scope="row">{_safe(core["core_id"])}</th>{body}</tr>\n'


def _safe(value: object) -> str:
    if value is None or pd.isna(value):  # type: ignore[call-overload]
        return "–"
    return f"<bdi>{html.escape(shown_text(value).encode('utf-8', 'replace').decode())}</bdi>"
