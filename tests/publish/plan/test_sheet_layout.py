"""Tests of how much paper a text takes."""

import re
from importlib import resources

import pytest
from markupsafe import Markup

from pipeline.publish.plan.sheet_layout import LAYOUTS, rows_of, text_width


def test_a_text_is_as_wide_as_its_words_and_a_blank_after_each():
    # "aa" is two letters of 0.556 em, a blank 0.28 em; bold letters are 6 % wider
    assert text_width("aa", 10) == pytest.approx(13.92)
    assert text_width("aa aa", 10) == pytest.approx(27.84)
    assert text_width(Markup("<b><bdi>aa</bdi></b> aa"), 10) == pytest.approx(13.92 * 1.06 + 13.92)


def test_a_word_that_does_not_fit_goes_to_the_next_line():
    assert rows_of("aa aa aa", 28, 10) == 2
    assert rows_of("aa aa", 28, 10) == 1
    assert rows_of("aa aa", 28, 10, first=14.5) == 2
    assert rows_of("aa aa\u00a0aa", 42, 10) == 2
    assert rows_of("", 28, 10) == 1


def test_a_word_wider_than_the_line_is_broken():
    # 20 letters are 111.2 and a blank 2.8
    assert rows_of("a" * 20, 50, 10) == 3


def test_what_is_read_at_the_hole_is_large_enough_in_every_layout():
    assert min(layout.letter_pt for layout in LAYOUTS) >= 10.5


def test_the_layouts_have_the_sizes_of_the_style_sheet():
    sheet = (resources.files("pipeline.publish.pages") / "templates" / "crew_sheets.css").read_text("utf-8")
    for layout in LAYOUTS:
        mine = "".join(re.findall(rf"^\.{layout.name}[^\n]*", sheet, re.MULTILINE))
        assert f".{layout.name} {{ font-size: {layout.letter_pt:g}pt; line-height: {layout.line:g}mm; }}" in mine
        assert f".{layout.name} h3, .{layout.name} .bags {{ line-height: {layout.title:g}mm; }}" in mine
        assert f".{layout.name} .id {{ font-size: {layout.id_pt:g}pt; }}" in mine
        assert f".{layout.name} .boxes {{ height: {layout.boxes:g}mm; }}" in mine
        assert f".{layout.name} .code div {{ height: {layout.code:g}mm; }}" in mine
        assert f".{layout.name} article {{ padding-right: {layout.code + 1.5:g}mm; }}" in mine
