"""Every core of a sheet arrives, and no other row does, whatever is written between the cores.

The answer is the cores and the other rows that each sheet is made of, drawn before it is written.
"""

import csv

import pytest
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.intake.files.layers import read_raw
from pipeline.programme.settings import Cores

COLUMNS = ["No.", "Cut", "Lon", "Lat", "Ø", "Depth", "Street", "Bags"]
SECTION = {
    "x": "Lon", "y": "Lat", "crs": "EPSG:4326",
    "columns": {"core_id": "No.", "diameter": "Ø", "depth": "Depth", "opened_on": "Cut", "bags_used": "Bags"},
}  # fmt: skip
CORE = {"Cut": "2026-03-04", "Lon": "-82.19", "Lat": "44.81", "Ø": "450", "Depth": "200", "Street": "Quay", "Bags": "2"}
IDS = ["HV-{}", "{}", "26/{}/K", "C{}", "HV {} b"]
# above the header, beneath it, and between the cores or after them
TITLES = [{}, {"No.": "Register of cores"}, {"Lon": "Quay Gang"}, {"No.": "Month:", "Lat": "March 2026"}]
UNITS = {"Lon": "deg", "Lat": "deg", "Ø": "mm", "Depth": "mm", "Bags": "no."}
OTHERS = [
    {},
    {"No.": "  "},
    {"No.": "Total March", "Bags": "45"},
    {"No.": "TOTAL", "Ø": "9000", "Depth": "4000", "Bags": "45"},
    {"Street": "Total", "Bags": "45"},
    {"Street": "Carried forward", "Bags": "45"},
    {"Bags": "1,204"},
    {"Ø": "9000", "Depth": "4000", "Bags": "45"},
    {"No.": "Average", "Ø": "441.5", "Depth": "211.3"},
    {"No.": "31 cores", "Bags": "45"},
    {"No.": "April 2026"},
    {"No.": "Checked by J. Field"},
    {"No.": "Checked by:", "Street": "J. Field", "Bags": "31/03/2026"},
    {"Street": "Page 3 of 9"},
    {"No.": "----", "Street": "------"},
    dict(zip(COLUMNS, COLUMNS)),
]
# what a crew may leave empty; the id alone is left in the last
GAPS = [[], ["Bags"], ["Cut", "Street"], ["Lon", "Lat"], ["Ø", "Depth"], list(CORE)]


@st.composite
def _sheets(draw):
    """Rows of a sheet as cells by column, and for each whether it is a core."""
    template = draw(st.sampled_from(IDS))
    rows = [(row, False) for row in draw(st.lists(st.sampled_from(TITLES), max_size=3))]
    rows += [(dict(zip(COLUMNS, COLUMNS)), None), *([(UNITS, False)] if draw(st.booleans()) else [])]
    gaps = [[], *draw(st.lists(st.sampled_from(GAPS), min_size=2, max_size=12))]
    for number, gap in enumerate(gaps, start=draw(st.integers(1, 2000))):
        core = {name: "" if name in gap else cell for name, cell in CORE.items()}
        rows.append(({"No.": template.format(number), **core}, True))
        rows += [(row, False) for row in draw(st.lists(st.sampled_from(OTHERS), max_size=2))]
    return [([row.get(name, "") for name in COLUMNS], is_core) for row, is_core in rows]


def _as_text(path, rows):
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(rows)


def _as_workbook(path, rows):
    """Write a sheet after another that holds no cores; numbers are numbers."""
    with xlsxwriter.Workbook(str(path), {"strings_to_numbers": True}) as book:
        book.add_worksheet("Rates").write_column(0, 0, ["Item", "Grout"])
        sheet = book.add_worksheet("March")
        for place, row in enumerate(rows):
            sheet.write_row(place, 0, row)


@pytest.mark.parametrize(("name", "write", "sheets"), [("a.csv", _as_text, 25), ("a.xlsx", _as_workbook, 8)])
def test_every_core_arrives_in_its_place_and_every_other_row_is_set_aside(tmp_path, name, write, sheets):
    @settings(max_examples=sheets, deadline=None)
    @given(_sheets())
    def holds(sheet):
        write(tmp_path / name, [cells for cells, _ in sheet])
        table = read_raw(Cores(path=name, **SECTION), tmp_path, "cores", None)
        cores = [(place, cells[0]) for place, (cells, is_core) in enumerate(sheet, start=1) if is_core]
        # blank rows before the first filled one, and after the last, are none of the table
        first = next(place for place, (cells, _) in enumerate(sheet, start=1) if any(cells))
        others = [place for place, (_, is_core) in enumerate(sheet, start=1) if is_core is False and place >= first]
        assert list(zip(table.places.tolist(), table.frame["No."].str.strip())) == cores
        last = max(place for place, _ in cores)
        aside = table.set_aside["place"].tolist()
        assert [place for place in aside if place < last] == [place for place in others if place < last]
        assert set(aside) <= set(others)

    holds()
