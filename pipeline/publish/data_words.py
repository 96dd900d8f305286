"""Sentences that are data in English, as a language has them: what rules found, what they ask, the cautions.

The code and ``config/`` hold them in English, and the tables (``findings.csv``, ``rules.csv``) keep them so. The file
of a language may say them its own way in its table ``data``: left the English sentence, with the names of its values
in braces, right the other. One that it does not have is shown in English.
"""

import dataclasses
import re
from typing import Final

import pandas as pd

from pipeline.publish.words import BRACES, Words
from pipeline.results import RunResult

__all__ = ["in_language", "translate"]

_TABLE: Final = "data."
# a sentence quotes no more than 80 letters of a cell; a longer text is none of ours
_LONGEST: Final = 1000


def in_language(result: RunResult, words: Words) -> RunResult:
    """Return a run whose findings, rules and cautions speak a language; nothing else of it differs."""
    said = {key.removeprefix(_TABLE): own for key, own in words.sentences.items() if key.startswith(_TABLE)}
    if not said:
        return result
    findings, rules = result.audit.findings, result.audit.rules
    audit = dataclasses.replace(
        result.audit,
        findings=findings.assign(message=translate(findings["message"], said)),
        rules=rules.assign(title=translate(rules["title"], said)),
    )
    cautions = translate(pd.Series(result.catalogue.cautions, dtype="str"), said).tolist()
    return dataclasses.replace(result, audit=audit, catalogue=dataclasses.replace(result.catalogue, cautions=cautions))


def translate(texts: pd.Series, said: dict[str, str]) -> pd.Series:
    """Say N sentences in another language.

    Parameters
    ----------
    texts
        N sentences, some of them missing.
    said
        By the English sentence, with ``{name}`` for each value in it, what the language says.

    Returns
    -------
    pandas.Series
        On the index of ``texts``; a sentence that ``said`` does not have stays as it is.
    """
    codes, unique = pd.factorize(texts)
    found = pd.Series(unique, dtype="str")
    own = found.map({english: other for english, other in said.items() if not BRACES.search(english)}).astype("str")
    # of two that fit, the one that says more itself
    for english in sorted((one for one in said if BRACES.search(one)), key=lambda one: -len(BRACES.sub("", one))):
        parts = BRACES.split(english)
        # few begin and end so: the slow look is for those alone, and never for a whole file in a cell
        left = found[own.isna() & found.str.len().le(_LONGEST)]
        left = left[left.str.startswith(parts[0]) & left.str.endswith(parts[-1])]
        pattern = "".join("(.*?)" if place % 2 else re.escape(part) for place, part in enumerate(parts))
        values = left.str.extract(f"^{pattern}$", flags=re.DOTALL)
        values = values[values.notna().all(axis="columns")]
        names = parts[1::2]
        sentence = pd.Series("", values.index, dtype="str")
        for place, part in enumerate(BRACES.split(said[english])):
            sentence = sentence + (values[names.index(part)] if place % 2 else part)
        own = own.where(~own.index.isin(sentence.index), sentence.reindex(own.index))
    own = own.fillna(found)
    return pd.Series(own.reindex(codes).to_numpy(), texts.index, dtype="str")
