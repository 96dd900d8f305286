"""Names of places and columns as the report shows them."""

import html
import re
from collections.abc import Mapping
from typing import Final
from urllib.parse import parse_qs, quote, urlencode

import pandas as pd
from markupsafe import Markup

from pipeline.contracts import NO_DISTRICT, PUBLISHED, REGISTER_COLUMNS, Column
from pipeline.publish.map.packing import shown_text, shown_texts
from pipeline.publish.words import Words, plain_text

__all__ = [
    "LONGEST_NAME",
    "anchor",
    "column_label",
    "core_name",
    "district_in_chart",
    "district_name",
    "links_by_district",
    "on_map",
    "place_name",
    "without_links_to_map",
]

# characters; a longer name is shortened, and kept in full in the tables
LONGEST_NAME: Final = 60
# what browsers leave as it is in a part of an address, beside letters and digits
_KEPT_IN_ADDRESSES: Final = "!~*'()"
_MAP: Final = "map.html"
# text of a register is escaped, so that only ``on_map`` writes these
_ADDRESS: Final = re.compile(r'<a class="on-map" href="map\.html#([^"]*)">')
_LINK_TO_MAP: Final = re.compile(r'<a class="on-map" href="map\.html#[^"]*">(.*?)</a>', re.DOTALL)
_COLUMNS: Final[dict[str, Column]] = PUBLISHED | {column.name: column for column in REGISTER_COLUMNS}


def on_map(shown: object, /, *, core: str | None = None, **wanted: object) -> Markup:
    """Return text or markup that opens the map beside the report: filtered, or with the card of a core.

    Parameters
    ----------
    shown
        What is shown.
    core
        Id of the core.
    wanted
        Questions of the map's filter, each with a choice; a missing choice stands for the cores without one.
    """
    # as the map's own address writes it: an empty choice is "not known", any other begins with an equals sign
    choices = [(question, "" if pd.isna(word) else f"={shown_text(word)}") for question, word in wanted.items()]  # type: ignore[call-overload]
    address = urlencode([*choices, *([] if core is None else [("core", shown_text(core))])], errors="replace")
    return Markup('<a class="on-map" href="map.html#{}">{}</a>').format(address, shown)


def links_by_district(page: str, cores: pd.DataFrame, maps: Mapping[str | None, str]) -> str:
    """Return a page whose links to one core, or to one district, lead to the map of that district.

    The others stay: the index of the maps carries on what they ask for.

    Parameters
    ----------
    page
        With links to ``map.html``.
    cores
        ``core_id`` and ``district`` of N cores.
    maps
        The address of the map of each district; None: of the cores in no district.
    """
    asked = [parse_qs(html.unescape(found), keep_blank_values=True) for found in _ADDRESS.findall(page)]
    ids = {core for one in asked for core in one.get("core", ())}
    # addresses hold names as the map shows them
    cores = cores.assign(**{name: shown_texts(cores[name]) for name in ("core_id", "district")})
    places = {None if name is None else shown_text(name): place for name, place in maps.items()}
    wanted = cores[cores["core_id"].isin(ids)].drop_duplicates("core_id")
    of_core = dict(zip(wanted["core_id"], wanted["district"], strict=True))

    def lead(found: re.Match[str]) -> str:
        choice = parse_qs(html.unescape(found[1]), keep_blank_values=True)
        core, districts = choice.get("core", [""])[0], choice.get("district", [])
        if core in of_core:
            own = of_core[core]
            district: str | None = None if pd.isna(own) else str(own)
        elif len(districts) == 1:
            district = districts[0].removeprefix("=") if districts[0] else None
        else:
            return found[0]
        return found[0].replace(_MAP, places.get(district, _MAP), 1)

    return _ADDRESS.sub(lead, page)


def without_links_to_map(page: str) -> str:
    """Return a page whose links to the map are plain text, for a run without one; other markup is untouched."""
    return _LINK_TO_MAP.sub(r"\1", page)


def core_name(core_id: object, words: Words) -> Markup:
    """Return a core's id that opens the core on the map, or the sentence for a core without an id."""
    shown = place_name(core_id, "format.no_id", words)
    return shown if core_id is None or pd.isna(core_id) else on_map(shown, core=str(core_id))  # type: ignore[call-overload]


def anchor(kind: str, name: str) -> str:
    """Return the id of a place in the report, as the map writes it behind the number sign."""
    return f"{kind}-{quote(shown_text(name), safe=_KEPT_IN_ADDRESSES, errors='replace')}"


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
