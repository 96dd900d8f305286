"""Rates of findings by crew, district, surface and month, with exact intervals; which differ for certain.

A group of five with two findings is no worse than one of five hundred with a hundred: the interval says so. With many
groups some differ by chance alone: a difference is called one only where it outlives a correction for all of them.
"""

from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import binomtest, fisher_exact

__all__ = ["corrected", "exact_interval", "rates_of_findings"]

_COLUMNS: Final = [
    "measure", "by", "group", "cores", "with_findings", "rate", "low", "high", "others_rate", "p",
    "p_corrected", "differs",
]  # fmt: skip
# what a crew has in its hands; a position out of range or a street's name is the register's doing
_WORK: Final = ("placement", "timing")
_SHADE: Final = "shade-differs"
_SURE: Final = 0.95
# a smaller group shows nothing, and would only blur what the others show
_FEWEST: Final = 5


def exact_interval(hits: int, count: int) -> tuple[float, float]:
    """Return the exact 95 % interval on a share of ``hits`` in ``count`` (Clopper and Pearson, Biometrika 26, 1934)."""
    interval = binomtest(hits, count).proportion_ci(_SURE, method="exact")
    return float(interval.low), float(interval.high)


def corrected(p: pd.Series) -> pd.Series:
    """Correct N probabilities for being N comparisons (Holm, Scand. J. Statist. 6, 1979); missing ones are none."""
    rising = p.dropna().sort_values(kind="stable")
    steps = np.arange(len(rising), 0, -1)
    raised = np.minimum(np.maximum.accumulate(rising.to_numpy() * steps), 1.0)
    return pd.Series(raised, rising.index).reindex(p.index)


def rates_of_findings(
    cores: pd.DataFrame, findings: pd.DataFrame, families: dict[str, str], flagged: npt.NDArray[np.bool_]
) -> pd.DataFrame:
    """Compare groups of cores by the share that carries findings.

    Parameters
    ----------
    cores
        N rows with ``crew``, ``district``, ``surface``, ``opened_on``, ``reinstated_at``.
    findings
        One row a finding: ``place`` of its core, ``rule``, ``severity``.
    families
        The family of each rule.
    flagged
        N truths: the core carries a finding of severity ``fail``.

    Returns
    -------
    pandas.DataFrame
        One row a measure and group: ``measure`` ("flagged" of all cores; "workmanship" of the cores that are back: any
        finding but a note on placement, timing or shade), ``by``, ``group``, ``cores``, ``with_findings``, ``rate``
        with its 95 % interval ``low`` to ``high``, ``others_rate``, ``p`` of so large a difference by chance (Fisher's
        exact test against all other groups, not made for groups of fewer than five), ``p_corrected`` for all the
        comparisons of the table, ``differs`` ("more", "less", "not shown" or "too few"). Where nothing differs at all,
        the chance that even one difference is called is 5 % at the most.
    """
    work = findings["rule"].map(families).isin(_WORK) | findings["rule"].eq(_SHADE)
    worked = np.zeros(len(cores), dtype=bool)
    worked[findings.loc[work & findings["severity"].ne("note"), "place"].unique().astype(np.intp)] = True
    back = cores["reinstated_at"].notna().to_numpy()
    everyone = np.ones(len(cores), dtype=bool)
    tables = []
    for measure, hits, among, date in (
        ("flagged", flagged, everyone, "opened_on"),
        ("workmanship", worked, back, "reinstated_at"),
    ):
        groups = {
            "crew": _crews(cores["crew"]),
            "district": cores["district"],
            "surface": cores["surface"],
            "month": cores[date].dt.strftime("%Y-%m"),
        }
        for by, names in groups.items():
            table = pd.DataFrame({"group": names.to_numpy(), "hit": hits})[among].dropna()
            counted = table.groupby("group")["hit"].agg(cores="size", with_findings="sum").reset_index()
            # with one group there is nothing to compare
            if len(counted) > 1:
                tables.append(counted.assign(measure=measure, by=by))
    if not tables:
        return pd.DataFrame(columns=_COLUMNS)
    rates = pd.concat(tables, ignore_index=True)
    whole = rates.groupby(["measure", "by"])[["cores", "with_findings"]].transform("sum")
    rest, rest_hits = whole["cores"] - rates["cores"], whole["with_findings"] - rates["with_findings"]
    rates["rate"] = rates["with_findings"] / rates["cores"]
    ends = [exact_interval(hit, count) for hit, count in zip(rates["with_findings"], rates["cores"], strict=True)]
    rates["low"], rates["high"] = (list(side) for side in zip(*ends, strict=True))
    rates["others_rate"] = rest_hits / rest
    # one test a group, never one a core
    rates["p"] = [
        float(fisher_exact([[hit, count - hit], [other, others - other]]).pvalue) if count >= _FEWEST else np.nan
        for hit, count, other, others in zip(rates["with_findings"], rates["cores"], rest_hits, rest, strict=True)
    ]
    rates["p_corrected"] = corrected(rates["p"])
    more = rates["rate"].gt(rates["others_rate"])
    shown = rates["p_corrected"].lt(1 - _SURE)
    few = rates["p"].isna()
    rates["differs"] = np.select([few, shown & more, shown], ["too few", "more", "less"], "not shown")
    return rates[_COLUMNS]


def _crews(written: pd.Series) -> pd.Series:
    """Each crew under its commonest spelling, whatever the case and the blanks."""
    plain = written.str.strip().str.replace(r"\s+", " ", regex=True)
    spellings = pd.DataFrame({"form": plain.str.casefold(), "plain": plain}).value_counts().reset_index()
    commonest = spellings.sort_values(["count", "plain"], ascending=[False, True]).drop_duplicates("form")
    return plain.str.casefold().map(commonest.set_index("form")["plain"])
