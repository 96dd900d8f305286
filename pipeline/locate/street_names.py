"""Street names as crews write them, compared with those of the road layer."""

import re
import unicodedata
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from rapidfuzz import fuzz, process

__all__ = ["match_of_pairs", "name_form", "name_match"]

# below the first score two names are different, from the second on they are the same
_DIFFERENT, _SAME = 80.0, 95.0
_APART: Final = re.compile(r"\b(?:\w*[0-9]\w*|[nsew])\b")


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
    # all names as one text, a line each: in one go, what a name for itself takes far longer for
    text = "\n".join([name.replace("\n", " ") for name in uniques.tolist()])
    text = re.sub(r"[\u0300-\u036f]", "", unicodedata.normalize("NFKD", text.replace("ß", "ss"))).casefold()
    text = re.sub(r"[^\w\n]+", " ", re.sub(r"[’'`.]", "", text))
    # a word that does not count has an empty short form
    words = [short_words.get(word, word) for word in text.replace("\n", " \n ").split(" ")]
    lines = re.sub(r" ?\n ?", "\n", re.sub(r" {2,}", " ", " ".join(words))).strip(" ").split("\n")
    # a missing name has code -1, which is the row added at the end
    forms = pd.Series([*(line or None for line in lines[: len(uniques)]), None], dtype="str")
    return forms.iloc[codes].set_axis(names.index)


def name_match(ours: npt.ArrayLike, theirs: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Return how well N pairs of names agree, both as :func:`name_form` returns them: 0 different, 1 the same.

    The order of the words does not count. Numbers and compass points have to be the same where both names have
    them. Missing where either name is.
    """
    mine, others = (pd.Series(np.asarray(side), dtype="str") for side in (ours, theirs))
    every = np.arange(len(mine))
    return match_of_pairs(mine, others, every, every)


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
    # each pair of names is compared once
    pairs, back = np.unique(left[both] * np.int64(len(their_names)) + right[both], return_inverse=True)
    if len(pairs):
        left, right = np.divmod(pairs, len(their_names))
        mine, others = our_names.take(left).tolist(), their_names.take(right).tolist()
        score = process.cpdist(mine, others, scorer=fuzz.token_sort_ratio)
        alike = np.clip((np.asarray(score, dtype=float) - _DIFFERENT) / (_SAME - _DIFFERENT), 0, 1)
        # North and South Main Street, 115th and 116th Street: one letter apart, and not the same
        ours_apart, theirs_apart = _numbers_and_compass(our_names, left), _numbers_and_compass(their_names, right)
        differ = (ours_apart != "") & (theirs_apart != "") & (ours_apart != theirs_apart)
        match[both] = np.where(differ, 0.0, alike)[back]
    return match


def _numbers_and_compass(names: pd.Index, which: npt.NDArray[np.intp]) -> npt.NDArray[np.object_]:
    """Return the words of some of the names that have a digit or are a compass point, sorted."""
    used, back = np.unique(which, return_inverse=True)
    return np.array([" ".join(sorted(_APART.findall(name))) for name in names.take(used).tolist()], dtype=object)[back]
