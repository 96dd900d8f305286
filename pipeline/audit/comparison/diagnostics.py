"""Second opinions on the comparisons that matter: odds ratios among alike cores, and a logistic model.

Strata of alike cores leave out what nobody else does. Where a difference is beyond chance and less than half of a
group's cores have alike ones elsewhere, a logistic model of all covariates adjusts instead of the strata, with errors
that allow for clusters. Both come from statsmodels, which is only loaded where there is such a comparison.
"""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import chdtr, stdtr

from pipeline.audit.comparison.groups import taken_into_account
from pipeline.audit.comparison.measures import WORKMANSHIP, Grounds, is_workmanship
from pipeline.audit.comparison.tallies import Codes, ranked
from pipeline.audit.outcomes import AT_LIMIT, FOUND

__all__ = ["Fit", "fit_model", "odds_and_homogeneity", "rows_of"]

# a log odds ratio beyond this is that of groups that findings separate
_SEPARATED: Final = 15.0
_LEAST_CLUSTERS: Final = 2
# a fit takes five to ten steps; one that findings separate would go on until statsmodels warns
_MOST_STEPS: Final = 15


def rows_of(row: dict[Any, Any], outcomes: pd.DataFrame, rules: pd.DataFrame, grounds: Grounds) -> pd.DataFrame:
    """Return one row per check of a measure by a grouping.

    ``core`` (position among the N), ``rule`` (position in the rule book), ``stratum``, ``in_group`` (of the compared
    one), ``is_found``, ``at_limit``, ``day`` (cluster of crew and day).
    """
    on = is_workmanship(rules) if row["measure"] == WORKMANSHIP else rules["rule"].eq(row["measure"])
    tables = []
    wanted = rules.loc[on, ["rule", "family", "applies_to"]]
    for place, slug, family, applies_to in zip(rules.index[on], *(wanted[name] for name in wanted), strict=True):
        codes = outcomes[slug].to_numpy()
        if not (codes == FOUND).any():
            continue
        grouping = grounds[row["by"], applies_to == "reinstated"]
        cells = grouping.cells[taken_into_account(slug, family, row["by"])]
        at = np.flatnonzero((grouping.codes >= 0) & (codes <= AT_LIMIT))
        tables.append(
            {
                "core": at,
                "rule": np.full(len(at), place),
                "stratum": cells.stratum[cells.of_core[at]],
                "in_group": grouping.codes[at] == grouping.names.index(row["group"]),
                "is_found": codes[at] == FOUND,
                "at_limit": codes[at] == AT_LIMIT,
                "day": grouping.pieces["day"][0][at],
            }
        )
    return pd.DataFrame({name: np.concatenate([table[name] for table in tables]) for name in tables[0]})


def odds_and_homogeneity(checks: pd.DataFrame, effect: float) -> tuple[float, float]:
    """Return the odds ratio of Mantel and Haenszel, and the chance of strata as unequal if they had one odds ratio.

    Parameters
    ----------
    checks
        One row per check; see ``rows_of``.
    effect
        Design effect, by which counts are divided.

    Returns
    -------
    tuple
        Missing where no stratum has both findings and passes, in the group and elsewhere together.
    """
    stratum = checks["stratum"].to_numpy()
    number = ranked(checks["rule"].to_numpy() * (stratum.max(initial=-1) + 1) + stratum)[1]
    # first row and column: the group, found
    cell = number * 4 + 2 * (~checks["in_group"].to_numpy()) + (~checks["is_found"].to_numpy())
    tables = np.bincount(cell, minlength=4 * (number.max(initial=-1) + 1)).astype(float).reshape(-1, 2, 2)
    informative = (tables.sum(axis=1) > 0).all(axis=1) & (tables.sum(axis=2) > 0).all(axis=1)
    if not informative.any():
        return np.nan, np.nan
    table = np.moveaxis(tables[informative], 0, 2) / effect
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = float(_pooled_ratio(table))
        equal = _equal_odds(table, ratio) if informative.sum() > 1 and 0 < ratio < np.inf else np.nan
    return ratio, equal


def _pooled_ratio(table: npt.NDArray[np.float64]) -> np.float64:
    """Return the odds ratio of Mantel and Haenszel (J. Natl. Cancer Inst. 22, 1959) over tables of two by two."""
    n = table.sum(0).sum(0)
    ratio: np.float64 = np.sum(table[0, 0] * table[1, 1] / n) / np.sum(table[0, 1] * table[1, 0] / n)
    return ratio


def _equal_odds(table: npt.NDArray[np.float64], ratio: float) -> float:
    """Return the chance of tables as unequal if all had this odds ratio (Breslow and Day, IARC Sci. Publ. 32, 1980)."""
    in_group, found = table[0, 0] + table[0, 1], table[0, 0] + table[1, 0]
    rest = table[1, 1] - table[0, 0]
    # the number found in the group at this ratio, by the rule for quadratic equations
    a, b, c = 1 - ratio, ratio * (in_group + found) + rest, -ratio * in_group * found
    expected = (-b + np.sqrt(b**2 - 4 * a * c)) / (2 * a)
    variance = 1 / (1 / expected + 1 / (found - expected) + 1 / (in_group - expected) + 1 / (rest + expected))
    statistic = np.sum((table[0, 0] - expected) ** 2 / variance)
    return float(1 - chdtr(table.shape[2] - 1, statistic))


@dataclass(frozen=True)
class Fit:
    """A logistic model of one comparison: the group's odds ratio, its chance, and why it could not be fitted, if so."""

    odds_ratio: float
    p: float
    problem: str = ""


def fit_model(
    found: npt.NDArray[np.bool_], in_group: npt.NDArray[np.bool_], bands: pd.DataFrame, cluster: Codes
) -> Fit:
    """Fit a logistic model of N checks to a group and covariates, with errors that allow for clusters.

    Parameters
    ----------
    found, in_group
        N truths each.
    bands
        N rows, a column of whole numbers per covariate. Checks in a band where all or none are found say nothing about
        the group, and are left out.
    cluster
        Cluster of each of the N.
    """
    from statsmodels.genmod.families import Binomial  # noqa: PLC0415 - a second to load
    from statsmodels.genmod.generalized_linear_model import GLM  # noqa: PLC0415

    kept = _informative(found, bands)
    y, x, clusters = found[kept].astype(float), in_group[kept].astype(float), cluster[kept]
    levels = pd.get_dummies(bands[kept].astype("str"), drop_first=True, dtype=float)
    nuisance = np.column_stack([np.ones(len(y)), levels.to_numpy()])
    design = np.column_stack([x, nuisance])
    if not len(y) or np.linalg.matrix_rank(design) == np.linalg.matrix_rank(nuisance):
        return Fit(np.nan, np.nan, "nothing alike")
    fewest = min(len(np.unique(clusters[x > 0])), len(np.unique(clusters[x == 0])))
    if fewest < _LEAST_CLUSTERS:
        return Fit(np.nan, np.nan, "too few clusters")
    with np.errstate(all="ignore"):
        try:
            fitted = GLM(y, design, family=Binomial()).fit(
                maxiter=_MOST_STEPS,
                cov_type="cluster",
                cov_kwds={"groups": np.unique(clusters, return_inverse=True)[1]},
            )
        except (np.linalg.LinAlgError, ValueError):
            return Fit(np.nan, np.nan, "no stable fit")
    effect = float(fitted.params[0])
    # the side with fewer clusters decides how well the error is known, and a fit to few hides part of it
    distance = abs(float(fitted.tvalues[0])) * np.sqrt((fewest - 1) / fewest)
    p = float(2 * stdtr(fewest - 1, -distance))
    if not fitted.converged or not np.isfinite(p) or abs(effect) > _SEPARATED:
        return Fit(np.nan, np.nan, "no stable fit")
    return Fit(float(np.exp(effect)), p)


def _informative(found: npt.NDArray[np.bool_], bands: pd.DataFrame) -> npt.NDArray[np.bool_]:
    """Return which checks lie in no band where all or none are found."""
    kept = np.ones(len(found), dtype=bool)
    while True:
        before = kept.sum()
        for name in bands.columns:
            band = bands[name].to_numpy()[kept]
            rates = pd.Series(found[kept]).groupby(band).transform("mean").to_numpy()
            kept[np.flatnonzero(kept)[(rates == 0) | (rates == 1)]] = False
        if kept.sum() == before:
            return kept
