"""Which findings each decision is about: one finding by its fingerprint, or those of a rule, narrowed to a place."""

from typing import Final

import pandas as pd

from pipeline.contracts import plain_ids

__all__ = ["matched_pairs"]

# what narrows a decision by rule
_NARROWING: Final = ("core_id", "street", "district", "register")
_PAIR: Final = ["finding", "entry", "rule", "evidence_mark", "is_by_finding"]


def matched_pairs(findings: pd.DataFrame, cores: pd.DataFrame, entries: pd.DataFrame) -> pd.DataFrame:
    """Return one row for each finding and decision about it.

    Parameters
    ----------
    findings
        N findings: ``row``, ``rule``, ``fingerprint``, ``evidence_mark``.
    cores
        The cores by ``row``: ``core_id``, ``register``, ``street_matched``, ``street``, ``district``. The street is
        that of the road segment, else as the register has it.
    entries
        The decisions that may hold.

    Returns
    -------
    pandas.DataFrame
        ``finding`` and ``entry``, by the index of each, the finding's ``rule`` and ``evidence_mark``, and
        ``is_by_finding``: whether the entry names the finding itself.
    """
    found = findings[["row", "rule", "fingerprint", "evidence_mark"]].assign(finding=findings.index)
    named = entries.assign(entry=entries.index)
    by_finding = named[named["fingerprint"].notna()]
    alike = found.merge(by_finding[["fingerprint", "entry", "register"]], on="fingerprint", validate="many_to_many")
    parts = [_of_its_register(alike, cores).assign(is_by_finding=True)]
    by_rule = named[named["fingerprint"].isna() & named["rule"].notna()]
    if len(by_rule):
        here = found[found["rule"].isin(by_rule["rule"])]
        near = cores[cores["row"].isin(here["row"])]
        places = _plain(near.assign(street=near["street_matched"].fillna(near["street"]))).assign(row=near["row"])
        here = here.merge(places, on="row", how="left", validate="many_to_one")
        wanted = _plain(by_rule).assign(rule=by_rule["rule"], entry=by_rule["entry"])
        # entries that are narrowed by the same columns are matched at once
        for _, alike in wanted.groupby([wanted[name].isna() for name in _NARROWING], sort=True):
            keys = ["rule", *(name for name in _NARROWING if alike[name].notna().all())]
            pairs = here.merge(alike[[*keys, "entry"]], on=keys, validate="many_to_many")
            parts.append(pairs.assign(is_by_finding=False))
    return pd.concat([part[_PAIR] for part in parts], ignore_index=True)


def _of_its_register(pairs: pd.DataFrame, cores: pd.DataFrame) -> pd.DataFrame:
    """Return pairs without findings about cores of another register that have the same id by chance.

    Where no register has the name that the entry holds, it has been renamed since, and all are kept.
    """
    registers = pairs["row"].map(cores.set_index("row")["register"])
    is_own = _folded(registers).eq(_folded(pairs["register"])).fillna(value=False)
    return pairs[is_own | ~is_own.groupby(pairs["entry"]).transform("any")]


def _plain(table: pd.DataFrame) -> pd.DataFrame:
    """Return the columns that narrow a decision, without regard to case and blanks."""
    plain = {name: _folded(table[name]) for name in _NARROWING}
    return pd.DataFrame(plain | {"core_id": plain_ids(table["core_id"].astype("str"))}, index=table.index)


def _folded(texts: pd.Series) -> pd.Series:
    """Return texts without regard to case and blanks; each distinct one is worked out once."""
    folded = {text: " ".join(str(text).casefold().split()) for text in texts.dropna().unique()}
    return texts.astype("str").map(folded).astype("str")
