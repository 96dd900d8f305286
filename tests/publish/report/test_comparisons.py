"""Crews, surfaces and months: shares, differences, and where surfaces come from."""

from dataclasses import replace

import pandas as pd
import pytest

from pipeline.publish.report.comparisons import comparisons
from pipeline.publish.report.report import draw_report
from pipeline.publish.words import words_of
from tests.publish.report.pages import text_of

_WORDS = words_of("en")
_COLUMNS = {"p": 0.001, "low": 0.1, "high": 0.9, "measure": "flagged", "others_rate": 0.12}


def _rates(groups):
    return pd.DataFrame(
        [
            {
                **_COLUMNS,
                "by": by,
                "group": group,
                "cores": cores,
                "with_findings": cores // 2,
                "rate": 0.5,
                "differs": differs,
            }
            for by, group, cores, differs in groups
        ]
    )


def _with(demo, rates):
    return comparisons(replace(demo, audit=replace(demo.audit, rates=rates)), _WORDS)


def test_how_groups_are_compared_is_explained_once(demo):
    page = draw_report(demo)
    assert page.count("Fisher") == 1
    assert 'see <a href="#method">Method</a>' in page


@pytest.mark.parametrize(
    ("by", "group", "sentence"),
    [
        ("crew", "B", "Crew B : 50% of cores flagged; elsewhere 12%"),
        ("surface", "unknown", "Surface unknown : 50% of cores flagged; elsewhere 12%"),
        ("district", "Mill & Bank", "District Mill &amp; Bank : 50% of cores flagged; elsewhere 12%"),
        ("month", "2026-08", "Month 2026-08 : 50% of cores flagged; elsewhere 12%"),
    ],
)
def test_a_difference_is_a_sentence(demo, by, group, sentence):
    shown = _with(demo, _rates([(by, group, 20, "more"), (by, "other", 20, "")]))
    assert [text_of(difference) for difference in shown["differences"]] == [sentence]


def test_without_a_difference_nobody_is_ranked(demo):
    page = draw_report(replace(demo, audit=replace(demo.audit, rates=_rates([("crew", "A", 20, "")]))))
    assert "No group differs from the others beyond chance. Do not rank anyone by these shares." in page
    assert "Differences beyond chance" not in page


def test_the_largest_groups_are_shown_and_every_one_that_differs(demo):
    """17 crews with 10 to 26 cores: the 15 largest, and the smallest, which differs."""
    groups = [("crew", f"C{cores}", cores, "more" if cores == 10 else "") for cores in range(10, 27)]
    (table,) = _with(demo, _rates(groups))["crew_shares"]
    assert [text_of(row["name"]) for row in table["rows"]] == ["C10", *(f"C{cores}" for cores in range(12, 27))]
    assert (table["name"], table["left"]) == ("crew-flagged", 1)


def test_a_grouping_without_groups_has_no_table(demo):
    shown = _with(demo, _rates([("month", "2026-08", 20, "")]).assign(measure="workmanship"))
    assert shown["crew_shares"] == []
    assert [text_of(table["caption"]) for table in shown["surface_shares"]] == [
        "Months of reinstatement: share of cores with findings on placement, timing or shade"
    ]


def test_only_groups_that_were_compared_are_counted(demo):
    rates = _rates([("crew", "A", 20, ""), ("crew", "B", 3, "too few")])
    rates.loc[1, "p"] = float("nan")
    assert _with(demo, rates)["comparisons_made"] == 1


def test_surfaces_are_counted_by_where_they_come_from(demo):
    shown = {text_of(row["surface"]): row for row in comparisons(demo, _WORDS)["surface_sources"]}
    counts = demo.counted_cores.groupby(["surface", "surface_from"]).size()
    for name, row in shown.items():
        for source in ("polygon", "segment", "register", "none"):
            assert row[source] == counts.get((name, source), 0)
        assert row["cores"] == demo.counted_cores["surface"].eq(name).sum()
    assert (text_of(shown["concrete"]["suitable"]), text_of(shown["concrete"]["shade"])) == ("yes", "pale")
    assert (text_of(shown["block paving"]["suitable"]), text_of(shown["block paving"]["shade"])) == ("no", "")
