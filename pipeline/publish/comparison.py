"""The outputs of a comparison: a table of changes, a workbook and a page."""

import re
from collections.abc import Hashable, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.errors import OutputError
from pipeline.publish.folder import new_folder, same_but_for
from pipeline.publish.held import held
from pipeline.publish.looks import STATUS_LOOKS
from pipeline.publish.pages.charts import stacked_bars
from pipeline.publish.pages.page import render_page
from pipeline.publish.report.changes import change_meaning, change_words, changes_shown, trend_shown
from pipeline.publish.report.decisions import decisions_between
from pipeline.publish.report.names import district_name
from pipeline.publish.tables import write_csv, write_workbook
from pipeline.publish.urgent_first import changes_in_order
from pipeline.publish.words import Words, words_of
from pipeline.readback.cores_table import holds_run
from pipeline.readback.runs import Run
from pipeline.results import Comparison

__all__ = ["draw_comparison", "write_comparison"]

_NAMES: Final = ("changes.csv", "changes.xlsx", "compare.html")
_SHOWN: Final = 25
# the changes whose cells before and after hold short names of rules, and what such a name looks like
_OF_RULES: Final = {"newly flagged", "cleared", "new finding", "cleared finding", "opened", "removed", "not comparable"}
_SLUG: Final = re.compile(r"\b[a-z]+(?:-[a-z]+)+\b")
_BY_DISTRICT: Final = ("opened", "closed", "reopened", "newly flagged", "cleared", "removed", "not comparable")


def write_comparison(comparison: Comparison, out: Path, cautions: Sequence[str]) -> Path:
    """Write the outputs into a folder, all or none, and return it.

    Parameters
    ----------
    comparison
        What changed.
    out
        The folder: new, empty, or that of an earlier comparison.
    cautions
        Sentences for the end of the page.

    Raises
    ------
    OutputError
        The folder is in a run's folder, contains something else, or cannot be written to.
    """
    _refuse(out)
    changes = comparison.changes
    title = f"{comparison.after.programme}, changes from {comparison.before.as_of} to {comparison.after.as_of}"
    english = words_of("en")
    meanings = [change_meaning(kind, english) for kind in changes.kinds["change"]]
    caveats = pd.DataFrame({"before reading the counts": comparison.caveats}, dtype="str")
    sheets = {
        "Changes": changes.lines,
        "Counts": changes.kinds.assign(meaning=meanings),
        "How counts changed": changes.stock,
        "By rule": changes.rules,
        "By district": changes.districts,
        "Rows": pd.DataFrame({"rows": list(changes.account), "count": list(changes.account.values())}),
        "Trend": comparison.trend,
        "Read first": caveats,
    }
    with held(out), new_folder(out, lambda new, old: same_but_for("", new, old)) as folder:
        write_csv(changes.lines, folder / "changes.csv")
        write_workbook(sheets, title, comparison.after.as_of, folder / "changes.xlsx")
        page = draw_comparison(comparison, cautions)
        (folder / "compare.html").write_text(page, encoding="utf-8", newline="\n")
    return out


def _refuse(out: Path) -> None:
    """Refuse a run's folder, which never changes, and a folder with other files."""
    resolved = out.resolve()
    for folder in (resolved, *resolved.parents):
        if holds_run(folder):
            raise OutputError(
                f"{out}: is in a run's folder, which must stay unchanged. Choose another folder with --out."
            )
    try:
        names = sorted(file.name for file in resolved.iterdir()) if resolved.is_dir() else []
    except OSError as error:
        raise OutputError(f"{out}: cannot be read ({error.strerror}). Choose another folder with --out.") from error
    others = [name for name in names if name not in _NAMES]
    if others or (resolved.exists() and not resolved.is_dir()):
        found = f"contains {others[0]!r}" if others else "is a file"
        raise OutputError(
            f"{out}: {found}; a comparison needs a folder of its own. Choose a new or empty one with --out."
        )


def draw_comparison(comparison: Comparison, cautions: Sequence[str], words: Words | None = None) -> str:
    """Return the whole page; the same comparison gives the same text.

    Parameters
    ----------
    comparison
        What changed.
    cautions
        Sentences for the end of the page.
    words
        A language instead of that of the later run.
    """
    before, after, changes = comparison.before, comparison.after, comparison.changes
    words = words or words_of(_language(after.record))
    counts = pd.DataFrame(
        [
            run.counted_cores["status"].value_counts().reindex(list(STATUS_LOOKS), fill_value=0).to_dict()
            for run in (before, after)
        ],
        index=[words.plainly("compare.as_of", day=words.day(run.as_of)) for run in (before, after)],
    )
    kinds = [kind for kind in _BY_DISTRICT if changes.districts[kind].any()]
    return render_page(
        "compare.html",
        words,
        name=after.programme,
        since=changes_shown(before, after, changes, comparison.caveats, words),
        status_bars=stacked_bars(counts, "before-after", words.plainly("chart.before_after"), words),
        kinds=[change_words(kind, words)["change"] for kind in kinds],
        has_bags="bags_before" in changes.districts,
        districts=[
            {
                "district": district_name(str(district["district"]), words),
                "counts": [words.number(district[kind]) if district[kind] else "" for kind in kinds],
                # a pack has no bags
                "bags": [words.number(district[name], 1) for name in ("bags_before", "bags_after") if name in district],
                "difference": words.signed(district["bags_difference"], 1) if "bags_difference" in district else None,
            }
            for district in changes.districts.to_dict("records")
        ],
        groups=_lines_by_kind(
            changes_in_order(changes.lines, before.cores, after.cores), list(changes.kinds["change"]), words
        ),
        decided=decisions_between(before, after, words),
        trend=trend_shown(comparison.records, words),
        notices=[words.own(notice) for notice in comparison.notices],
        runs=[
            {"as_of": run.as_of, "programme": words.own(run.programme), "sha256": _digest(run, words)}
            for run in (before, after)
        ],
        cautions=cautions,
    )


def _digest(run: Run, words: Words) -> Markup:
    """Return the start of the register's checksum; a pack does not hold it."""
    return words.say("compare.no_digest") if run.is_pack else words.own(run.register_sha256[:12])


def _language(record: Mapping[str, Any]) -> str:
    """Return the language of a run; runs without the setting are in English."""
    settings = record.get("settings")
    programme = settings.get("programme") if isinstance(settings, Mapping) else None
    return str(programme.get("language", "en")) if isinstance(programme, Mapping) else "en"


def _in_words(line: dict[Hashable, Any], words: Words) -> dict[Hashable, Any]:
    """Return a change with the rules' labels for their short names: "flagged: Open too long"."""
    if line["change"] not in _OF_RULES:
        return line
    labels = {name: _SLUG.sub(lambda slug: words.rule(slug[0]), line[name]) for name in ("before", "after")}
    return line | labels


def _lines_by_kind(lines: pd.DataFrame, kinds: list[str], words: Words) -> list[dict[str, Any]]:
    rows = {"row_before": lines["row_before"].astype("str"), "row_after": lines["row_after"].astype("str")}
    shown = lines.assign(**rows).fillna("")
    total = lines["change"].value_counts()
    return [
        {
            **change_words(kind, words),
            "name": kind.replace(" ", "-"),
            "total": int(total[kind]),
            "rows": [
                {name: words.own(cell) for name, cell in _in_words(line, words).items()}
                for line in shown[shown["change"].eq(kind)].head(_SHOWN).to_dict("records")
            ],
        }
        for kind in kinds
        if kind in total
    ]
