"""The whole report: one HTML file that opens offline and prints."""

from collections.abc import Callable
from typing import Any, Final

from pipeline.clock import Counted, uncounted
from pipeline.publish.map.by_district import IN_FOLDER, maps_of
from pipeline.publish.pages.page import render_page
from pipeline.publish.report.changes import since_last_run
from pipeline.publish.report.comparisons import comparisons
from pipeline.publish.report.completeness import record_tables
from pipeline.publish.report.costs import costs
from pipeline.publish.report.decisions import decisions
from pipeline.publish.report.first_page import first_page
from pipeline.publish.report.learnt import learnt_errors, positions_line
from pipeline.publish.report.materials import materials
from pipeline.publish.report.method import method_and_inputs
from pipeline.publish.report.names import links_by_district, without_links_to_map
from pipeline.publish.report.orders import orders
from pipeline.publish.report.owners import owners
from pipeline.publish.report.places import places_and_ages
from pipeline.publish.report.plan import plan_section
from pipeline.publish.report.rules import rules_and_gaps
from pipeline.publish.since import Since, since_last
from pipeline.publish.words import Words, words_of
from pipeline.results import RunResult

__all__ = ["draw_report"]

# in the order of the page; each has its heading in the table [section] of the words, and is an anchor of that name
_SECTIONS: Final = (
    "overview", "owners", "changes", "decisions", "districts", "streets", "ages", "rules", "examples", "gaps", "crews",
    "surfaces", "records", "plan", "orders", "costs", "confidence", "inputs", "method", "thresholds", "cautions",
)  # fmt: skip


# what fills the template, in the order in which it is worked out
_VALUES: Final[tuple[Callable[[RunResult, Words], dict[str, Any]], ...]] = (
    owners, first_page, decisions, places_and_ages, rules_and_gaps, comparisons, record_tables, materials, plan_section,
    orders, costs, method_and_inputs, positions_line, learnt_errors,
)  # fmt: skip


def draw_report(
    result: RunResult, words: Words | None = None, since: Since | None = None, tell: Counted = uncounted
) -> str:
    """Return the report as HTML; the same run gives the same text.

    Parameters
    ----------
    result
        The run.
    words
        A language to use instead of the programme's own.
    since
        What changed since the run before; None: worked out here.
    tell
        Is told the sections worked out.
    """
    since = since or since_last(result)
    words = words or words_of(result.settings.programme.language)
    values = since_last_run(result, words, since)
    for done, section in enumerate(_VALUES):
        tell(done, len(_VALUES), "sections")
        values |= section(result, words)
    page = render_page(
        "report.html",
        words,
        name=result.settings.programme.name,
        as_of=result.as_of,
        account=result.account,
        sections=_SECTIONS,
        cautions=result.catalogue.cautions,
        sources=result.inputs.credits,
        writes=result.settings.publish.writes,
        **values,
    )
    if not result.settings.publish.writes("map.html"):
        return without_links_to_map(page)
    if not result.has_district_maps:
        return page
    cores = result.counted_table[["core_id", "district"]]
    return links_by_district(page, cores, maps_of(cores, IN_FOLDER))
