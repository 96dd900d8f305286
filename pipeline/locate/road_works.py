"""The road around each core: the nearest slab joint, resurfacing before and after it was cut, protection, works."""

from typing import Final, Literal, NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.contracts import no_text

__all__ = [
    "FARTHEST_JOINT_M", "NO_WORKS", "Works", "cores_in_works", "is_known", "joint_m", "protected_until",
    "road_works_around", "work_on",
]  # fmt: skip

# no rule looks at joints further away
FARTHEST_JOINT_M: Final = 5.0


class Works(NamedTuple):
    """The layers, each in the run's CRS; None where the programme has none."""

    joints: gpd.GeoDataFrame | None
    resurfaced: gpd.GeoDataFrame | None
    planned: gpd.GeoDataFrame | None
    protected: gpd.GeoDataFrame | None = None


NO_WORKS: Final = Works(None, None, None)


def road_works_around(cores: pd.DataFrame, segment_ids: pd.Series, works: Works, reach_m: float) -> pd.DataFrame:
    """Return the joint, the resurfacing and the planned works of each core.

    Parameters
    ----------
    cores
        N rows with ``x_m``, ``y_m`` (run's CRS, metres) and ``opened_on``.
    segment_ids
        The segment of each core.
    works
        The layers.
    reach_m
        How far from a line of works a core may lie, in metres.

    Returns
    -------
    pandas.DataFrame
        On ``cores.index``: ``joint_m``, ``resurfaced_known``, ``planned_works_known``, ``resurfaced_on``,
        ``resurfacing_due_on`` and ``protected_until``.
    """
    return pd.DataFrame(
        {
            "joint_m": joint_m(cores, works.joints),
            "resurfaced_known": is_known(cores, works.protected if works.resurfaced is None else works.resurfaced),
            "planned_works_known": is_known(cores, works.planned),
            "resurfaced_on": work_on(cores, segment_ids, works.resurfaced, reach_m, "last before"),
            "resurfacing_due_on": work_on(cores, segment_ids, works.planned, reach_m, "first after"),
            "protected_until": protected_until(cores, segment_ids, works.protected, reach_m),
        }
    )


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
    """Return "yes" where a layer of works covers the core, so that no works found there means none; else missing."""
    nothing = no_text(cores.index)
    return nothing if works is None else nothing.mask(cores["x_m"].notna(), "yes")


def work_on(
    cores: pd.DataFrame,
    segment_ids: pd.Series,
    works: gpd.GeoDataFrame | None,
    reach_m: float,
    which: Literal["last before", "first after"],
) -> pd.Series:
    """Return the day of the works that count at each of N cores.

    Parameters
    ----------
    cores
        ``x_m``, ``y_m``, ``opened_on``.
    segment_ids
        The segment of each core.
    works
        ``on``, ``segment_id`` and geometry in the run's CRS; None without such a layer. Works with a segment id apply
        to that segment, others where their polygon is drawn, or within ``reach_m`` of their line.
    reach_m
        In metres.
    which
        The last works on or before the day the core was cut, or the first after it; where that day is missing, the
        last or first of all.
    """
    dates = cores["opened_on"]
    nothing = pd.Series(pd.NaT, cores.index, dtype=dates.dtype)
    if works is None or works.empty:
        return nothing
    pairs = cores_in_works(cores, segment_ids, works, reach_m)
    day = _utc(works["on"])[pairs["work"]]
    cut = _utc(dates)[pairs["core"]]
    fits = day <= cut if which == "last before" else day > cut
    pairs = pairs.assign(on=day)[fits | np.isnat(cut)]
    chosen = pairs.sort_values(["on", "work"], ascending=which == "first after").drop_duplicates("core")
    days = works["on"].astype(dates.dtype).iloc[chosen["work"]].set_axis(cores.index[chosen["core"]])
    found: pd.Series = days.reindex(cores.index)
    return found


def protected_until(
    cores: pd.DataFrame, segment_ids: pd.Series, protected: gpd.GeoDataFrame | None, reach_m: float
) -> pd.Series:
    """Return, for each of N cores cut into a protected street, the day on which the protection ends.

    Parameters
    ----------
    cores, segment_ids, reach_m
        As for ``work_on``.
    protected
        ``on``, ``until``, ``segment_id`` and geometry; None without such a layer. A street whose protection has no
        first day, or a core without the day it was cut, gives none. Of several protections, the longest counts.
    """
    dates = cores["opened_on"]
    nothing = pd.Series(pd.NaT, cores.index, dtype=dates.dtype)
    if protected is None or protected.empty:
        return nothing
    pairs = cores_in_works(cores, segment_ids, protected, reach_m)
    start, end = (_utc(protected[name])[pairs["work"]] for name in ("on", "until"))
    cut = _utc(dates)[pairs["core"]]
    # a comparison with a missing day is false
    pairs = pairs.assign(until=end)[(start <= cut) & (cut < end)]
    longest = pairs.sort_values(["until", "work"], ascending=[False, True]).drop_duplicates("core")
    days = protected["until"].astype(dates.dtype).iloc[longest["work"]].set_axis(cores.index[longest["core"]])
    found: pd.Series = days.reindex(cores.index)
    return found


def cores_in_works(
    cores: pd.DataFrame, segment_ids: pd.Series, works: gpd.GeoDataFrame, reach_m: float
) -> pd.DataFrame:
    """Return which of N cores lie in which of M works: their positions ``core`` and ``work``, one row per pair.

    Parameters
    ----------
    cores
        ``x_m``, ``y_m`` (run's CRS, metres).
    segment_ids
        The segment of each core.
    works
        ``segment_id`` and geometry. Works with a segment id hold the cores of that segment, others those in their
        polygon, or within ``reach_m`` of their line.
    reach_m
        In metres.
    """
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
    return pd.DataFrame(
        {
            "core": np.concatenate([core, by_name["core"].to_numpy()]),
            "work": np.concatenate([work, by_name["work"].to_numpy()]),
        }
    )


def _utc(instants: pd.Series) -> npt.NDArray[np.datetime64]:
    """Return instants in UTC without a zone, so that two columns of different zones compare."""
    clock: pd.Series = instants.dt.tz_convert("UTC").dt.tz_localize(None)
    return np.asarray(clock.to_numpy(), dtype="datetime64[us]")


def _where_drawn(
    cores: pd.DataFrame, shapes: npt.NDArray[np.object_], unnamed: npt.NDArray[np.intp], reach_m: float
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Return pairs of a core and works: the core lies in their polygon, or within reach of their line."""
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
