"""The scripts and style sheets of the map page, in the order in which the page has them."""

from typing import Final

__all__ = ["SCRIPTS", "STYLE_SHEETS"]

# in the order they must run: each uses only those before it
SCRIPTS: Final = (
    "words.js",
    "elements.js",
    "symbols.js",
    "folding.js",
    "unpack.js",
    "units.js",
    "roads.js",
    "cores.js",
    "tiles.js",
    "attributes.js",
    "sorting.js",
    "questions.js",
    "filter.js",
    "filter_words.js",
    "filter_choices.js",
    "filter_controls.js",
    "findings.js",
    "card.js",
    "lists.js",
    "search_index.js",
    "search.js",
    "save_csv.js",
    "table_rows.js",
    "table.js",
    "link.js",
    "panel.js",
    "answers.js",
    "answer_list.js",
    "works_list.js",
    "popup.js",
    "pointer_and_keys.js",
    "layers.js",
    "paper_map.js",
    "paper_numbers.js",
    "paper_groups.js",
    "paper_list.js",
    "paper_sheets.js",
    "print_dialog.js",
    "print.js",
    "navigation.js",
    "views.js",
    "start.js",
)
# in the order they apply: a later rule overrides an earlier one
STYLE_SHEETS: Final = (
    "page.css",
    "answers.css",
    "map.css",
    "panel.css",
    "card.css",
    "table.css",
    "small_screens.css",
    "print.css",
)
