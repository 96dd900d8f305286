"""The temperature of each hour, when grout may be poured, and how long it then needs before traffic.

An hour is as cold as the colder of its two ends. Where only the lowest and the highest temperature of a day are known,
the day is coldest at 05:00 and warmest at 15:00, and half a cosine leads from one to the other: our default.
"""

from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contracts import Temperatures
from pipeline.plan.crews import Bools, Days
from pipeline.plan.travel import Floats, Ints

__all__ = ["ALL_DAY_MIN", "Curing", "Supplier", "air_by_hour", "cure_minutes", "curing_of"]

ALL_DAY_MIN: Final = 24.0 * 60.0
_HOURS: Final = 24
_MINUTES: Final = 60.0
_FREEZES_C: Final = 0.0
# hours of the day, and how far a forecast reaches beyond its own hours: our defaults
_COLDEST: Final = 5
_WARMEST: Final = 15
_WIDEST_GAP_H: Final = 6.0
_FORECAST, _SEASON, _UNKNOWN = "forecast", "seasonal table", "not known"


class Supplier(NamedTuple):
    """The supplier's minutes to traffic, the temperature it states them for, the datum, and the range for a pour.

    ``frost_free_min``: how long grout must not freeze, where that is longer than until traffic.
    """

    minutes: float
    air_c: float
    datum_c: float
    least_c: float
    most_c: float = np.inf
    frost_free_min: float = 0.0


class Curing(NamedTuple):
    """By day of the horizon: when grout may be poured, and how it cures.

    ``air_c``: the lowest temperature while pours of the day cure; missing where it is not known. ``pours``: whether
    grout may be poured at all. ``cure_min``: minutes from the end of a pour to traffic, the longest of all pours of the
    day. ``first_min`` and ``last_min``: a pour may begin from the one to the other, minutes from midnight; 0 and
    ALL_DAY_MIN where nothing restricts it. ``air_from``: where the temperatures come from.
    """

    air_c: Floats
    pours: Bools
    cure_min: Floats
    first_min: Floats
    last_min: Floats
    air_from: tuple[str, ...]


def curing_of(
    days: Days, temperatures: Temperatures | None, supplier: Supplier, shift: tuple[float, float] = (0.0, ALL_DAY_MIN)
) -> Curing:
    """Return how grout cures on each day.

    A pour is planned in the longest run of hours in which it may begin: the air is within the range for a pour, stays
    at or above the least until traffic, and above freezing for as long as grout must not freeze. Where temperatures are
    not known, the supplier's time is used.

    Parameters
    ----------
    days
        D days.
    temperatures
        The forecast and the seasonal table; None: not known.
    supplier
        What the grout needs.
    shift
        From when to when anybody works, minutes from midnight.
    """
    air, origin = air_by_hour(days, temperatures)
    cold = np.fmin(air, np.append(air[1:], np.nan))
    warm = np.fmax(air, np.append(air[1:], np.nan))
    cure = cure_minutes(cold, supplier)
    # a pour at the end of its hour cures in the hours after it
    cure = np.maximum(cure, np.append(cure[1:], cure[-1]))
    may = ~(cold < supplier.least_c) & ~(warm > supplier.most_c) & np.isfinite(cure)
    may &= ~_meets(cold < supplier.least_c, cure) & ~_meets(
        cold <= _FREEZES_C, np.full(len(cold), supplier.frost_free_min)
    )
    hour = np.arange(_HOURS)
    worked = (hour >= np.floor(shift[0] / _MINUTES)) & (hour < np.ceil(shift[1] / _MINUTES))
    by_day = (len(days), _HOURS)
    first, last = _longest_runs(may.reshape(by_day) & worked)
    pours = last > first
    in_run = (hour >= first[:, None]) & (hour < last[:, None]) & pours[:, None]
    counted = np.where(pours[:, None], in_run, worked)
    edge = np.flatnonzero(worked)
    lowest = _lowest(cold, cure).reshape(by_day)
    return Curing(
        _least(np.where(counted, lowest, np.nan)),
        pours,
        np.where(pours, np.where(in_run, cure.reshape(by_day), 0.0).max(axis=1), supplier.minutes),
        np.where(first == edge[0], 0.0, first * _MINUTES),
        np.where(last == edge[-1] + 1, ALL_DAY_MIN, last * _MINUTES),
        _origins(origin.reshape(by_day)[:, worked]),
    )


def air_by_hour(days: Days, temperatures: Temperatures | None) -> tuple[Floats, np.ndarray]:
    """Return the temperature at the begin of each hour, D x 24, missing where not known; and where each comes from."""
    at = (days[:, None].astype("datetime64[h]") + np.arange(_HOURS)).ravel()
    origin = np.full(len(at), _UNKNOWN, dtype=object)
    air = np.full(len(at), np.nan)
    if temperatures is None:
        return air, origin
    hours, by_day, by_month = temperatures
    month = at.astype("datetime64[M]").astype(int) % 12 + 1
    sources = [
        (_between(hours, at), _FORECAST),
        (_course(by_day.set_index("day").reindex(pd.DatetimeIndex(at).normalize()), at), _FORECAST),
        (_course(by_month.set_index("month").reindex(month), at), _SEASON),
    ]
    for values, name in sources:
        fresh = np.isnan(air) & np.isfinite(values)
        air[fresh], origin[fresh] = values[fresh], name
    return air, origin


def _between(hours: pd.DataFrame, at: np.ndarray) -> Floats:
    """Return a forecast at each hour, on a straight line between its own; missing beyond it and in wide gaps."""
    if hours.empty:
        return np.full(len(at), np.nan)
    known = hours["at"].to_numpy().astype("datetime64[s]").astype(float) / 3600.0
    wanted = at.astype("datetime64[s]").astype(float) / 3600.0
    before = np.clip(np.searchsorted(known, wanted, side="right") - 1, 0, len(known) - 1)
    after = np.clip(np.searchsorted(known, wanted), 0, len(known) - 1)
    near = known[after] - known[before] <= _WIDEST_GAP_H
    values = np.interp(wanted, known, hours["air_c"].to_numpy(float), left=np.nan, right=np.nan)
    return np.where(near, values, np.nan)


def _course(lows_and_highs: pd.DataFrame, at: np.ndarray) -> Floats:
    """Return the temperature at each hour of days of which the lowest and the highest are known."""
    low, high = (lows_and_highs[name].to_numpy(float) for name in ("low_c", "high_c"))
    hour = at.astype("datetime64[h]").astype(int) % _HOURS
    rising = (hour >= _COLDEST) & (hour < _WARMEST)
    since = (hour - np.where(rising, _COLDEST, _WARMEST)) % _HOURS
    share = since / np.where(rising, _WARMEST - _COLDEST, _HOURS - _WARMEST + _COLDEST)
    warmth = (1 - np.cos(np.pi * np.where(rising, share, 1 - share))) / 2
    result: Floats = low + (high - low) * warmth
    return result


def cure_minutes(cold: Floats, supplier: Supplier) -> Floats:
    """Return for a pour at the begin of each hour the minutes before traffic, never less than the supplier's.

    Maturity after Nurse and Saul (ASTM C1074), added up hour by hour: the sum of (temperature - datum) x time reaches
    that of the supplier's time at the supplier's temperature. An unknown hour counts as one at that temperature;
    infinite where the hours end first.
    """
    needed = supplier.minutes * (supplier.air_c - supplier.datum_c)
    rate = np.clip(np.where(np.isnan(cold), supplier.air_c, cold) - supplier.datum_c, 0.0, None)
    # beyond the last hour the air stays as it is
    rate = np.append(rate, np.repeat(rate[-1], _HOURS))
    total = np.concatenate([[0.0], np.cumsum(rate * _MINUTES)])
    wanted = total[: len(cold)] + needed
    after = np.searchsorted(total, wanted - 1e-9)
    reached = after < len(total)
    into = np.minimum(after, len(total) - 1) - 1
    speed = np.where(rate[into] > 0, rate[into], np.inf)
    minutes = (into - np.arange(len(cold))) * _MINUTES + (wanted - total[into]) / speed
    return np.where(reached, np.maximum(minutes, supplier.minutes), np.inf)


def _meets(wrong: Bools, minutes: Floats) -> Bools:
    """Return whether any hour that begins within so many minutes after each hour is wrong."""
    return _spread(wrong.astype(float), minutes, 0.0, np.maximum) > 0


def _lowest(cold: Floats, minutes: Floats) -> Floats:
    """Return the lowest temperature from each hour until so many minutes later."""
    return _spread(cold, minutes, np.nan, np.fmin)


def _spread(values: Floats, minutes: Floats, beyond: float, join: np.ufunc) -> Floats:
    within = np.where(np.isfinite(minutes), minutes, 0.0)
    result = values.copy()
    for later in range(1, int(np.ceil(within.max(initial=0.0) / _MINUTES)) + 1):
        shifted = np.append(values[later:], np.full(min(later, len(values)), beyond))[: len(values)]
        result = np.where(later <= np.ceil(within / _MINUTES), join(result, shifted), result)
    return result


def _longest_runs(may: Bools) -> tuple[Ints, Ints]:
    """Return the begin and the end of the longest run of each row, the first of equal ones; equal without any."""
    length = np.zeros(len(may), dtype=np.int64)
    best, end = length.copy(), length.copy()
    for hour in range(may.shape[1]):
        length = np.where(may[:, hour], length + 1, 0)
        longer = length > best
        best, end = np.where(longer, length, best), np.where(longer, hour + 1, end)
    return end - best, end


def _least(values: Floats) -> Floats:
    """Return the least of each row, missing where nothing is known."""
    filled = np.where(np.isnan(values), np.inf, values).min(axis=1, initial=np.inf)
    return np.where(np.isinf(filled), np.nan, filled)


def _origins(by_hour: np.ndarray) -> tuple[str, ...]:
    """Return where the temperatures of each day come from: of several, the one that is known least."""
    order = (_UNKNOWN, _SEASON, _FORECAST)
    return tuple(next((name for name in order if (row == name).any()), _UNKNOWN) for row in by_hour)
