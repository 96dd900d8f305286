"""Acceptance sampling by attributes: how many cores of a lot to inspect, how many may fail, and what that ensures."""

from bisect import bisect_left
from collections.abc import Mapping
from math import floor
from typing import Final, NamedTuple, TypeVar

from scipy import stats

from pipeline.errors import SettingsError
from pipeline.intervals import first_count
from pipeline.programme.sampling_schemes import Isolated, PlanTables, Series

__all__ = [
    "Curve",
    "Plan",
    "chance_of_acceptance_of_lot",
    "code_letter",
    "curve",
    "curve_of_lot",
    "isolated_plan",
    "plan_of",
    "series_plan",
    "smallest_sample",
]

_Value = TypeVar("_Value")

# the probabilities of acceptance by which plans are characterised
_USUALLY, _SELDOM = 0.95, 0.10
# a probability or a share that misses its limit by a rounding error meets it
_DIGITS: Final = 9


class Plan(NamedTuple):
    """A single sampling plan for one lot: inspect ``n`` cores, accept up to ``accept`` failures among them.

    ``letter`` is the code letter of the plan, empty where no table was used.
    """

    letter: str
    n: int
    accept: int

    @property
    def reject(self) -> int:
        """The number of failures from which the lot is rejected."""
        return self.accept + 1


class Curve(NamedTuple):
    """Two points of an operating characteristic: the share of bad cores accepted with 95 % and with 10 % probability.

    None where no lot of that size has that probability.
    """

    usually_accepted: float | None
    seldom_accepted: float | None


def plan_of(lot: int, scheme: Series | Isolated, tables: PlanTables) -> tuple[Plan, Curve]:
    """Return the plan for a lot by a scheme, and two points of its operating characteristic.

    Parameters
    ----------
    lot
        Cores in the lot, 1 or more.
    scheme
        The scheme. For a series the curve is that of the process, for an isolated lot that of the lot itself.
    tables
        The standard's tables.

    Raises
    ------
    SettingsError
        A value of the scheme is out of its range.
    """
    if isinstance(scheme, Isolated):
        plan = isolated_plan(lot, scheme.limit, scheme.risk, scheme.accept)
        return plan, curve_of_lot(plan.n, plan.accept, lot)
    plan = series_plan(lot, scheme.level, scheme.aql, tables)
    return plan, curve(plan.n, plan.accept)


def code_letter(lot: int, level: str, tables: PlanTables) -> str:
    """Return the code letter of a lot.

    Parameters
    ----------
    lot
        Cores in the lot, 1 or more; a lot of one counts as the smallest in the table.
    level
        ``I``, ``II``, ``III`` or ``S-1`` to ``S-4``.
    tables
        The standard's tables.

    Raises
    ------
    SettingsError
        There is no such level, or the lot is empty.
    """
    _refuse_less(lot, 1, "the lot", "cores")
    return _entry(tables.letters, level, "--level")[bisect_left(tables.bands, lot)]


def series_plan(lot: int, level: str, aql: str, tables: PlanTables) -> Plan:
    """Return the single plan for normal inspection of a lot in a series.

    Parameters
    ----------
    lot, level, tables
        As for ``code_letter``.
    aql
        Acceptance quality limit in percent of bad cores, as in the tables: ``1.0``, ``2.5``, ``4.0``.

    Returns
    -------
    Plan
        Arrows of the table are followed, for sample size and acceptance number alike. If the plan needs at least as
        many cores as the lot has, every core is inspected.

    Raises
    ------
    SettingsError
        There is no such level or AQL, or the lot is empty.
    """
    column = _entry(tables.accept, aql, "--aql")
    letter = code_letter(lot, level, tables)
    number = column[letter]
    if isinstance(number, str):
        letter, number = number, column[number]
    if isinstance(number, str):
        raise SettingsError(
            f"sampling.toml: the letter {letter} of AQL {aql} refers to the letter {number}; "
            "expected a letter with a number."
        )
    return Plan(letter, min(tables.sizes[letter], lot), number)


def isolated_plan(lot: int, limit: float, risk: float, accept: int = 0) -> Plan:
    """Return the smallest plan that seldom accepts a bad lot, for a single lot.

    Parameters
    ----------
    lot
        Cores in the lot, 1 or more.
    limit
        Share of bad cores, 0 to below 1, that an acceptable lot does not exceed.
    risk
        Largest probability, above 0 and below 1, of accepting a lot that does exceed it.
    accept
        Failures accepted, 0 or more. In a lot so small that this many bad cores exceed the limit, only as many are
        accepted as do not.

    Returns
    -------
    Plan
        Exact for the finite lot (hypergeometric).

    Raises
    ------
    SettingsError
        A value is out of its range.
    """
    _refuse_less(lot, 1, "the lot", "cores")
    _refuse_less(accept, 0, "--accept", "failures")
    if not 0 <= limit < 1:
        raise SettingsError(f'--limit: found {limit:g}, expected a share from "0 %" to below "100 %".')
    if not 0 < risk < 1:
        raise SettingsError(f'--risk: found {risk:g}, expected a share above "0 %" and below "100 %".')
    # the fewest bad cores that are too many: a lot with more is accepted less often
    bad = floor(round(limit * lot, _DIGITS)) + 1
    if bad > lot:
        raise SettingsError(f"--limit: found {limit:.12%}, with which every core of a lot may be bad; expected less.")
    accept = min(accept, bad - 1)
    return Plan("", smallest_sample(lot, bad, accept, risk), accept)


def smallest_sample(lot: int, bad: int, accept: int, risk: float) -> int:
    """Return the fewest cores to inspect so that a lot is accepted with a probability of at most ``risk``.

    Parameters
    ----------
    lot
        Cores in the lot.
    bad
        Bad cores in it, more than ``accept`` and at most ``lot``.
    accept
        Failures accepted.
    risk
        Probability, above 0.

    Raises
    ------
    SettingsError
        Inspecting every core would not reject such a lot, or it has more bad cores than cores in all.
    """
    if not accept < bad <= lot:
        raise SettingsError(
            f"found a lot of {lot} cores with {bad} bad ones and {accept} accepted failures; "
            "expected more bad cores than are accepted, and no more than the lot holds."
        )
    return first_count(
        range(lot + 1), lambda n: round(chance_of_acceptance_of_lot(n, accept, lot, bad), _DIGITS) <= risk
    )


def chance_of_acceptance_of_lot(n: int, accept: int, lot: int, bad: int) -> float:
    """Return the probability that one finite lot is accepted (hypergeometric).

    Parameters
    ----------
    n, accept
        Cores inspected, failures accepted.
    lot, bad
        Cores in the lot, bad ones among them.
    """
    return float(stats.hypergeom.cdf(accept, lot, bad, n))


def curve(n: int, accept: int) -> Curve:
    """Return the quality of a series that a plan accepts with 95 % and with 10 % probability.

    Parameters
    ----------
    n, accept
        Cores inspected, failures accepted.

    Returns
    -------
    Curve
        Shares of bad cores; exact, by the beta distribution that inverts the binomial sum.
    """
    if accept >= n:
        return Curve(1.0, None)
    usually, seldom = (float(stats.beta.ppf(1 - chance, accept + 1, n - accept)) for chance in (_USUALLY, _SELDOM))
    return Curve(usually, seldom)


def curve_of_lot(n: int, accept: int, lot: int) -> Curve:
    """Return the worst share of a finite lot still accepted with 95 % probability, and the best with 10 % at most.

    Parameters
    ----------
    n, accept
        Cores inspected, failures accepted.
    lot
        Cores in the lot.
    """

    def chance(bad: int) -> float:
        return round(chance_of_acceptance_of_lot(n, accept, lot, bad), _DIGITS)

    counts = range(lot + 1)
    # a lot without bad cores is always accepted, so the first below is one or more
    usually = first_count(counts, lambda bad: chance(bad) < _USUALLY) - 1
    seldom = first_count(counts, lambda bad: chance(bad) <= _SELDOM)
    return Curve(usually / lot, seldom / lot if seldom <= lot else None)


def _refuse_less(number: int, least: int, what: str, unit: str) -> None:
    if number < least:
        raise SettingsError(f"{what}: found {number} {unit}, expected {least} or more.")


def _entry(table: Mapping[str, _Value], key: str, option: str) -> _Value:
    if key not in table:
        raise SettingsError(f"{option}: found {key!r}, expected one of {', '.join(table)}.")
    return table[key]
