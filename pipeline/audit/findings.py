"""Sentences about many cores at once: a template filled from whole columns."""

from string import Formatter
from typing import Final

import pandas as pd

__all__ = ["find"]

# a register may hold a page of text in one cell; a sentence quotes its beginning
_LONGEST_QUOTE: Final = 80


def find(cores: pd.DataFrame, template: str, **more: object) -> pd.DataFrame:
    """Make one finding for each of N cores.

    Parameters
    ----------
    cores
        The cores that the finding is about.
    template
        The sentence; ``{column}`` or ``{column:format}`` stands for the core's value.
    more
        Further values for the sentence, such as a threshold: one for all cores, or a column that holds theirs.

    Returns
    -------
    pandas.DataFrame
        On ``cores.index``: ``message``, and ``evidence`` (the values in it, as ``name=value``).
    """
    message = pd.Series("", cores.index, dtype="str")
    evidence: dict[str, pd.Series] = {}
    for literal, name, form, _ in Formatter().parse(template):
        message = message + literal
        if name is None:
            continue
        values = cores[name] if name in cores else _of_all(more[name], cores.index)
        shown = _shown(values, form or "")
        message = message + shown
        evidence[name] = shown
    said = pd.Series("", cores.index, dtype="str")
    for place, (name, shown) in enumerate(evidence.items()):
        said = said + ("; " if place else "") + f"{name}=" + shown
    return pd.DataFrame({"message": message, "evidence": said})


def _of_all(value: object, index: pd.Index) -> pd.Series:
    return value.loc[index] if isinstance(value, pd.Series) else pd.Series([value] * len(index), index)


def _shown(values: pd.Series, form: str) -> pd.Series:
    if pd.api.types.is_datetime64_any_dtype(values.dtype):
        days: pd.Series = values.dt.strftime(form or "%Y-%m-%d").fillna("no date")
        return days
    if pd.api.types.is_numeric_dtype(values.dtype):
        written: pd.Series = values.map(f"{{:{form}}}".format).astype("str")
        return written
    text = values.astype("str").fillna("nothing")
    # line breaks and control characters of a register must not break a table of findings
    text = text.str.replace(r"[\x00-\x1f\x7f\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069]+", " ", regex=True)
    return text.where(text.str.len() <= _LONGEST_QUOTE, text.str.slice(0, _LONGEST_QUOTE) + "…")
