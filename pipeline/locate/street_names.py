"""Street names as crews write them, compared with those of the map."""

import numpy as np
import numpy.typing as npt
import pandas as pd
from rapidfuzz import fuzz, process

__all__ = ["name_form", "name_match"]

# below the first score two names have nothing to do with each other, from the second on they are the same
_NOTHING, _SAME = 80.0, 95.0


def name_form(names: pd.Series, short_words: dict[str, str]) -> pd.Series:
    """Bring N street names to one form: without accents and marks, lower case, long words shortened.

    Parameters
    ----------
    names
        N names, or missing.
    short_words
        Short form of each long word.
    """
    codes, uniques = pd.factorize(names)
    # a missing name has code -1, which is the row added at the end
    words = pd.Series([*uniques, None], dtype="str").str.replace("ß", "ss", regex=False)
    plain = words.str.normalize("NFKD").str.replace(r"[\u0300-\u036f]", "", regex=True).str.casefold()
    plain = plain.str.replace(r"[’'`.]", "", regex=True).str.replace(r"[^\w]+", " ", regex=True).str.strip()
    tokens = plain.str.split(" ").explode().astype("str")
    short = tokens.map(short_words).astype("str")
    short = short.where(short.notna(), tokens)
    joined = short.fillna("").groupby(level=0).agg(" ".join)
    joined = joined.where(joined.ne("")).astype("str")
    return joined.iloc[codes].set_axis(names.index)


def name_match(ours: npt.ArrayLike, theirs: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Tell how far N pairs of names in one form are the same name: 0 for not at all, 1 for the same.

    The order of words does not count; numbers and points of the compass, where both names have them, must be the
    same. Missing where either name is.
    """
    pairs = pd.DataFrame({"ours": np.asarray(ours, dtype=object), "theirs": np.asarray(theirs, dtype=object)})
    match = np.full(len(pairs), np.nan)
    both = pairs.notna().all(axis="columns").to_numpy()
    if both.any():
        known = pairs[both]
        # a street has many cores: each pair of names is compared once
        group = known.groupby(["ours", "theirs"], sort=False).ngroup().to_numpy()
        unique = known.drop_duplicates()
        score = process.cpdist(unique["ours"].tolist(), unique["theirs"].tolist(), scorer=fuzz.token_sort_ratio)
        alike = np.clip((np.asarray(score, dtype=float) - _NOTHING) / (_SAME - _NOTHING), 0, 1)
        # North and South Main Street, 115th and 116th: one letter apart, and not the same
        ours_apart, theirs_apart = (_telling(unique[side]) for side in ("ours", "theirs"))
        differ = ours_apart.ne("") & theirs_apart.ne("") & ours_apart.ne(theirs_apart)
        match[both] = np.where(differ, 0.0, alike)[group]
    return match


def _telling(names: pd.Series) -> pd.Series:
    """The words of each name that one letter sets apart: those with a digit, and points of the compass."""
    words = names.str.findall(r"\b(?:\w*[0-9]\w*|[nsew])\b").map(sorted)
    return words.str.join(" ")
