"""The document as text: within its width, without markup and without characters that control a terminal."""

from markupsafe import Markup

from pipeline.publish.explain.parts import Document, Grid, Listing, Paragraph, Section
from pipeline.publish.explain.text import as_text

_SECTION = Section(
    "Part",
    (
        Paragraph(Markup("One <bdi>a &amp; b</bdi>.")),
        Listing(("x = 1", "y = 2"), is_sum=True),
        Grid("Table", ("left", "right"), ((Markup("<b>cell</b>"), "\x1b[31mred\x07"), ("long " * 40, "short"))),
    ),
)
_DOCUMENT = Document("window", Markup("<bdi>Core 1</bdi>"), "under", (Paragraph("top", is_strong=True),), (_SECTION,))


def test_titles_paragraphs_lines_and_tables_follow_each_other():
    lines = as_text(_DOCUMENT, 60).splitlines()
    assert lines[:4] == ["Core 1", "======", "under", "top"]
    assert lines[5:9] == ["# Part", "One a & b.", "  x = 1", "  y = 2"]
    assert "Table" in lines
    assert any("cell" in line and "red" in line for line in lines)


def test_no_line_is_wider_than_asked():
    for width in (40, 80):
        assert max(map(len, as_text(_DOCUMENT, width).splitlines())) <= width


def test_no_cell_can_control_the_terminal():
    assert all(letter.isprintable() or letter == "\n" for letter in as_text(_DOCUMENT, 60))


def test_a_table_without_heads_or_rows_is_drawn():
    section = Section("Part", (Grid("Facts", (), (("a", "b"),)), Grid("None", ("a", "b"), ())), level=2)
    text = as_text(Document("w", "t", "u", (), (section,)), 60)
    assert "a   b" in text
    assert "None" in text
