"""How values are shown: by the column they are of, in words where there are words for them, quoted where people wrote them."""

import pandas as pd
import pytest

from tests.publish.explain.rows import SHOW


@pytest.mark.parametrize(
    ("name", "value", "shown"),
    [
        ("depth_mm", 203.2, "203.2\N{NO-BREAK SPACE}mm"),
        ("segment_confidence", 0.98765, "0.98765"),
        ("segment_cores", 4.0, "4"),
        ("is_open", True, "yes"),
        ("is_thin", False, "no"),
        ("surface", "asphalt", "asphalt"),
        ("side", "left", "Left of the segment's direction"),
        ("crew", "Crew A", "“Crew A”"),
        ("opened_on_text", "1 May", "“1 May”"),
        ("depth_mm", None, "missing"),
        ("opened_on", pd.NaT, "missing"),
        ("copy_of", pd.NA, "missing"),
        ("not_a_column", "text", "text"),
    ],
)
def test_a_value_is_shown_by_its_column(name, value, shown):
    text = SHOW.value(name, value)
    assert (text.striptags() if hasattr(text, "striptags") else text) == shown


def test_text_of_a_register_is_escaped():
    assert "<script>" not in SHOW.value("remarks", "<script>alert(1)</script>")


def test_a_day_has_no_time_and_an_instant_has_its_zone():
    assert SHOW.instant(pd.Timestamp("2026-05-30")).striptags() == "30 May 2026"
    assert SHOW.instant(pd.Timestamp("2026-05-30 00:00", tz="Asia/Kolkata")).striptags() == "30 May 2026"
    # the first instant of a day that has no midnight
    assert SHOW.instant(pd.Timestamp("2026-09-06 01:00", tz="America/Santiago")).striptags() == "6 Sept 2026"
    assert (
        SHOW.instant(pd.Timestamp("2026-05-30 14:05", tz="Asia/Kolkata")).striptags()
        == "30 May 2026, 14:05 (UTC+05:30)"
    )


@pytest.mark.parametrize(
    ("share", "shown"), [(0.413, "41.3%"), (1.0, "100.0%"), (0.99995, "99.9950%"), (0.00002, "0.0020%"), (0.0, "0.0%")]
)
def test_a_share_that_is_nearly_all_is_not_shown_as_all(share, shown):
    assert SHOW.share(share) == shown


@pytest.mark.parametrize(("value", "shown"), [(0.12345, "0.1235"), (1.0, "1"), (1.234e-9, "1.234e-09"), (0.0, "0")])
def test_a_likelihood_has_four_digits(value, shown):
    assert SHOW.likelihood(value) == shown


def test_a_column_of_another_version_is_called_by_its_name():
    assert SHOW.label("depth_mm") == "Depth"
    assert SHOW.label("not_a_column") == "not_a_column"
