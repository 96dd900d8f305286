"""What the rules compare: figures made of the register's own columns. One function a figure; whole columns."""

from typing import Final

import pandas as pd

from pipeline.contracts import no_text
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.materials import Grout

__all__ = ["days_of", "minutes_between", "water_ratio", "with_figures"]

# whether it has happened at all
_HAPPENED_OR_NOT: Final = {
    "plate_known": "plated_on",
    "interim_known": "interim_on",
    "notice_known": "notice_sent_on",
    "inspection_known": "inspected_on",
}


def days_of(instants: pd.Series) -> pd.Series:
    """Return the day by the clocks there, without a time zone."""
    day: pd.Series = instants.dt.tz_localize(None).dt.normalize()
    return day


def water_ratio(water_l: pd.Series, bags: pd.Series, grout: Grout) -> pd.Series:
    """Litres of water to a kilogram of dry grout."""
    return water_l / (bags.where(bags.gt(0)) * grout.bag.value)


def minutes_between(start: pd.Series, end: pd.Series, start_text: pd.Series, end_text: pd.Series) -> pd.Series:
    """Minutes from one instant to another; missing where either was written without a time of day."""
    timed = start_text.str.contains(":", regex=False).eq(True) & end_text.str.contains(":", regex=False).eq(True)
    minutes: pd.Series = (end - start).dt.total_seconds() / 60
    return minutes.where(timed)


def with_figures(cores: pd.DataFrame, catalogue: Catalogue, present: frozenset[str]) -> pd.DataFrame:
    """Add the figures that rules compare.

    Parameters
    ----------
    cores
        N rows with the register's, located, specified and quantified columns.
    catalogue
        What a mix is made of, which surfaces are rigid, what a shade is called.
    present
        The contract columns that the register really has: an empty cell of a column that is kept says that
        nothing has happened; a column that is not kept says nothing.

    Returns
    -------
    pandas.DataFrame
        ``cores`` with the columns that ``contracts.MADE_FROM`` names, but for those of the grout.
    """
    said = {
        name: no_text(cores.index).mask(cores[column].notna(), "yes").mask(cores[column].isna(), "no")
        if column in present
        else no_text(cores.index)
        for name, column in _HAPPENED_OR_NOT.items()
    }
    # a date that cannot be read may say that it has happened
    for name, column in _HAPPENED_OR_NOT.items():
        said[name] = said[name].where(cores[f"{column}_problem"].isna())
    thickness = {name: bed.thickness.value for name, bed in catalogue.materials.bedding.items()}
    counted = cores.loc[~cores["is_copy"], "segment_id"].value_counts()
    return cores.assign(
        water_ratio=water_ratio(cores["water_l"], cores["bags_used"], catalogue.materials.grout),
        bedding_specified_mm=cores["bedding"].map(thickness).astype(float),
        reopened_after_min=minutes_between(
            cores["reinstated_at"], cores["reopened_at"], cores["reinstated_at_text"], cores["reopened_at_text"]
        ),
        shade_used_name=catalogue.shade_names(cores["shade_used"]),
        is_rigid=cores["surface"].isin([name for name, one in catalogue.surfaces.items() if one.is_rigid]),
        segment_cores=cores["segment_id"].map(counted).astype(float),
        **said,
    )
