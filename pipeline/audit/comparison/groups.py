"""Who and what is compared, by which rules, and what is adjusted for."""

import datetime as dt
from itertools import pairwise
from typing import Final

import numpy as np
import pandas as pd

from pipeline.contracts import commonest_spelling

__all__ = [
    "COMPARED", "DAYS_OPEN", "DAYS_SINCE", "age_names", "covariates", "days_since", "groupings", "is_asked",
    "month_of", "others_groupings", "taken_into_account", "work_day",
]  # fmt: skip

COMPARED: Final = ("contractor", "crew", "district", "surface", "month")
# upper ends of the classes of age, in days; one class more lies beyond the last
DAYS_OPEN: Final = (7, 14, 30, 60, 90, 180)
DAYS_SINCE: Final = (30, 90, 180, 365, 730)
_UNKNOWN: Final = "unknown"

# bands in which cores are alike: upper ends in millimetres and days
_SIZES: Final = (200, 350, 500)
_DEPTHS: Final = (100, 200, 300)
_AGES: Final = (90, 365, 730)
_SEASONS: Final = ("winter", "spring", "summer", "autumn")

# these compare two registers with each other, and neither of the two has the finding by itself
_OF_TWO_REGISTERS: Final = frozenset({"core-in-two-registers", "core-handed-over", "id-in-two-registers"})
# what follows from the days that have passed, which month and age decide
_OF_TIME: Final = frozenset({
    "open-too-long", "plated-too-long", "interim-too-old", "permit-expired", "guarantee-ending", "inspection-missed",
    "date-unreadable", "reinstatement-date-unreadable", "date-implausible", "date-in-future", "dates-out-of-order",
})  # fmt: skip
# rules whose answer a grouping decides by itself: a comparison of them would find the grouping
_DECIDED_BY: Final = {
    "surface": frozenset({
        "surface-unknown", "surface-differs", "surface-overlap", "surface-not-allowed", "surface-uncertain",
        "joint-near",
    }),
    "district": frozenset({"district-uncertain", "district-gap", "district-outside", "district-overlap"}),
    "month": _OF_TIME,
}  # fmt: skip
# what cores of one group of a grouping have in common by its definition
_FIXED_BY: Final = {"surface": {"surface"}, "month": {"season", "age"}}
# what the rules of a family decide or are decided by, so that nothing would be left to compare
_FIXED_IN: Final = {
    "sizes": {"size", "depth"}, "position": {"surface", "road class"}, "dates": {"season", "age"},
    "surface": {"surface"},
}  # fmt: skip
# of the family of surfaces, these are a matter of the crew on a surface it did not choose
_ON_A_SURFACE: Final = frozenset({"surface-not-allowed", "shade-differs", "shade-unreadable"})


def is_asked(rule: str, severity: str, by: str) -> bool:
    """Return whether groups are compared by a rule: not by notes, nor where the grouping itself decides the answer."""
    return severity != "note" and rule not in _OF_TWO_REGISTERS | _DECIDED_BY.get(by, frozenset())


def taken_into_account(rule: str, family: str, by: str) -> tuple[str, ...]:
    """Return the covariates that groups are adjusted for when they are compared by a rule."""
    fixed = _FIXED_BY.get(by, set()) | (set() if rule in _ON_A_SURFACE else _FIXED_IN.get(family, set()))
    if rule in _OF_TIME:
        fixed = fixed | {"season", "age"}
    return tuple(name for name in ("surface", "road class", "size", "depth", "season", "age") if name not in fixed)


def work_day(cores: pd.DataFrame) -> pd.Series:
    """Return the local day on which each of N cores was reinstated, or else opened."""
    return _local_days(cores["reinstated_at"]).fillna(_local_days(cores["opened_on"]))


def _local_days(instants: pd.Series) -> pd.Series:
    days: pd.Series = instants.dt.tz_localize(None).dt.normalize()
    return days


def groupings(cores: pd.DataFrame, applies_to: str) -> dict[str, pd.Series]:
    """Return the group of each of N cores by each grouping that is compared; unknown ones are missing.

    A month is that of the reinstatement for rules that apply to reinstated cores, and else that of the opening.
    """
    surface = cores["surface"]
    return {
        "contractor": cores["register"],
        "crew": commonest_spelling(cores["crew"]),
        "district": cores["district"],
        "surface": surface.mask(surface.eq(_UNKNOWN)),
        "month": month_of(cores, applies_to),
    }


def month_of(cores: pd.DataFrame, applies_to: str) -> pd.Series:
    """Return the month in which each of N cores was reinstated or, unless rules apply to these alone, opened."""
    days = _local_days(cores["reinstated_at" if applies_to == "reinstated" else "opened_on"])
    # a month is written once for each day that occurs
    codes, different = pd.factorize(days)
    months = pd.Series(different).dt.strftime("%Y-%m").astype("str")
    return pd.Series(months.reindex(codes).to_numpy(), cores.index, dtype="str")


def others_groupings(cores: pd.DataFrame, as_of: dt.date) -> dict[str, pd.Series]:
    """Return the group of each of N cores by each grouping that is shown and not compared."""
    return {
        "district": cores["district"],
        "street": cores["street_matched"],
        "days open": _classes(cores["opened_on"], as_of, DAYS_OPEN).where(cores["is_open"]),
        "days since reinstatement": _classes(cores["reinstated_at"], as_of, DAYS_SINCE),
    }


def age_names(ends: tuple[int, ...]) -> list[str]:
    """Return the names of the age classes with these upper ends, in days."""
    return [f"{low + 1} to {high}" for low, high in pairwise((-1, *ends))] + [f"over {ends[-1]}"]


def days_since(instants: pd.Series, as_of: dt.date) -> pd.Series:
    """Return whole days from N instants to the day of the audit; a later day counts as that day."""
    days: pd.Series = (pd.Timestamp(as_of) - _local_days(instants)).dt.days
    return days.clip(lower=0)


def _classes(instants: pd.Series, as_of: dt.date, ends: tuple[int, ...]) -> pd.Series:
    cut = pd.cut(days_since(instants, as_of), [-1, *ends, float("inf")], labels=age_names(ends))
    return cut.astype("str").where(cut.notna())


def covariates(cores: pd.DataFrame, as_of: dt.date) -> pd.DataFrame:
    """Return for N cores what a crew did not choose, in bands, as whole numbers: unknown is a band of its own."""
    day = work_day(cores)
    age = (pd.Timestamp(as_of) - day).dt.days.clip(lower=0)
    return pd.DataFrame(
        {
            "surface": pd.factorize(cores["surface"], sort=True)[0],
            "road class": pd.factorize(cores["road_class"], sort=True)[0],
            "size": _bands(cores["hole_mm"], _SIZES),
            "depth": _bands(cores["depth_believed_mm"], _DEPTHS),
            # December to February are one winter
            "season": (day.dt.month % 12 // 3).fillna(len(_SEASONS)).astype("int64"),
            "age": _bands(age, _AGES),
        },
        index=cores.index,
    )


def _bands(values: pd.Series, ends: tuple[int, ...]) -> np.ndarray:
    return np.where(values.isna(), len(ends) + 1, np.searchsorted(ends, values.fillna(0.0)))
