"""Rows that are one core: written twice in one file, or kept in several files or registers under one id."""

from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from pipeline.contracts import is_missing, latest_of, plain_ids

__all__ = ["EVENTS", "repeated_rows", "same_cores"]

# what has happened to a core besides its reinstatement; a plan or a permit may lie ahead
EVENTS: Final = (
    "opened_on", "plated_on", "backfilled_on", "interim_on", "reopened_at", "notice_sent_on", "inspected_on",
)  # fmt: skip
# diameters that differ by more than this are no two measurements of one hole
_OTHER_DIAMETER_MM: Final = 50.0
# an id that one file gives to more rows than this names none of them
_MOST_ROWS: Final = 12


def same_cores(cores: pd.DataFrame, same_core_m: float) -> pd.DataFrame:
    """Return which rows are one core, and which of them is counted.

    Within one file, rows are one core where they are equal in every cell. Across files, of one register or of several,
    rows with one id, regardless of case and spaces, are one core where they lie within ``same_core_m`` of each other,
    or where one has no position and both have the same street and sizes; each row is joined to the nearest such row of
    another file, and a core has no more than one row of a file, copies apart. Rows are two cores
    whatever their id where one was opened after the other was reinstated, or where they differ in diameter and in the
    day of opening. Counted is the row that is furthest on:
    the one reinstated last, else the one with the latest of the other dates; of equals, that of the first register, and
    of its files that of the last by name.

    Parameters
    ----------
    cores
        N rows with ``row``, ``register``, ``register_file``, ``same_row`` (equal within a register where rows are equal
        in every cell), ``core_id``, ``x_m``, ``y_m``, ``street``, ``diameter_mm``, ``depth_mm``, ``reinstated_at`` and
        EVENTS.
    same_core_m
        In metres.

    Returns
    -------
    pandas.DataFrame
        On ``cores.index``: ``register_no``, ``file_no``, ``same_row`` (numbered anew through all registers),
        ``same_core``, ``is_copy`` and ``copy_of``, the row that is counted in place of a copy.
    """
    register_no = pd.factorize(cores["register"])[0].astype(np.int64)
    file_no = cores.groupby(["register", "register_file"], sort=False).ngroup().to_numpy(np.int64)
    keys = pd.DataFrame({"register_no": register_no, "same_row": cores["same_row"].to_numpy()})
    same_row = keys.groupby(["register_no", "same_row"], sort=False).ngroup().to_numpy(np.int64)
    same_core = same_row
    if file_no.max(initial=0) > 0:
        once = ~keys.duplicated().to_numpy()
        component = _joined(cores.loc[once].assign(file_no=file_no[once]), same_core_m)
        same_core = pd.factorize(component[same_row])[0].astype(np.int64)
    row = cores["row"].to_numpy()
    counted = _counted_rows(cores.assign(register_no=register_no, file_no=file_no), same_core)
    is_copy = row != counted
    return pd.DataFrame(
        {
            "register_no": register_no,
            "file_no": file_no,
            "same_row": same_row,
            "same_core": same_core,
            "is_copy": is_copy,
            "copy_of": pd.Series(counted).astype("Int64").where(is_copy).to_numpy(),
        },
        index=cores.index,
    ).astype({"copy_of": "Int64"})


def _counted_rows(cores: pd.DataFrame, same_core: npt.NDArray[np.integer]) -> npt.NDArray[np.int64]:
    """Return for each of N rows the row that is counted for its core."""
    row = cores["row"].to_numpy()
    alone = ~pd.Series(same_core).duplicated(keep=False).to_numpy()
    counted = row.copy()
    several = cores.loc[~alone]
    ranked = pd.DataFrame(
        {
            "core": same_core[~alone],
            "reinstated": latest_of(several, ["reinstated_at"]).to_numpy(),
            "latest": latest_of(several, EVENTS).to_numpy(),
            "register": several["register_no"].to_numpy(),
            "file": several["file_no"].to_numpy(),
            "row": row[~alone],
        }
    ).sort_values(
        ["core", "reinstated", "latest", "register", "file", "row"], ascending=[True, False, False, True, False, True]
    )
    first = ranked.drop_duplicates("core").set_index("core")["row"]
    counted[~alone] = first.reindex(same_core[~alone]).to_numpy()
    return counted


def _joined(rows: pd.DataFrame, same_core_m: float) -> npt.NDArray[np.int64]:
    """Return a number for each of N different rows, equal where rows of several files are one core."""
    pairs = _nearest_both_ways(_pairs(rows), same_core_m, len(rows))
    links = coo_array((np.ones(len(pairs), dtype=bool), (pairs["one"], pairs["other"])), shape=(len(rows), len(rows)))
    count, component = connected_components(links, directed=False)
    # a chain of files may lead back to another row of the first one, which is a core of its own
    again = pd.DataFrame({"core": component, "file": rows["file_no"].to_numpy()}).duplicated().to_numpy()
    numbers: npt.NDArray[np.int64] = np.where(again, count + np.arange(len(rows)), component)
    return numbers


def _pairs(rows: pd.DataFrame) -> pd.DataFrame:
    """Return every pair of rows of two files with one id, once from each side.

    ``one`` and ``other`` (positions in ``rows``), ``file_other``, ``apart_m``, and ``is_alike``: same street and
    sizes, all of them known.
    """
    ids = plain_ids(rows["core_id"])
    table = pd.DataFrame(
        {
            "at": np.arange(len(rows)),
            "id": ids.mask(is_missing(rows["core_id"])).to_numpy(),
            "file": rows["file_no"].to_numpy(),
            "street": plain_ids(rows["street"]).to_numpy(),
            **{name: rows[name].to_numpy() for name in ("x_m", "y_m", "diameter_mm", "depth_mm")},
            **{name: _days(rows[name]) for name in ("opened_on", "reinstated_at")},
        }
    ).dropna(subset=["id"])
    several = table.groupby("id")["file"].transform("nunique").gt(1)
    table = table[several]
    table = table[table.groupby(["id", "file"])["at"].transform("size").le(_MOST_ROWS)]
    pairs = table.merge(table, on="id", suffixes=("", "_other"), validate="many_to_many")
    pairs = pairs[pairs["file"].ne(pairs["file_other"]) & ~_is_another_opening(pairs)]
    alike = [pairs[name].eq(pairs[f"{name}_other"]) for name in ("street", "diameter_mm", "depth_mm")]
    return pd.DataFrame(
        {
            "one": pairs["at"],
            "other": pairs["at_other"],
            "file_other": pairs["file_other"],
            "apart_m": np.hypot(pairs["x_m"] - pairs["x_m_other"], pairs["y_m"] - pairs["y_m_other"]),
            "is_alike": np.logical_and.reduce(alike) if len(pairs) else np.zeros(0, dtype=bool),
        }
    )


def _days(instants: pd.Series) -> npt.NDArray[np.datetime64]:
    """Return the local day of each instant."""
    days: npt.NDArray[np.datetime64] = instants.dt.tz_localize(None).dt.normalize().to_numpy()
    return days


def _is_another_opening(pairs: pd.DataFrame) -> pd.Series:
    """Return whether the rows of a pair cannot be one core by their dates and sizes."""
    is_later = pairs["opened_on"].gt(pairs["reinstated_at_other"]) | pairs["opened_on_other"].gt(pairs["reinstated_at"])
    opened = pairs["opened_on"].notna() & pairs["opened_on_other"].notna()
    other_day = opened & pairs["opened_on"].ne(pairs["opened_on_other"])
    other_size = (pairs["diameter_mm"] - pairs["diameter_mm_other"]).abs().gt(_OTHER_DIAMETER_MM)
    return is_later | (other_day & other_size)


def _nearest_both_ways(pairs: pd.DataFrame, same_core_m: float, count: int) -> pd.DataFrame:
    """Return the pairs that may be one core, of which each is the nearest to the other in its file."""
    apart = pairs["apart_m"]
    near = pairs[apart.le(same_core_m) | (apart.isna() & pairs["is_alike"])]
    near = near.sort_values(["one", "file_other", "apart_m", "other"]).drop_duplicates(["one", "file_other"])
    there, back = near["one"] * count + near["other"], near["other"] * count + near["one"]
    return near[there.isin(back)]


def repeated_rows(frame: pd.DataFrame, as_read: pd.DataFrame) -> dict[str, pd.Series]:
    """Return a number shared by the rows of a register that are equal in every cell, and whether one repeats another.

    The coordinates of a layer are not among its columns, so the position as it was written counts too.
    """
    # a number is the name of no column of a file
    position = frame[["register", "x_text", "y_text"]].set_axis(range(3), axis="columns")
    cells = pd.concat([as_read, position], axis="columns")
    # a row equals no other in every cell unless it shares both coordinates with some
    may_repeat = np.flatnonzero(frame["x_text"].duplicated(keep=False) & frame["y_text"].duplicated(keep=False))
    among = cells.iloc[may_repeat].groupby(list(cells.columns), dropna=False, sort=False).ngroup().to_numpy()
    earliest = np.arange(len(cells))
    earliest[may_repeat] = may_repeat[np.unique(among, return_index=True)[1]][among]
    group = pd.Series((np.cumsum(earliest == np.arange(len(cells))) - 1)[earliest], cells.index)
    return {"same_row": group, "is_copy": group.duplicated()}
