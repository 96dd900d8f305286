"""The same sentence as markup for a page and as plain text for a terminal."""

from markupsafe import Markup

from pipeline.publish.check.voice import for_page, for_text
from pipeline.publish.words import words_of
from tests.publish.check.inputs_checked import HOSTILE

_WORDS = words_of("en")


def test_text_of_a_register_is_escaped_on_a_page_and_has_no_control_characters_in_a_terminal():
    page, text = for_page(_WORDS), for_text(_WORDS)
    assert "<script>" not in page.own(HOSTILE)
    assert "&lt;script&gt;" in page.say("check.cell", text=page.own(HOSTILE), where="")
    assert "\x1b" not in text.say("check.cell", text=text.own(HOSTILE), where="")


def test_parts_are_joined_without_being_escaped_twice():
    page = for_page(_WORDS)
    assert page.joined(" & ", [Markup("<b>one</b>"), "<two>"]) == "<b>one</b> &amp; &lt;two&gt;"
    assert for_text(_WORDS).listed(["one", "two"]) == "one, two"
