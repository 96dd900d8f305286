"""XML built from elements: text is escaped, attributes are texts, and children keep their order."""

import xml.etree.ElementTree as ET

from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.publish.geopackage.xml_tree import as_text, element

PRINTABLE = st.text(st.characters(min_codepoint=32, max_codepoint=0x2FFF), max_size=20)


@settings(deadline=None)
@given(PRINTABLE, PRINTABLE)
def test_any_text_comes_back_from_the_file_as_it_was(text, attribute):
    root = ET.fromstring(as_text(element("a", element("b", text, at={"c": attribute}))))
    assert (root[0].text or "") == text
    assert root[0].get("c") == attribute


def test_children_keep_their_order_and_numbers_become_text():
    root = ET.fromstring(as_text(element("a", element("b"), element("c"), element("b"), at={"n": 3})))
    assert [child.tag for child in root] == ["b", "c", "b"]
    assert root.get("n") == "3"


def test_what_must_open_a_file_opens_it():
    assert as_text(element("a"), "<!DOCTYPE a>\n").split("<a")[0].endswith("<!DOCTYPE a>\n")
