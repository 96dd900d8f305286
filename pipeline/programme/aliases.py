"""Aliases: the words that registers and map layers write for one name of the catalogue."""

from collections.abc import Mapping

import numpy as np
import pandas as pd

__all__ = ["alias_conflicts", "alias_table", "look_up"]


def alias_table(aliases: Mapping[str, list[str]]) -> dict[str, str]:
    """Return the name for each alias, in plain form; every name is an alias of itself."""
    return {word: name for name, word in _pairs(aliases)}


def alias_conflicts(aliases: Mapping[str, list[str]]) -> list[tuple[str, str, str]]:
    """Return each name and alias in plain form that an earlier name has already, with that earlier name."""
    owner: dict[str, str] = {}
    return [(name, word, owner[word]) for name, word in _pairs(aliases) if owner.setdefault(word, name) != name]


def look_up(written: pd.Series, table: dict[str, str], ignored: str | None = None) -> pd.Series:
    """Return the name of each written text; missing where it has none.

    Parameters
    ----------
    written
        N texts, or missing.
    table
        Name of each alias, as :func:`alias_table` returns it.
    ignored
        A name that does not count beside another in a text of several parts.

    Returns
    -------
    pandas.Series
        N names on the index of ``written``. A text of several parts, such as "paved;asphalt", has a name only where
        all its parts have the same, those with the ignored name aside.
    """
    # each distinct text is put in plain form once, and looked up once
    of_texts, texts = pd.factorize(written.astype("str"))
    of_words, uniques = pd.factorize(_plain_words(pd.Series(texts, dtype="str")))
    # a missing text has code -1, which is the row added at the end
    codes = np.append(of_words, -1)[of_texts]
    words = pd.Series([*uniques, np.nan], dtype="str")
    names = words.map(table).astype("str")
    parts = words[names.isna()].str.split(r"[;,/+|]", regex=True).explode()
    named = _plain_words(parts).map(table).astype("str").fillna("")
    named = named[named.ne(ignored)] if ignored else named
    by_text = named.groupby(level=0).agg(["nunique", "first"])
    found = by_text.loc[by_text["nunique"].eq(1) & by_text["first"].ne(""), "first"]
    names = names.fillna(found.astype("str"))
    return names.iloc[codes].set_axis(written.index)


def _pairs(aliases: Mapping[str, list[str]]) -> list[tuple[str, str]]:
    """Return each name with each of its aliases in plain form."""
    pairs = [(name, word) for name, words in aliases.items() for word in (name, *words)]
    names, words = zip(*pairs, strict=True) if pairs else ((), ())
    return [*zip(names, _plain_words(pd.Series(words, dtype="str")), strict=True)]


def _plain_words(text: pd.Series) -> pd.Series:
    """Return texts in plain form: lower case, blanks for underscores and hyphens, no full stop at the end."""
    words = text.astype("str").str.normalize("NFKC").str.casefold().str.replace(r"[\s_\-]+", " ", regex=True)
    return words.str.strip().str.rstrip(".")
