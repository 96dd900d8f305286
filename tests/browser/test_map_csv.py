"""The filtered list saved as a CSV file."""

import csv
import io

import pytest

from tests.browser.browser import open_page
from tests.browser.town import (
    FIVE,
    FIVE_FINDINGS,
    saved,
    view,
    wait_until_drawn,
)


def test_the_list_is_saved_as_csv_without_formulas(tmp_path):
    wild = FIVE.assign(
        street=["=1+1", "+2", "-3+4", "@four", '\tfive\r\n"quoted", and more'],
        core_id=['=HYPERLINK("x")', "'=2", "－3", "-4,50", "C-5"],
        surface=["''@x", "'s", "+1.2.3", "-٣", "＝１"],
    )
    with open_page(saved(tmp_path, view(cores=wild, findings=FIVE_FINDINGS)), accept_downloads=True) as page:
        wait_until_drawn(page)
        with page.page.expect_download() as waited:
            page.page.click("#filter-buttons button:nth-of-type(2)")
        saved_as = tmp_path / "list.csv"
        waited.value.save_as(saved_as)
        assert waited.value.suggested_filename == "cores-2026-11-25.csv"
        text = saved_as.read_bytes().decode("utf-8-sig")
        rows = list(csv.DictReader(io.StringIO(text, newline="")))
        assert [row["street"] for row in rows] == ["'=1+1", "+2", "'-3+4", "'@four", '\'\tfive\r\n"quoted", and more']
        assert [row["core_id"] for row in rows] == ['\'=HYPERLINK("x")', "''=2", "'－3", "-4,50", "C-5"]
        assert [row["surface"] for row in rows] == ["'''@x", "'s", "'+1.2.3", "'-٣", "'＝１"]
        # a number is a number, below zero too
        assert float(rows[0]["lon"]) == pytest.approx(-82.003, abs=1e-6)
        assert rows[0]["findings"] == "open-too-long;road-uncertain"
        assert [rows[3]["opened_on"], rows[3]["reinstated_at"], rows[4]["lat"]] == ["2026-02-20", "2026-04-01", ""]
        page.ask("kerfbook.filter.ask('status', new Set(['pending']))")
        with page.page.expect_download() as waited:
            page.page.click("#filter-buttons button:nth-of-type(2)")
        waited.value.save_as(saved_as)
        # a head and one core
        assert saved_as.read_bytes().count(b"\r\n") == 2
        assert page.complaints == []
