"""The flagged cores as plain HTML: what a reader without script, or with an old browser, still gets."""

import html
from typing import Any, Final

import pandas as pd

from pipeline.contracts import STATUSES
from pipeline.publish.map.cores import count_statuses
from pipeline.publish.map.packing import shown_text

__all__ = ["draw_plain"]

# A few screens; the tables beside the map hold every core.
MOST_ROWS: Final = 200
MOST_FINDINGS: Final = 5


def draw_plain(title: str, cores: pd.DataFrame, findings: pd.DataFrame, as_of: str, words: dict[str, Any]) -> str:
    """Return counts and the first flagged cores as HTML, every text of the register escaped."""

    def say(key: str, **values: object) -> str:
        return str(words[f"plain.{key}"]).format(**values)

    flagged = cores[cores["status"] == "flagged"].sort_values("row")
    shown = flagged.head(MOST_ROWS)
    wrong = findings[findings["row"].isin(shown["row"]) & (findings["severity"] == "fail")]
    sentences = {
        row: " ".join(shown_text(message) for message in messages.head(MOST_FINDINGS))
        for row, messages in wrong.groupby("row")["message"]
    }
    counts = dict(zip(STATUSES, count_statuses(cores), strict=True))
    head = "".join(f'<th scope="col">{_safe(say(key))}</th>' for key in ("core", "place", "district", "wrong"))
    body = "".join(
        f'<tr><th scope="row">{_safe(core_id)}</th><td>{_safe(street)}</td><td>{_safe(district)}</td>'
        f"<td>{_safe(sentences.get(row))}</td></tr>\n"
        for row, core_id, street, district in shown[["row", "core_id", "street", "district"]].itertuples(
            index=False, name=None
        )
    )
    told = say("first", shown=len(shown), all=len(flagged)) if len(flagged) else say("none")
    table = f"<table><thead><tr>{head}</tr></thead><tbody>\n{body}</tbody></table>" if len(flagged) else ""
    return (
        f"<h1>{_safe(title)}</h1>\n<p>{_safe(say('why'))}</p>\n"
        f"<p>{_safe(say('counts', as_of=as_of, all=len(cores), **counts))}</p>\n"
        f"<h2>{_safe(say('title'))}</h2>\n<p>{_safe(told)}</p>\n{table}"
    )


def _safe(value: object) -> str:
    if value is None or pd.isna(value):  # type: ignore[call-overload]
        return "–"
    return f"<bdi>{html.escape(shown_text(value).encode('utf-8', 'replace').decode())}</bdi>"
