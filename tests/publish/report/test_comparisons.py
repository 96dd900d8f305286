"""Groups compared: shares, differences that hold or not, and where surfaces come from."""

from dataclasses import replace

import pandas as pd
import pytest

from pipeline.publish.report.comparisons import comparisons
from pipeline.publish.report.report import draw_report
from pipeline.publish.words import words_of
from tests.publish.report.pages import text_of

_WORDS = words_of("en")
_SAME = {
    "p": 0.001, "low": 0.1, "high": 0.9, "others_rate": 0.12, "alike_rate": 0.15, "checks": 40, "at_limit": 0,
    "design_effect": 1.25, "adjusted_by": "strata", "rate": 0.5, "with_findings": 20, "cores": 20,
}  # fmt: skip


def _rates(*groups, **others):
    """Return rows of rates.csv: a grouping, a group, a measure and how it differs each."""
    rows = [
        {**_SAME, "by": by, "group": group, "measure": measure, "differs": differs, **others}
        for by, group, measure, differs in groups
    ]
    return pd.DataFrame(rows)


def _with(demo, rates):
    return comparisons(replace(demo, audit=replace(demo.audit, rates=rates)), _WORDS)


def test_how_groups_are_compared_and_what_an_interval_means_is_explained_once(demo):
    page = draw_report(demo)
    assert page.count("Mantel and Haenszel") == 1
    assert page.count("it describes the process that produced them") == 1
    assert 'see <a href="#method">Method</a>' in page


@pytest.mark.parametrize(
    ("by", "group", "measure", "sentence"),
    [
        ("crew", "B", "workmanship", "Crew B , workmanship (findings per check): 50.0%, higher than elsewhere (12.0%; on alike cores 15.0%)"),
        ("contractor", "north", "grout-short", "Contractor or register north , Grout short : 50.0%, higher than elsewhere (12.0%; on alike cores 15.0%)"),
        ("district", "Mill & Bank", "workmanship", "District Mill &amp; Bank , workmanship (findings per check): 50.0%, higher than elsewhere (12.0%; on alike cores 15.0%)"),
    ],
)  # fmt: skip
def test_a_difference_that_holds_is_a_sentence_with_raw_and_adjusted_shares(demo, by, group, measure, sentence):
    shown = _with(demo, _rates((by, group, measure, "more"), (by, "other", measure, "not shown")))
    here, elsewhere = ("other_differences", "differences") if by == "district" else ("differences", "other_differences")
    assert [text_of(difference) for difference in shown[here]] == [sentence]
    assert not shown[elsewhere]
    assert not shown["disputed"]


@pytest.mark.parametrize(
    ("differs", "adjusted_by", "ending"),
    [
        ("raw only", "strata", "elsewhere 12.0%, but on alike cores elsewhere 15.0%"),
        ("raw only", "none", "elsewhere 12.0%, but too few cores elsewhere are alike to adjust for"),
        ("adjusted only", "strata", "on alike cores elsewhere 15.0%, but no difference beyond chance from all others (12.0%)"),
    ],
)  # fmt: skip
def test_where_raw_and_adjusted_disagree_the_report_says_so_and_reports_no_difference(
    demo, differs, adjusted_by, ending
):
    shown = _with(demo, _rates(("crew", "B", "workmanship", differs), adjusted_by=adjusted_by))
    assert not shown["differences"]
    assert [text_of(one) for one in shown["disputed"]] == [
        f"Crew B , workmanship (findings per check): 50.0%, {ending}"
    ]


def test_without_a_difference_nobody_is_ranked(demo):
    rates = _rates(("crew", "A", "workmanship", "not shown"))
    page = draw_report(replace(demo, audit=replace(demo.audit, rates=rates)))
    assert "No contractor or crew differs from the others beyond chance. Do not rank anyone by these shares." in page
    assert "Differences beyond chance" not in page
    assert "the upper end of the interval counts them as findings" in page


def test_who_does_not_record_is_named_with_the_rules_and_has_no_share(demo):
    rates = _rates(
        ("contractor", "north", "water-ratio-off", "not recorded"), ("contractor", "north", "grout-short", "not shown")
    )
    (one,) = _with(demo, rates)["unrecorded"]
    assert (text_of(one["group"]), one["rules"]) == ("north", ["water-ratio-off"])
    nothing = _rates(
        ("crew", "A", "workmanship", "not recorded"), checks=0, rate=float("nan"), design_effect=float("nan")
    )
    (table,) = _with(demo, nothing)["crew_shares"]
    (row,) = table["rows"]
    assert (row["share"], row["interval"], row["bar"], row["effect"]) == ("", "", "", "")
    assert row["note"] == "Not comparable: not recorded"


def test_a_group_that_records_less_is_marked_and_has_no_bar_beside_the_others(demo):
    rates = _rates(
        ("contractor", "north", "workmanship", "not shown"), ("contractor", "south", "workmanship", "not shown"),
        ("contractor", "north", "water-ratio-off", "not recorded"), ("crew", "south", "water-ratio-off", "not recorded"),
    )  # fmt: skip
    (table,) = _with(demo, rates)["crew_shares"]
    north, south = table["rows"]
    assert north["note"] == (
        "Records less, so fewer rules could find anything: compare only with the same rules elsewhere"
    )
    assert not north["bar"]
    assert south["bar"]
    assert south["note"] == ""


def test_a_table_shows_raw_and_adjusted_shares_and_the_design_effect(demo):
    (table,) = _with(demo, _rates(("crew", "A", "workmanship", "not shown")))["crew_shares"]
    (row,) = table["rows"]
    assert [row[key] for key in ("cores", "checks", "found", "share", "others", "alike", "effect")] == [
        "20", "40", "20", "50.0%", "12.0%", "15.0%", "1.25",
    ]  # fmt: skip


def test_the_largest_groups_are_shown_and_every_one_that_differs(demo):
    """17 crews with 10 to 26 cores: the 15 largest, and the smallest, which differs."""
    groups = [("crew", f"C{cores}", "workmanship", "more" if cores == 10 else "not shown") for cores in range(10, 27)]
    (table,) = _with(demo, _rates(*groups).assign(cores=range(10, 27)))["crew_shares"]
    assert [text_of(row["name"]) for row in table["rows"]] == ["C10", *(f"C{cores}" for cores in range(12, 27))]
    assert (table["name"], table["left"]) == ("crew-workmanship", 1)


def test_a_grouping_without_groups_has_no_table(demo):
    shown = _with(demo, _rates(("month", "2026-08", "workmanship", "not shown")))
    assert shown["crew_shares"] == []
    assert [table["name"] for table in shown["surface_shares"]] == ["month-workmanship"]


def test_only_groups_that_were_compared_are_counted(demo):
    rates = _rates(("crew", "A", "workmanship", "not shown"), ("crew", "B", "workmanship", "too few"))
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
