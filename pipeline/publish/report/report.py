"""The report: one HTML file that opens from disk with the network off, and prints."""

from typing import Final

from pipeline.publish.pages.page import render_page
from pipeline.publish.report.changes import since_last_run
from pipeline.publish.report.comparisons import people_and_records
from pipeline.publish.report.first_page import first_page
from pipeline.publish.report.method import method_and_inputs
from pipeline.publish.report.orders import plan_of_orders
from pipeline.publish.report.places import places_and_ages
from pipeline.publish.report.rules import rules_and_gaps
from pipeline.publish.words import Words, words_of
from pipeline.results import RunResult

__all__ = ["draw_report"]

# in the order of the page, by the names of their headings
_SECTIONS: Final = (
    "since", "districts", "streets", "ages", "rules", "examples", "unjudged", "crews", "others", "orders", "sure",
    "inputs", "method", "values", "cautions",
)  # fmt: skip


def draw_report(result: RunResult, words: Words | None = None) -> str:
    """Return the whole page; the same run gives the same text.

    Parameters
    ----------
    result
        The run.
    words
        A language in place of the programme's own.
    """
    words = words or words_of(result.settings.programme.language)
    since = since_last_run(result, words)
    return render_page(
        "report.html",
        words,
        name=result.settings.programme.name,
        as_of=result.as_of,
        account=result.account,
        sections=_SECTIONS,
        cautions=result.catalogue.cautions,
        sources=result.inputs.credits,
        **since,
        **first_page(result, words),
        **places_and_ages(result, words),
        **rules_and_gaps(result, words),
        **people_and_records(result, words),
        **plan_of_orders(result, words),
        **method_and_inputs(result, words),
    )
