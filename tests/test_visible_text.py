"""Characters that nobody sees are shown by their numbers; what people write is left as it is."""

import unicodedata

import pytest

from pipeline.visible_text import in_line, visible


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("a\x1b[31mb", "a<U+001B>[31mb"),
        ("a\x9b31mb", "a<U+009B>31mb"),
        ("a\x00\x07\x08\x7fb", "a<U+0000><U+0007><U+0008><U+007F>b"),
        ("first\rsecond", "first<U+000D>second"),
        ("a\u202eb\u2066c\u200fd\u061ce", "a<U+202E>b<U+2066>c<U+200F>d<U+061C>e"),
        ("A\u200b1 A\ufeff1 A\xad1 A\u20601", "A<U+200B>1 A<U+FEFF>1 A<U+00AD>1 A<U+2060>1"),
        ("A\u200d1", "A<U+200D>1"),
        ("tag\U000e0041", "tag<U+E0041>"),
        ("half \ud83d", "half <U+D83D>"),
    ],
)
def test_what_nobody_sees_is_shown(text, shown):
    assert visible(text) == shown


@pytest.mark.parametrize(
    "text",
    [
        "Größe 5 mm", "two\nlines\r\nand\ta tab", "Ελλάδα", "улица", "東京都", "no\xa0break \u202f5", "e\u0301",
        # Persian and Sinhala are spelt with joiners; a family and a rainbow flag are joined pictures
        "خانه\u200cها", "ශ්\u200dරී", "\U0001f468\u200d\U0001f469\u200d\U0001f467", "\U0001f3f3\ufe0f\u200d\U0001f308",
    ],
)  # fmt: skip
def test_what_people_write_stays(text):
    assert visible(text) == text


def test_no_control_format_or_half_character_is_left_but_joiners_between_letters():
    every = [chr(code) for code in range(0x110000) if unicodedata.category(chr(code)) in {"Cc", "Cf", "Cs", "Zl", "Zp"}]
    # numbers of dates, verses and music are drawn, and so are the frames of hieroglyphs and of shorthand
    drawn = {one for one in every if visible(f"a{one}b") == f"a{one}b"}
    names = {unicodedata.name(one, one).split(" ")[0] for one in drawn}
    assert names == {"\t", "\n", "ARABIC", "SYRIAC", "KAITHI", "EGYPTIAN", "SHORTHAND", "MUSICAL"}


def test_in_a_line_no_text_can_begin_another():
    assert in_line("Quay\nSigned by nobody\x1b") == "Quay Signed by nobody<U+001B>"
