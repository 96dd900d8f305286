"""Rates of findings by crew, district, surface, month, street and age, with exact intervals, and which of them differ.

Two findings among five cores are no proof of worse work than a hundred among five hundred: the interval shows it. With
many groups some differ by chance alone, so a difference is reported only if it remains after a correction for all of
them. Streets and ages are not compared. Most streets have too few cores to show anything, and there are thousands of
them: in the correction they would hide the differences between crews and districts. Nobody chooses a core's age.
"""

import datetime as dt
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import fisher_exact

from pipeline.contracts import AUDIT_TABLES, names_of
from pipeline.intervals import CONFIDENCE, true_rates

__all__ = ["DAYS_OPEN", "DAYS_SINCE", "FEWEST", "age_names", "corrected", "days_since", "rates_of_findings"]

_COLUMNS: Final = list(names_of(AUDIT_TABLES["rates"]))
# what a crew is responsible for; a position out of range or a street's name is a matter of the register
_WORK: Final = ("placement", "timing")
_SHADE: Final = "shade-differs"
# a smaller group shows nothing, and would only blur what the others show
FEWEST: Final = 5
# upper ends of the classes of age, in days; one class more lies beyond the last
DAYS_OPEN: Final = (7, 14, 30, 60, 90, 180)
DAYS_SINCE: Final = (30, 90, 180, 365, 730)
_COMPARED: Final = ("crew", "district", "surface", "month")


def age_names(ends: tuple[int, ...]) -> list[str]:
    """Return the names of the age classes with these upper ends, in days."""
    return [f"{low + 1} to {high}" for low, high in pairwise((-1, *ends))] + [f"over {ends[-1]}"]


def days_since(instants: pd.Series, as_of: dt.date) -> pd.Series:
    """Return whole days from N instants to the day of the audit; a later day counts as that day."""
    days: pd.Series = (pd.Timestamp(as_of) - instants.dt.tz_localize(None).dt.normalize()).dt.days
    return days.clip(lower=0)


def _classes(instants: pd.Series, as_of: dt.date, ends: tuple[int, ...]) -> pd.Series:
    cut = pd.cut(days_since(instants, as_of), [-1, *ends, float("inf")], labels=age_names(ends))
    return cut.astype("str").where(cut.notna())


def corrected(p: pd.Series) -> pd.Series:
    """Correct N probabilities for being N comparisons (Holm, Scand. J. Statist. 6, 1979); missing ones do not count."""
    rising = p.dropna().sort_values(kind="stable")
    steps = np.arange(len(rising), 0, -1)
    raised = np.minimum(np.maximum.accumulate(rising.to_numpy() * steps), 1.0)
    return pd.Series(raised, rising.index).reindex(p.index)


def rates_of_findings(
    cores: pd.DataFrame,
    findings: pd.DataFrame,
    families: dict[str, str],
    flagged: npt.NDArray[np.bool_],
    as_of: dt.date,
) -> pd.DataFrame:
    """Return the share of cores with findings in each group of cores, compared with all other groups.

    Parameters
    ----------
    cores
        N rows with ``crew``, ``district``, ``surface``, ``street_matched``, ``opened_on``, ``reinstated_at``,
        ``is_open``, ``is_copy``.
    findings
        One row per finding: ``core`` (position among the N), ``rule``, ``severity``.
    families
        The family of each rule.
    flagged
        N truths: the core has a finding of severity ``fail``.
    as_of
        Day of the audit, to which ages are counted.

    Returns
    -------
    pandas.DataFrame
        One row per measure and group: ``measure`` ("flagged" of all cores; "workmanship" of reinstated cores: any
        finding but a note on placement, timing or shade), ``by``, ``group``, ``cores``, ``with_findings``, ``rate``
        with its 95 % interval ``low`` to ``high``, ``others_rate``, ``p``, ``p_corrected`` and ``differs``; see
        ``_compared_with_others``. An interval is for one group by itself: some of many will miss their true share.
    """
    work = findings["rule"].map(families).isin(_WORK) | findings["rule"].eq(_SHADE)
    once = ~cores["is_copy"].to_numpy()
    worked = np.zeros(len(cores), dtype=bool)
    worked[findings.loc[work & findings["severity"].ne("note"), "core"].unique().astype(np.intp)] = True
    reinstated = cores["reinstated_at"].notna().to_numpy()
    open_for = _classes(cores["opened_on"], as_of, DAYS_OPEN).where(cores["is_open"])
    tables = [
        *_counts("flagged", flagged, _groups(cores, "opened_on", as_of) | {"days open": open_for}, once),
        *_counts("workmanship", worked, _groups(cores, "reinstated_at", as_of), once & reinstated),
    ]
    if not tables:
        return pd.DataFrame(columns=_COLUMNS)
    return _compared_with_others(pd.concat(tables, ignore_index=True))


def _groups(cores: pd.DataFrame, date: str, as_of: dt.date) -> dict[str, pd.Series]:
    """The group of each of N cores, by each of the ways in which they are grouped."""
    return {
        "crew": _crews(cores["crew"]),
        "district": cores["district"],
        "surface": cores["surface"],
        "month": cores[date].dt.strftime("%Y-%m"),
        "street": cores["street_matched"],
        "days since reinstatement": _classes(cores["reinstated_at"], as_of, DAYS_SINCE),
    }


def _counts(
    measure: str,
    hits: npt.NDArray[np.bool_],
    groups: dict[str, pd.Series],
    among: npt.NDArray[np.bool_],
) -> list[pd.DataFrame]:
    """The cores of each group and those of them that count as hits; a table per way of grouping."""
    tables = []
    for by, names in groups.items():
        table = pd.DataFrame({"group": names.to_numpy(), "hit": hits})[among].dropna()
        counted = table.groupby("group")["hit"].agg(cores="size", with_findings="sum").reset_index()
        # a single group has nothing to be compared with
        if len(counted) > 1 or (by not in _COMPARED and len(counted)):
            tables.append(counted.assign(measure=measure, by=by))
    return tables


def _compared_with_others(rates: pd.DataFrame) -> pd.DataFrame:
    """Add to the counts of each group its rate and how it differs from all other groups.

    ``p``: chance of so large a difference if there were none (Fisher's exact test, not made for groups of fewer than
    five). ``p_corrected``: the same for all the comparisons of the table. ``differs``: "more", "less", "not shown" or
    "too few"; "not compared" for streets and ages. If no group differs at all, the chance that any difference is
    reported is 5 % at most.
    """
    total = rates.groupby(["measure", "by"])[["cores", "with_findings"]].transform("sum")
    rest, rest_hits = total["cores"] - rates["cores"], total["with_findings"] - rates["with_findings"]
    low, high = true_rates(rates["with_findings"], rates["cores"])
    rates = rates.assign(rate=rates["with_findings"] / rates["cores"], low=low, high=high, others_rate=rest_hits / rest)
    compared, few = rates["by"].isin(_COMPARED), rates["cores"].lt(FEWEST)
    # one test per group, never one per core
    rates["p"] = [
        float(fisher_exact([[hit, count - hit], [other, others - other]]).pvalue) if asked else np.nan
        for hit, count, other, others, asked in zip(
            rates["with_findings"], rates["cores"], rest_hits, rest, compared & ~few, strict=True
        )
    ]
    rates["p_corrected"] = corrected(rates["p"])
    more = rates["rate"].gt(rates["others_rate"])
    shown = rates["p_corrected"].lt(1 - CONFIDENCE)
    rates["differs"] = np.select(
        [few, ~compared, shown & more, shown], ["too few", "not compared", "more", "less"], "not shown"
    )
    return rates[_COLUMNS]


def _crews(written: pd.Series) -> pd.Series:
    """The crew of each core in its commonest spelling, regardless of case and spaces."""
    plain = written.str.strip().str.replace(r"\s+", " ", regex=True)
    spellings = pd.DataFrame({"form": plain.str.casefold(), "plain": plain}).value_counts().reset_index()
    commonest = spellings.sort_values(["count", "plain"], ascending=[False, True]).drop_duplicates("form")
    return plain.str.casefold().map(commonest.set_index("form")["plain"])
