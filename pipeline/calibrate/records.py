"""Records of use: the columns that the calibration needs of each core."""

import pandas as pd

__all__ = ["records_of_use"]


def records_of_use(
    cores: pd.DataFrame, specified: pd.DataFrame, sizes: pd.DataFrame, grout_used_l: pd.Series
) -> pd.DataFrame:
    """Return the columns that ``calibrate`` needs.

    Parameters
    ----------
    cores
        N rows with ``bags_used``, ``crew``, ``register``, ``reinstated_at`` and ``is_copy``.
    specified
        N rows with ``bedding`` and ``reinstatable``.
    sizes
        N rows with ``hole_mm``, ``depth_believed_mm`` and ``is_thin``.
    grout_used_l
        N numbers, litres of wet grout as recorded.

    Returns
    -------
    pandas.DataFrame
        On ``cores.index``: ``hole_mm``, ``depth_mm``, ``bedding``, ``bags_used``, ``grout_used_l``, ``crew`` and
        ``is_usable``: whether the core is reinstated and not a duplicate or too thin.
    """
    is_reinstated = cores["reinstated_at"].notna() & specified["reinstatable"]
    return pd.DataFrame(
        {
            "hole_mm": sizes["hole_mm"],
            "depth_mm": sizes["depth_believed_mm"],
            "bedding": specified["bedding"],
            "bags_used": cores["bags_used"],
            "grout_used_l": grout_used_l,
            "crew": _crew(cores),
            "is_usable": is_reinstated & ~cores["is_copy"] & ~sizes["is_thin"],
        }
    )


def _crew(cores: pd.DataFrame) -> pd.Series:
    """Return the crew of every core; crews of different registers are different, though they may have one name."""
    crew = cores["crew"].fillna("").astype("str").str.strip()
    several = len(cores["register"].unique()) > 1
    return crew.where(crew.eq("") | (not several), crew + " (" + cores["register"].astype("str") + ")")
