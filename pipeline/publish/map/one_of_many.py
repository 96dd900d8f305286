"""What a map says otherwise where it is one of several: of a district, not of the network, and how to leave it."""

import html
from typing import Any, Final

from pipeline.publish.words import MAP_TABLES, Words

__all__ = ["link_to_index", "map_words"]

# sentences about the whole network or programme, by those about one map of several
_INSTEAD: Final = {
    "answers.open": "district_maps.open_here",
    "answers.open_yours": "district_maps.open_here",
    "answers.no_works": "district_maps.no_works_here",
    "answers.no_works_handed": "district_maps.no_works_here",
    "view.network": "district_maps.all_here",
}


def map_words(sentences: dict[str, Any], *, is_one_of_many: bool) -> dict[str, Any]:
    """Return the sentences that a map carries."""
    words = {key: sentence for key, sentence in sentences.items() if key.partition(".")[0] in MAP_TABLES}
    return words | {key: sentences[instead] for key, instead in _INSTEAD.items()} if is_one_of_many else words


def link_to_index(address: str, words: Words) -> str:
    """Return the link to the page with the maps of all districts; empty without an address."""
    if not address:
        return ""
    return f'<p><a href="{html.escape(address)}">{html.escape(words.plainly("district_maps.all"))}</a></p>'
