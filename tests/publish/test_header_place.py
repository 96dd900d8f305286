"""Where a table begins is said with its sheet, and not twice."""

import pytest

from pipeline.publish.header_place import header_shown
from pipeline.publish.words import words_of


@pytest.mark.parametrize(
    ("label", "sheet", "place", "shown"),
    [
        ("cores.csv", "", 3, "header in line 3"),
        ("book.xlsx", "Jan", 4, "sheet “Jan”, header in row 4"),
        ("book.xlsx, sheet Jan", "Jan", 4, "header in row 4"),
        ("cores.gpkg", "", 0, ""),
    ],
)
def test_where_a_table_begins(label, sheet, place, shown):
    assert header_shown(label, sheet, place, words_of("en").plainly, str) == shown
