"""Districts, streets and ages, as ``rates.csv`` has them."""

import re
from dataclasses import replace

import pytest

from pipeline.publish.report.places import places_and_ages
from pipeline.publish.report.report import draw_report
from pipeline.publish.report.shares import groups_of
from pipeline.publish.words import words_of
from tests.publish.report.pages import table_of, text_of

_WORDS = words_of("en")


@pytest.fixture(scope="module")
def page(demo):
    return draw_report(demo)


@pytest.fixture(scope="module")
def shown(demo):
    return places_and_ages(demo, _WORDS)


@pytest.mark.parametrize(
    ("caption", "by", "measure"),
    [
        ("district-shares", "district", "flagged"),
        ("street-shares", "street", "flagged"),
        ("age-open", "days open", "flagged"),
        ("age-reinstated", "days since reinstatement", "work findings"),
    ],
)
def test_a_table_shows_what_rates_csv_holds(demo, page, caption, by, measure):
    rates, table = demo.audit.rates, table_of(page, caption)
    every = rates[rates["by"].eq(by) & rates["measure"].eq(measure)].set_index("group")
    rows = re.findall(r'<tr><th scope="row">(.*?)</th><td class="n">(\d+)</td><td class="n">(\d+)</td>', table)
    assert len(rows) == min(len(every), 15)
    for name, cores, found in rows:
        group = re.sub(r"<bdi>|</bdi>| <span.*", "", name).replace("–", " to ")
        group = re.sub(r"^(\d+)\+$", lambda over: f"over {int(over[1]) - 1}", group)
        one = every.loc[group]
        assert (int(cores), int(found)) == (one["cores"], one["with_findings"])
        assert f"{one['low']:.1%} – {one['high']:.1%}" in table
        assert ("Too few to tell" in name) == (one["cores"] < 5)


def test_streets_with_the_most_flagged_cores_come_first_and_are_not_compared(demo, page):
    rows = re.findall(r'</th><td class="n">(\d+)</td><td class="n">(\d+)</td>', table_of(page, "street-shares"))
    order = [(-int(flagged), -int(cores)) for cores, flagged in rows]
    assert order == sorted(order)
    streets = demo.audit.rates[demo.audit.rates["by"].eq("street")]
    assert streets["p"].isna().all()
    assert "Streets are not compared with one another." in page


def test_cores_without_a_street_are_counted(demo, shown):
    assert shown["streetless"] == int(demo.cores["street_matched"].isna().sum()) > 0
    assert shown["streets_left"] == len(groups_of(demo, "street")) - 15


def test_only_the_largest_districts_are_shown_and_the_rest_are_counted(demo):
    """42 districts: one has two cores and the others one each, in the order of their names."""
    names = [f"D{number:02}" for number in range(1, 43)]
    cores = demo.cores.iloc[:43].assign(district=[*names, "D42"])
    shown = places_and_ages(replace(demo, cores=cores), _WORDS)
    assert shown["districts_left"] == 2
    named = re.findall(r'<text x="0.00%"[^>]*>\u2068(D\d\d)\u2069</text>', str(shown["district_bars"]))
    assert named == [*names[:39], "D42"]


def test_cores_outside_every_district_have_a_bar_but_no_share(demo, shown):
    assert "(no district)" in shown["district_bars"]
    assert "(no district)" not in [text_of(row["name"]) for row in shown["districts"]["rows"]]
    outside = demo.cores["district"].isna().sum()
    assert re.search(rf'text-anchor="end" fill="#\w+">{outside}</text>', shown["district_bars"])


def test_every_range_of_days_has_a_column_and_those_without_cores_no_row(shown):
    """Ranges of days open end after 7, 14, 30, 60, 90 and 180 days: seven columns."""
    labels = ["0–7", "8–14", "15–30", "31–60", "61–90", "91–180", "181+"]
    chart = str(shown["age_open"]["chart"])
    assert [label for label in labels if f">{label}</text>" in chart] == labels
    rows = {row["name"]: int(row["cores"]) for row in shown["age_open"]["rows"]}
    assert set(rows) < set(labels)
    assert all(rows.values())


def test_open_cores_without_a_readable_opening_date_are_counted(demo):
    mine = demo.cores.index[demo.cores["is_open"]][:3]
    cores = demo.cores.assign(opened_on=demo.cores["opened_on"].mask(demo.cores.index.isin(mine)))
    before = int((demo.cores["is_open"] & demo.cores["opened_on"].isna()).sum())
    assert places_and_ages(replace(demo, cores=cores), _WORDS)["undated"] == before + 3


def test_without_dates_there_is_no_chart_of_ages(demo):
    rates = demo.audit.rates[~demo.audit.rates["by"].isin(["days open", "days since reinstatement"])]
    shown = places_and_ages(replace(demo, audit=replace(demo.audit, rates=rates)), _WORDS)
    assert (shown["age_open"]["chart"], shown["age_open"]["rows"]) == (None, [])
    assert (shown["age_reinstated"]["chart"], shown["age_reinstated"]["rows"]) == (None, [])
