"""Street names as crews write them, compared with those of the road layer."""

import numpy as np
import numpy.typing as npt
import pandas as pd
from rapidfuzz import fuzz, process

__all__ = ["match_of_pairs", "name_form", "name_match"]

# below the first score two names are different, from the second on they are the same
_DIFFERENT, _SAME = 80.0, 95.0


def name_form(names: pd.Series, short_words: dict[str, str]) -> pd.Series:
    """Return N street names in one form: no accents or punctuation, lower case, long words short.

    Parameters
    ----------
    names
        N names, or missing.
    short_words
        Short form of each long word; one with an empty form is left out.
    """
    codes, uniques = pd.factorize(names)
    # a missing name has code -1, which is the row added at the end
    words = pd.Series([*uniques, None], dtype="str").str.replace("ß", "ss", regex=False)
    plain = words.str.normalize("NFKD").str.replace(r"[\u0300-\u036f]", "", regex=True).str.casefold()
    plain = plain.str.replace(r"[’'`.]", "", regex=True).str.replace(r"[^\w]+", " ", regex=True).str.strip()
    # a word that does not count has an empty short form
    short = [" ".join(short_words.get(word, word) for word in name.split(" ")) for name in plain.fillna("")]
    joined = pd.Series(short, dtype="str").str.replace(r" {2,}", " ", regex=True).str.strip()
    joined = joined.where(joined.ne("")).astype("str")
    return joined.iloc[codes].set_axis(names.index)


def name_match(ours: npt.ArrayLike, theirs: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Return how well N pairs of names agree, both as :func:`name_form` returns them: 0 different, 1 the same.

    The order of the words does not count. Numbers and compass points have to be the same where both names have
    them. Missing where either name is.
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
        alike = np.clip((np.asarray(score, dtype=float) - _DIFFERENT) / (_SAME - _DIFFERENT), 0, 1)
        # North and South Main Street, 115th and 116th Street: one letter apart, and not the same
        ours_apart, theirs_apart = (_numbers_and_compass(unique[side]) for side in ("ours", "theirs"))
        differ = ours_apart.ne("") & theirs_apart.ne("") & ours_apart.ne(theirs_apart)
        match[both] = np.where(differ, 0.0, alike)[group]
    return match


def match_of_pairs(
    ours: pd.Series, theirs: pd.Series, our: npt.NDArray[np.intp], their: npt.NDArray[np.intp]
) -> npt.NDArray[np.float64]:
    """Return how well the names of P pairs agree, as :func:`name_match` does.

    ``ours``, ``theirs``: two columns of names; ``our``, ``their``: the rows of each pair in them.
    """
    # numbers sort many times faster than names, and a street has many cores
    our_code, our_names = pd.factorize(ours)
    their_code, their_names = pd.factorize(theirs)
    left, right = our_code[our], their_code[their]
    both = (left >= 0) & (right >= 0)
    match = np.full(len(left), np.nan)
    pairs, back = np.unique(left[both] * np.int64(len(their_names)) + right[both], return_inverse=True)
    if len(pairs):
        left, right = np.divmod(pairs, len(their_names))
        match[both] = name_match(our_names.take(left), their_names.take(right))[back]
    return match


def _numbers_and_compass(names: pd.Series) -> pd.Series:
    """Return the words of each name that have a digit or are a compass point, sorted."""
    words = names.str.findall(r"\b(?:\w*[0-9]\w*|[nsew])\b").map(sorted)
    return words.str.join(" ")
