"""Which column a header means, by the words of ``config/column_names.toml``."""

import re
import tomllib
from typing import Final, NamedTuple

from pipeline.programme.resources import shipped
from pipeline.units import SPELLINGS, plain_spelling

__all__ = ["Claim", "HeaderWords", "claims", "header_words", "names_other_measure", "plain_header"]

_CAMEL: Final = re.compile(r"(?<=[a-z])(?=[A-Z])")
_BRACKETS: Final = re.compile(r"[(\[{][^()\[\]{}]*[)\]}]")
_UNITS: Final = frozenset(
    {spelling for spellings in SPELLINGS.values() for spelling in spellings if spelling}
    | {"gal", "gals", "gallon", "gallons", "°", "deg"}
) - {"bag", "bags", "sack", "sacks", "in", "day", "days"}
# what heads a column that holds no lengths
_NO_LENGTHS: Final = frozenset({
    "age", "d", "day", "days", "h", "hr", "hrs", "hour", "hours", "min", "mins", "minutes", "week", "weeks", "month",
    "months", "year", "years", "date", "time", "count", "qty", "no", "nr", "number", "cost", "price", "amount", "kg",
    "t", "l", "ml", "litre", "litres", "liter", "liters", "gal", "gals", "gallons", "c", "f", "degc", "degf", "temp",
    "temperature", "bags", "sacks", "percent",
})  # fmt: skip
# the equal header comes before one that contains the words
_EQUAL: Final = 100


class Claim(NamedTuple):
    """How well a header fits a column: ``strength`` orders claims; ``is_equal``: it is a word, and not a part of it."""

    column: str
    strength: int

    @property
    def is_equal(self) -> bool:
        """Whether the header is one of the words, units aside."""
        return self.strength >= _EQUAL


HeaderWords = dict[str, dict[str, list[str]]]


def header_words() -> HeaderWords:
    """Return the words for each column by the kind of file: "register", "roads" and so on."""
    text = (shipped("config") / "column_names.toml").read_text("utf-8")
    written: HeaderWords = tomllib.loads(text)
    return {
        kind: {column: [plain_header(word) for word in words] for column, words in columns.items()}
        for kind, columns in written.items()
    }


def plain_header(header: str) -> str:
    """Return a header in lower case, its words separated by one blank, without brackets, punctuation and units."""
    clean = _CAMEL.sub(" ", plain_spelling(header, keep_case=True)).casefold()
    without = _BRACKETS.sub(" ", clean)
    words = _words(without if without.strip() else clean)
    # a unit that is the whole header, such as "in", is its name
    kept = [word for word in words if word not in _UNITS or len(word) == 1]
    while len(kept) > 1 and kept[-1] in _UNITS:
        kept.pop()
    return " ".join(kept or words)


def _words(text: str) -> list[str]:
    """Return the words of a text; a sign such as ø or # is a word."""
    return re.findall(r"[^\W_]+(?:'[^\W_]+)?|[ø⌀#°]", text.replace("ø", " ø "))


def claims(header: str, columns: dict[str, list[str]]) -> list[Claim]:
    """Return the columns that a header may mean, the strongest first."""
    plain = f" {plain_header(header)} "
    count = len(plain.split())
    found = []
    for column, words in columns.items():
        best = 0
        for word in words:
            if f" {word} " == plain:
                best = max(best, _EQUAL + count)
            elif f" {word} " in plain:
                # the more of the header a word explains, the better
                best = max(best, 10 * len(word.split()) - (count - len(word.split())))
        if best > 0:
            found.append(Claim(column, best))
    return sorted(found, key=lambda claim: (-claim.strength, list(columns).index(claim.column)))


def names_other_measure(header: str) -> bool:
    """Return whether a header says that its numbers are no lengths: days, litres, money, a count."""
    return not _NO_LENGTHS.isdisjoint(_words(plain_spelling(header).casefold().replace("%", " percent ")))
