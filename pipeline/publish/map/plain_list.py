"""The flagged cores as plain HTML, for a reader without JavaScript or with an old browser."""

import datetime as dt
import html
from typing import Final

import pandas as pd

from pipeline.contracts import STATUSES
from pipeline.publish.map.cores import count_statuses
from pipeline.publish.map.packing import shown_text
from pipeline.publish.words import Words

__all__ = ["draw_plain_list"]

# a few screens; the tables beside the map hold every core
_MOST_ROWS: Final = 200
_MOST_FINDINGS: Final = 5


def draw_plain_list(title: str, cores: pd.DataFrame, findings: pd.DataFrame, as_of: dt.date, words: Words) -> str:
    """Return counts by status and the first flagged cores as HTML, every text of the register escaped."""
    flagged = cores[cores["status"] == "flagged"].sort_values("row")
    shown = flagged.head(_MOST_ROWS)
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
    failures = findings[findings["row"].isin(shown["row"]) & (findings["severity"] == "fail")]
    sentences = {
        row: " ".join(shown_text(message) for message in messages.head(_MOST_FINDINGS))
        for row, messages in failures.groupby("row")["message"]
    }
    heads = ("plain.core", "plain.street", "plain.district", "plain.failures")
    head = "".join(f'<th scope="col">{_safe(words.plainly(key))}</th>' for key in heads)
    body = "".join(
        f'<tr><th scope="row">{_safe(core_id)}</th><td>{_safe(street)}</td><td>{_safe(district)}</td>'
        f"<td>{_safe(sentences.get(row))}</td></tr>\n"
        for row, core_id, street, district in shown[["row", "core_id", "street", "district"]].itertuples(
            index=False, name=None
        )
    )
    return f"<table><thead><tr>{head}</tr></thead><tbody>\n{body}</tbody></table>"


def _safe(value: object) -> str:
    if value is None or pd.isna(value):  # type: ignore[call-overload]
        return "–"
    return f"<bdi>{html.escape(shown_text(value).encode('utf-8', 'replace').decode())}</bdi>"
