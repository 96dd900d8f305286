"""The road around a core: the nearest slab joint, the last resurfacing before it was cut, the next one planned."""

from typing import Final, Literal, NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from pipeline.contracts import no_text

__all__ = ["FARTHEST_JOINT_M", "NO_WORKS", "Works", "is_known", "joint_m", "work_on"]

# what lies farther off is of no concern to any rule
FARTHEST_JOINT_M: Final = 5.0


class Works(NamedTuple):
    """The layers, each in the run's CRS; None where the programme has none."""

    joints: gpd.GeoDataFrame | None
    resurfaced: gpd.GeoDataFrame | None
    planned: gpd.GeoDataFrame | None


NO_WORKS: Final = Works(None, None, None)


def joint_m(cores: pd.DataFrame, joints: gpd.GeoDataFrame | None) -> pd.Series:
    """Return the distance from each of N cores to the nearest joint, in metres and at most ``FARTHEST_JOINT_M``.

    Missing where there is no layer or the core has no position.
    """
    out = pd.Series(np.nan, cores.index)
    placed = cores["x_m"].notna().to_numpy()
    if joints is None or not placed.any():
        return out
    points = shapely.points(cores.loc[placed, "x_m"], cores.loc[placed, "y_m"])
    near = np.full(len(points), FARTHEST_JOINT_M)
    (core, _), distance = shapely.STRtree(joints.geometry.to_numpy()).query_nearest(
        points, max_distance=FARTHEST_JOINT_M, return_distance=True, all_matches=False
    )
    near[core] = distance
    out[placed] = near
    return out


def is_known(cores: pd.DataFrame, works: gpd.GeoDataFrame | None) -> pd.Series:
    """Tell where a layer of works speaks of a core, if only to say that there are none: "yes", else missing."""
    nothing = no_text(cores.index)
    return nothing if works is None else nothing.mask(cores["x_m"].notna(), "yes")


def work_on(
    cores: pd.DataFrame,
    segment_ids: pd.Series,
    works: gpd.GeoDataFrame | None,
    reach_m: float,
    which: Literal["last before", "first after"],
) -> pd.Series:
    """Return the day of the works at each of N cores that counts.

    Parameters
    ----------
    cores
        ``x_m``, ``y_m``, ``opened_on``.
    segment_ids
        The segment of each core.
    works
        ``on``, ``segment_id`` and geometry in the run's CRS; None: no layer. Works with a segment id are those of that
        segment, others lie where their polygon is, or their line within ``reach_m``.
    reach_m
        In metres.
    which
        The last on or before the day the core was cut, or the first after it; without that day, the last or first
        of all.
    """
    dates = cores["opened_on"]
    nothing = pd.Series(pd.NaT, cores.index, dtype=dates.dtype)
    if works is None or works.empty:
        return nothing
    named = works["segment_id"].notna().to_numpy()
    core, work = _where_drawn(cores, works.geometry.to_numpy(), np.flatnonzero(~named), reach_m)
    by_name = (
        pd.DataFrame({"core": np.arange(len(cores)), "segment_id": segment_ids.to_numpy()})
        .dropna()
        .merge(
            pd.DataFrame({"work": np.flatnonzero(named), "segment_id": works.loc[named, "segment_id"]}),
            on="segment_id",
            how="inner",
            validate="many_to_many",
        )
    )
    pairs = pd.DataFrame(
        {
            "core": np.concatenate([core, by_name["core"].to_numpy()]),
            "work": np.concatenate([work, by_name["work"].to_numpy()]),
        }
    )
    day = _utc(works["on"])[pairs["work"]]
    cut = _utc(dates)[pairs["core"]]
    fits = day <= cut if which == "last before" else day > cut
    pairs = pairs.assign(on=day)[fits | np.isnat(cut)]
    one = pairs.sort_values(["on", "work"], ascending=which == "first after").drop_duplicates("core")
    days = works["on"].astype(dates.dtype).iloc[one["work"]].set_axis(cores.index[one["core"]])
    found: pd.Series = days.reindex(cores.index)
    return found


def _utc(instants: pd.Series) -> "np.ndarray[tuple[int], np.dtype[np.datetime64]]":
    clock: pd.Series = instants.dt.tz_convert("UTC").dt.tz_localize(None)
    return np.asarray(clock.to_numpy(), dtype="datetime64[us]")


def _where_drawn(
    cores: pd.DataFrame, shapes: "np.ndarray[tuple[int], np.dtype[np.object_]]", unnamed: "np.ndarray", reach_m: float
) -> "tuple[np.ndarray, np.ndarray]":
    """Pairs of core and work: the core lies in the work's polygon, or within reach of its line."""
    placed = np.flatnonzero(cores["x_m"].notna())
    points = shapely.points(cores["x_m"].to_numpy()[placed], cores["y_m"].to_numpy()[placed])
    is_area = shapely.get_dimensions(shapes[unnamed]) == 2
    tree = shapely.STRtree(points)
    pairs = [
        (unnamed[is_area], *tree.query(shapes[unnamed[is_area]], predicate="intersects")),
        (unnamed[~is_area], *tree.query(shapes[unnamed[~is_area]], predicate="dwithin", distance=reach_m)),
    ]
    core = np.concatenate([placed[hit] for _, _, hit in pairs])
    work = np.concatenate([which[at] for which, at, _ in pairs])
    return core, work
