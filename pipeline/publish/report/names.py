"""Names of places and columns as the report shows them."""

from typing import Final

import pandas as pd
from markupsafe import Markup

from pipeline.contracts import NO_DISTRICT, PUBLISHED, REGISTER_COLUMNS, Column
from pipeline.publish.words import Words, plain_text

__all__ = ["LONGEST_NAME", "column_label", "district_in_chart", "district_name", "place_name"]

# characters; a longer name is shortened, and kept in full in the tables
LONGEST_NAME: Final = 60
_COLUMNS: Final[dict[str, Column]] = PUBLISHED | {column.name: column for column in REGISTER_COLUMNS}


def place_name(name: object, missing: str, words: Words) -> Markup:
    """Return a name from a register or layer, or the sentence with the key ``missing`` where there is none."""
    return words.say(missing) if name is None or pd.isna(name) else words.own(name, LONGEST_NAME)  # type: ignore[call-overload]


def district_name(name: str, words: Words) -> Markup:
    """Return a district's name, or the sentence for cores without a district, as orders and rates group them."""
    return words.say("format.no_district") if name == NO_DISTRICT else words.own(name, LONGEST_NAME)


def district_in_chart(name: str, most: int, words: Words) -> str:
    """Return the same as plain text for a chart, ``most`` characters at the longest."""
    return words.plainly("format.no_district") if name == NO_DISTRICT else plain_text(name, most)


def column_label(name: str, words: Words) -> Markup | None:
    """Return what people call a column or the position; None for another name."""
    if name == "position":
        return words.say("records.position")
    return words.own(words.translated(_COLUMNS[name].label)) if name in _COLUMNS else None
