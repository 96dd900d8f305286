"""XML as a tree of elements: text and attributes are escaped by the library."""

import xml.etree.ElementTree as ET
from collections.abc import Mapping

__all__ = ["as_text", "element"]


def element(name: str, *content: ET.Element | str, at: Mapping[str, object] | None = None) -> ET.Element:
    """Return an element with its attributes, and its text and children in the order given."""
    made = ET.Element(name, {key: str(value) for key, value in (at or {}).items()})
    for part in content:
        if isinstance(part, ET.Element):
            made.append(part)
        elif len(made):
            made[-1].tail = (made[-1].tail or "") + part
        else:
            made.text = (made.text or "") + part
    return made


def as_text(root: ET.Element, head: str = "") -> str:
    """Return the tree as text, after ``head``."""
    return head + ET.tostring(root, encoding="unicode")
