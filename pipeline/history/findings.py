"""The findings that a core has in only one of two runs."""

import pandas as pd

__all__ = ["changed_findings"]


def changed_findings(
    before: pd.DataFrame, after: pd.DataFrame, found_before: pd.DataFrame, found_after: pd.DataFrame
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the findings that are cleared, and those that are new.

    Parameters
    ----------
    before, after
        The same N cores in the two runs, on the same index: ``row`` and ``findings``, the joined names of rules.
    found_before, found_after
        The findings of each run: ``row``, ``rule`` and, if the run gives them, ``fingerprint``.

    Returns
    -------
    tuple
        For each, ``at`` in the index of the cores, and ``rule``. Where both runs have the fingerprint of a finding and
        it differs, as where a core now overlaps another one than before, it is cleared and new.
    """
    listed = [_listed(*side) for side in ((before, found_before), (after, found_after))]
    both = listed[0].merge(listed[1], on=["at", "rule"], how="outer", indicator="where", validate="one_to_one")
    prints = both["fingerprint_x"], both["fingerprint_y"]
    is_other = prints[0].notna() & prints[1].notna() & prints[0].ne(prints[1])
    cleared, new = (both.loc[both["where"].eq(one) | is_other, ["at", "rule"]] for one in ("left_only", "right_only"))
    return cleared, new


def _listed(cores: pd.DataFrame, found: pd.DataFrame) -> pd.DataFrame:
    """Return the findings of cores with their fingerprints, each rule once for each core."""
    named = cores.loc[cores["findings"].fillna("").ne(""), ["row", "findings"]]
    slugs = named.assign(at=named.index, rule=named["findings"].str.split(";")).explode("rule")
    slugs = slugs[["at", "row", "rule"]].drop_duplicates(["at", "rule"]).astype({"row": "float64", "rule": "str"})
    if "fingerprint" not in found:
        return slugs.assign(fingerprint=pd.Series(None, slugs.index, dtype="str"))[["at", "rule", "fingerprint"]]
    prints = found.assign(row=pd.to_numeric(found["row"], errors="coerce").astype("float64"))
    prints = prints[["row", "rule", "fingerprint"]].drop_duplicates(["row", "rule"])
    return slugs.merge(prints, on=["row", "rule"], how="left", validate="many_to_one")[["at", "rule", "fingerprint"]]
