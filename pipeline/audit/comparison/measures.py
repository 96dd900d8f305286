"""Shares of findings by contractor, crew, district, surface and month, compared rule by rule among cores assessed.

A group that records less has fewer findings, not fewer faults. So each rule is compared among the cores that it could
assess, and all rules on workmanship together by their findings per check, against what the same checks come to
elsewhere. A difference holds only if it remains among alike cores, whichever way cores at the limit are counted, and
after a correction for all comparisons. Streets and ages are shown and not compared: most streets have too few cores to
show anything, and correcting for thousands of them would hide the differences between crews.
"""

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.audit.comparison.clusters import cluster_codes, ties_of
from pipeline.audit.comparison.groups import COMPARED, covariates, groupings, is_asked, month_of, taken_into_account
from pipeline.audit.comparison.tallies import (
    Cells,
    Clustering,
    Codes,
    Expected,
    Spread,
    by_group,
    cells_of,
    clusters_by_group,
    counted,
    expected,
    pieces,
    ranked,
)
from pipeline.audit.outcomes import AT_LIMIT, FOUND, NOT_ASSESSED
from pipeline.clock import uncounted

__all__ = ["WORKMANSHIP", "Grounds", "Grouping", "Tally", "grounds_of", "is_workmanship", "strata_of", "tallies"]

WORKMANSHIP: Final = "workmanship"
# what a crew is responsible for; a position out of range or a street's name is a matter of the register
_WORK: Final = ("placement", "timing")
_SHADE: Final = "shade-differs"
_SEVERAL: Final = 2


def is_workmanship(rules: pd.DataFrame) -> pd.Series:
    """Return for each of N rules of the rule book whether it judges the work on reinstated cores."""
    on_work = rules["family"].isin(_WORK) | rules["rule"].eq(_SHADE)
    return on_work & rules["applies_to"].eq("reinstated") & rules["severity"].ne("note")


@dataclass(frozen=True)
class Tally:
    """What one measure comes to by the groups of one grouping.

    ``names``: of the G groups. ``raw``: among all cores assessed. ``alike``: in strata of alike cores. ``spreads``: how
    findings come together, in each way that bears on the measure. ``cores``: that were assessed; ``not_recorded``:
    to which the rules apply, but which lack what they need. ``adjusted_for``: the covariates of the strata.
    """

    measure: str
    by: str
    names: list[str]
    raw: Expected
    alike: Expected
    spreads: tuple[Spread, ...]
    cores: npt.NDArray[np.float64]
    not_recorded: npt.NDArray[np.float64]
    adjusted_for: tuple[str, ...]


@dataclass(frozen=True)
class Grouping:
    """The groups of N cores by one grouping.

    ``codes``: group of each core, -1 for none. ``names``: of the groups. ``cells``: by covariates, the cells of strata
    and groups. ``pieces``: by way of clustering, the piece of each core and the group of each piece.
    """

    codes: Codes
    names: list[str]
    cells: Mapping[tuple[str, ...], Cells]
    pieces: Mapping[str, tuple[Codes, Codes]]


# by grouping and by whether the rules apply to reinstated cores alone
Grounds = Mapping[tuple[str, bool], Grouping]


def grounds_of(cores: pd.DataFrame, outcomes: pd.DataFrame, rules: pd.DataFrame, as_of: dt.date) -> Grounds:
    """Return the groups, strata and clusters that N cores are compared by; see ``tallies`` for the parameters."""
    bands, clusters = covariates(cores, as_of), cluster_codes(cores)
    asked = _asked(outcomes, rules)
    found: dict[tuple[str, bool], Grouping] = {}
    names = groupings(cores, "all")
    # the month alone is another for rules that apply to reinstated cores
    grounds = [(by, names[by], [True, False]) for by in COMPARED if by != "month"]
    grounds += [("month", month_of(cores, "reinstated"), [True]), ("month", names["month"], [False])]
    for by, of_core, for_done in grounds:
        codes, known = pd.factorize(of_core, sort=True)
        its = [rule for rule in asked if rule["is_done"] in for_done and is_asked(rule["rule"], rule["severity"], by)]
        group, count = codes.astype(np.int32), len(known)
        strata = {(), *(taken_into_account(rule["rule"], rule["family"], by) for rule in its)}
        ties = {"day", *(tie for rule in its for tie in ties_of(rule["family"], by))}
        grouping = Grouping(
            group,
            [str(name) for name in known],
            {given: cells_of(group, strata_of(bands, given), count) for given in sorted(strata)},
            {tie: pieces(clusters[tie], group, count) for tie in sorted(ties)},
        )
        found |= {(by, is_done): grouping for is_done in for_done}
    return found


def _asked(outcomes: pd.DataFrame, rules: pd.DataFrame) -> list[dict[Any, Any]]:
    """The rules that have any finding; where nobody has one there is nothing to compare."""
    is_done, is_work = rules["applies_to"].eq("reinstated"), is_workmanship(rules)
    every = rules.assign(is_done=is_done, is_work=is_work).to_dict("records")
    return [rule for rule in every if (outcomes[rule["rule"]].to_numpy() == FOUND).any()]


def strata_of(bands: pd.DataFrame, names: tuple[str, ...]) -> npt.NDArray[np.int64]:
    """Return the stratum of each of N cores: those with the same bands of these covariates are alike."""
    stratum = np.zeros(len(bands), dtype=np.int64)
    for name in names:
        band = bands[name].to_numpy() + 1
        stratum = ranked(stratum * (band.max(initial=0) + 1) + band)[1]
    return stratum


def tallies(
    outcomes: pd.DataFrame, rules: pd.DataFrame, grounds: Grounds, told: Callable[[int], None] = uncounted
) -> list[Tally]:
    """Return what each rule with findings, and workmanship as a whole, comes to by group.

    Parameters
    ----------
    outcomes
        N rows, each core once, with a column of outcome codes per rule.
    rules
        The rule book: ``rule``, ``family``, ``severity``, ``applies_to``.
    grounds
        Groups, strata and clusters of the same N cores.
    told
        Is told how many rules are done, those of each kind of group one after another.
    """
    found: list[Tally] = []
    asked = _asked(outcomes, rules)
    for number, by in enumerate(COMPARED):
        told(number * len(rules))
        work: list[Tally] = []
        together: list[Clustering] = []
        some_work = np.zeros(len(outcomes), dtype=bool)
        for rule in asked:
            grouping = grounds[by, rule["is_done"]]
            # a single group has nothing to be compared with
            if len(grouping.names) < _SEVERAL or not is_asked(rule["rule"], rule["severity"], by):
                continue
            codes = outcomes[rule["rule"]].to_numpy()
            tally, clusterings = _tally(rule, by, grouping, codes)
            found.append(tally)
            if rule["is_work"]:
                # a rule's own list may be shorter
                pairs = zip(together, clusterings, strict=False)
                together = [one.plus(other) for one, other in pairs] if work else clusterings
                work.append(tally)
                some_work |= codes <= AT_LIMIT
        if work:
            found.append(_together(by, work, together, grounds[by, True], some_work))
    return found


def _tally(
    rule: dict[Any, Any], by: str, grouping: Grouping, codes: npt.NDArray[np.int8]
) -> tuple[Tally, list[Clustering]]:
    """What one rule comes to by group, and how its findings cluster; ``codes`` are its outcomes."""
    slug, family, group, count = str(rule["rule"]), str(rule["family"]), grouping.codes, len(grouping.names)
    adjusted_for = taken_into_account(slug, family, by)
    assessed = np.flatnonzero(codes <= AT_LIMIT)
    outcome = codes[assessed]
    cells = grouping.cells[adjusted_for]
    in_cells = counted(cells.of_core[assessed], outcome, len(cells.group))
    raw, alike = expected(*by_group(cells, in_cells)), expected(cells, in_cells)
    clusterings = []
    for tie in ties_of(family, by):
        of_core, of_piece = grouping.pieces[tie]
        in_pieces = counted(of_core[assessed], outcome, len(of_piece))
        clusterings.append(clusters_by_group(of_piece, count, in_pieces))
    lacking = np.bincount(group[(group >= 0) & (codes == NOT_ASSESSED)], minlength=count)
    spreads = tuple(one.spread() for one in clusterings)
    tally = Tally(slug, by, grouping.names, raw, alike, spreads, raw.checks, lacking.astype(float), adjusted_for)
    return tally, clusterings


def _together(
    by: str, work: list[Tally], clusterings: list[Clustering], grouping: Grouping, some: npt.NDArray[np.bool_]
) -> Tally:
    """What several rules come to together; the findings about one core come together with those of its day."""
    spreads = tuple(one.spread() for one in clusterings)
    raw, alike = (_sum([getattr(tally, name) for tally in work]) for name in ("raw", "alike"))
    here = (grouping.codes >= 0) & some
    cores = np.bincount(grouping.codes[here], minlength=len(grouping.names)).astype(float)
    lacking = np.sum([tally.not_recorded for tally in work], axis=0)
    # a rule's own list may be shorter
    adjusted_for = max((tally.adjusted_for for tally in work), key=len)
    return Tally(WORKMANSHIP, by, grouping.names, raw, alike, spreads, cores, lacking, adjusted_for)


def _sum(parts: list[Expected]) -> Expected:
    return Expected(*(sum(getattr(part, one.name) for part in parts) for one in fields(Expected)))
