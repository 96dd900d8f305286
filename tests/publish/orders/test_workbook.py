"""The order as a workbook, and in the reader's units."""

import datetime as dt
import zipfile
from xml.etree import ElementTree as ET

import pandas as pd
import pytest
from python_calamine import CalamineWorkbook

from pipeline.publish.orders.workbook import _levels, _sheet_name
from pipeline.publish.tables import write_workbook


@pytest.fixture(scope="module")
def book(demo):
    return CalamineWorkbook.from_path(str(demo.folder / "orders.xlsx"))


def _sheet(book, name):
    head, *rows = book.get_sheet_by_name(name).to_python()
    # lines under the table come after a blank one
    blank = next((at for at, row in enumerate(rows) if not any(row)), len(rows))
    return pd.DataFrame(rows[:blank], columns=head)


def test_there_is_a_sheet_for_every_district_a_total_and_all_that_a_buyer_asks(demo, book):
    districts = sorted(demo.orders.lines["district"].unique())
    names = ["Total", "Order by district", *districts, "Purchases", "Purchases in all", "Sharing", "Safety stock"]
    others = [
        "Service levels",
        "Costs",
        "Budget",
        "Plan",
        "Not planned",
        "Loads this week",
        "Work list",
        "Not ordered",
        "How to read it",
    ]
    assert book.sheet_names == [*names, *others]


def test_the_heads_of_the_sheets_are_words(book):
    heads = {str(head) for name in book.sheet_names[:-1] for head in _sheet(book, name).columns}
    assert not [head for head in heads if "_" in head]
    assert {"order by", "days late", "safety stock", "to buy", "to load", "core ids"} <= heads


def test_the_districts_add_up_to_the_total(demo, book):
    total = _sheet(book, "Total")
    whole = total[total["period"].eq("all periods")].set_index("item")
    parts = pd.concat([_sheet(book, name) for name in sorted(demo.orders.lines["district"].unique())])
    for item, one in whole.iterrows():
        mine = parts[parts["item"].eq(item)]
        assert mine.loc[mine["period"].eq("all periods"), "net need"].sum() == pytest.approx(one["net need"], abs=1e-4)
        assert mine.loc[mine["period"].ne("all periods"), "in whole packs"].sum() == pytest.approx(
            one["in whole packs"], abs=1e-4
        )


def test_a_manager_reads_why_so_many_bags_and_what_more_service_costs(demo, book):
    text = " ".join(row[0] for row in book.get_sheet_by_name("How to read it").to_python())
    assert f"with sharing they take {demo.orders.sharing['shared'].sum():,.0f}, which are ordered." in text
    levels = _sheet(book, "Service levels")
    enough = levels[levels["shade"].eq("all shades")].set_index("service level")["bags that suffice"]
    assert enough["90%"] <= enough["95%"] <= enough["99%"]
    assert enough["90%"] < enough["99%"]


def test_a_level_is_named_with_the_digits_it_has():
    totals = pd.DataFrame({"level": [0.95, 0.995], "shade": [None, "dark"], "enough": [7, 9]})
    assert _levels(totals)["service_level"].tolist() == ["95%", "99.5%"]


def test_grout_is_called_the_same_in_sharing_and_safety_stock(demo, book):
    sharing, stock = _sheet(book, "Sharing"), _sheet(book, "Safety stock")
    assert sharing["net grout"].sum() == pytest.approx(demo.orders.sharing["needed"].sum(), abs=1e-4)
    mixed = demo.orders.sharing["shared"].sum()
    assert sharing["bags to mix"].sum() == stock["bags to mix"].sum() == pytest.approx(mixed)


def test_costs_and_budget_have_their_sheets_with_the_currency_in_the_head(demo, book):
    costs, budget = _sheet(book, "Costs"), _sheet(book, "Budget")
    assert len(costs) == len(demo.orders.costs)
    forecast = costs[costs["period"].ne("so far")]["amount (CAD)"].astype(float).sum()
    total = budget[budget["period"].eq("all periods")].iloc[0]
    assert float(total["forecast (CAD)"]) == pytest.approx(forecast, abs=0.01)
    assert float(total["beyond the budget"]) == pytest.approx(forecast - 350_000, abs=0.01)


def test_each_sheet_prints_who_decides_on_water_and_how_to_lift(demo, book):
    with zipfile.ZipFile(demo.folder / "orders.xlsx") as file:
        sheets = [file.read(name).decode() for name in file.namelist() if name.startswith("xl/worksheets/sheet")]
    said = [sheet for sheet in sheets if "Grout and water: the data sheet of the bag decides." in sheet]
    # the sheet "How to read it" says so in its text
    assert len(said) == len(sheets) - 1 == len(book.sheet_names) - 1
    assert "data sheet decides" in str(book.get_sheet_by_name("How to read it").to_python())


def test_the_sharing_sheet_agrees_with_the_lines(demo):
    lines = demo.orders.lines
    bags = lines[lines["item"].str.startswith("grout")].set_index(["district", "period", "item"])["packs"]
    sharing = demo.orders.sharing.assign(item="grout " + demo.orders.sharing["shade"])
    assert bags.to_dict() == sharing.set_index(["district", "period", "item"])["shared"].to_dict()
    assert (sharing["shared"] <= sharing["alone"]).all()


def test_names_that_a_sheet_cannot_have_are_made_so_and_stay_apart():
    taken = {"total"}
    names = [_sheet_name(name, taken) for name in ("Total", "a/b:c", "x" * 40, "x" * 40, "[]", "'quoted'")]
    assert len({name.casefold() for name in names}) == len(names)
    assert all(0 < len(name) <= 31 and not set(name) & set("[]:*?/\\") for name in names)
    assert names[0] == "Total (2)"


def test_the_work_list_and_the_plan_have_each_stop_and_the_bags_of_the_orders(demo, book):
    stops = demo.plan.stops
    for name in ("Plan", "Work list"):
        shown = _sheet(book, name)
        assert len(shown) == len(stops)
        assert pd.to_numeric(shown["bags to mix"]).sum() == pytest.approx(demo.orders.sharing["shared"].sum())


def test_cores_that_are_not_ordered_for_and_work_that_is_not_planned_have_their_ids(demo, book):
    left = _sheet(book, "Not ordered")
    assert left["core ids"].str.split("; ").str.len().tolist() == left["cores"].astype(int).tolist()
    assert len(_sheet(book, "Not planned")) == len(demo.plan.not_planned)


def test_the_cautions_are_once_under_the_work_list(book):
    rows = [row[0] for row in book.get_sheet_by_name("Work list").to_python()]
    key = [str(row) for row in rows if str(row).startswith("Cautions ")]
    letters = set(_sheet(book, "Work list")["cautions"])
    assert {line.split(":")[0].removeprefix("Cautions ") for line in key} == letters
    assert len(key) == len(set(key))


def test_what_is_bought_is_said_beside_what_is_planned(demo, book):
    text = " ".join(str(row[0]) for row in book.get_sheet_by_name("Purchases in all").to_python())
    for total in demo.orders.purchase_totals.to_dict("records"):
        assert (
            f"{total['item']}: {total['packs_ordered']:.0f} packs to buy: {total['packs_planned']:.0f} for the plan"
            in text
        )


def test_every_sheet_prints_across_one_page_with_its_heads_and_its_name(demo):
    with zipfile.ZipFile(demo.folder / "orders.xlsx") as file:
        names = sorted(name for name in file.namelist() if name.startswith("xl/worksheets/sheet"))
        sheets = [file.read(name).decode() for name in names]
        defined = file.read("xl/workbook.xml").decode()
    for sheet in sheets:
        assert 'fitToPage="1"' in sheet
        assert "Page &amp;P of &amp;N" in sheet
    # all but the page of notes
    assert defined.count("_xlnm.Print_Titles") == defined.count("_xlnm.Print_Area") == len(sheets) - 1


_ODD_NAMES = [
    "bell\x07 and colour\x1b[31m",
    "\ufffe\uffff",
    "turned \u202eover",
    "x" * 30 + "'",
    "x" * 30 + "''quay",
    "\U0001f6a7" * 31,
    "\U0001f6a7" * 40,
    "''''",
    " ' ",
    "<b>&amp;</b>",
    "History",
    "=1+1",
]


def test_no_name_of_a_district_or_programme_spoils_the_workbook(tmp_path):
    """Read by an XML parser, which refuses what no XML may hold, and by another program's rules for names of sheets."""
    taken = {"history"}
    names = [_sheet_name(name, taken) for name in _ODD_NAMES * 2]
    lines = pd.DataFrame({"district": _ODD_NAMES, "needed": 1.0})
    write_workbook(
        dict.fromkeys(names, lines), "".join(_ODD_NAMES), dt.date(2026, 9, 30), tmp_path / "o.xlsx", _ODD_NAMES, "Lift.",
        dict.fromkeys(names[:3], _ODD_NAMES),
    )  # fmt: skip
    with zipfile.ZipFile(tmp_path / "o.xlsx") as book:
        for part in book.namelist():
            ET.fromstring(book.read(part))
    sheets = CalamineWorkbook.from_path(str(tmp_path / "o.xlsx"))
    assert sheets.sheet_names == [*names, "How to read it"]
    assert max(len(name.encode("utf-16-le")) for name in names) <= 62
    assert not [name for name in names if name.startswith("'") or name.endswith("'") or name.casefold() == "history"]
    plain = [name for name in _ODD_NAMES if name.isprintable()]
    held = [row[0] for row in sheets.get_sheet_by_name(names[0]).to_python()]
    assert set(plain) <= set(held)
