"""Planned works, protected streets and resurfaced roads as they are listed, and the cores in each."""

import datetime as dt
from collections import Counter
from typing import Final, NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.audit import BoundRule, limits_of
from pipeline.audit.figures import days_of
from pipeline.audit.limits import months_after
from pipeline.audit.rules.network import ProtectionLimits
from pipeline.audit.worst import count_worst
from pipeline.contracts import WORKS_CORES, WORKS_TABLE, names_of, no_text
from pipeline.locate import Works
from pipeline.locate.road_works import cores_in_works
from pipeline.programme.thresholds import SCOPE_COLUMNS
from pipeline.wording import counted

__all__ = ["ListedWorks", "list_works", "works_notices"]

# the kinds in the order in which works are listed
_KINDS: Final = ("planned", "protected", "resurfaced")
# metres: a street that only crosses the works is not one of theirs, unless they lie in no other
_CROSSING_M: Final = 25.0
_SEPARATOR: Final = "; "
# columns of the road layer that located cores have under another name
_NAMES_IN_ROADS: Final = {"road_class": "class_name"}


class ListedWorks(NamedTuple):
    """``works``: as ``WORKS_TABLE`` has them, in the run's CRS; ``cores``: the cores in each, as ``WORKS_CORES``."""

    works: gpd.GeoDataFrame
    cores: pd.DataFrame


def list_works(
    cores: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    works: Works,
    reach_m: float,
    rules: list[BoundRule],
    as_of: dt.date,
) -> ListedWorks | None:
    """Return every works and the cores in it; None where the programme has no layer of works, or none is left.

    Parameters
    ----------
    cores
        N rows with ``x_m``, ``y_m``, ``segment_id``, ``is_copy``, ``street_matched`` and the other columns of
        ``WORKS_CORES``; a core in several rows is listed once.
    segments
        The road segments, in the same CRS as the works.
    works
        The layers. Features of a layer with the same id, or with the same name and days, are one works.
    reach_m
        How far from a line of works a core may lie, in metres.
    rules
        The rules in force, which state how long a resurfaced road is protected.
    as_of
        Day of the audit: a road that was resurfaced is protected if its protection ends later, and a protection that
        has ended is not listed.
    """
    layers = {
        "planned": works.planned,
        "protected": None if works.protected is None else works.protected[~_is_over(works.protected, as_of)],
        "resurfaced": works.resurfaced,
    }
    given = [layer.assign(layer=name) for name, layer in layers.items() if layer is not None and not layer.empty]
    if not given:
        return None
    parts = pd.concat(given, ignore_index=True)
    on_segment = _segments_in(parts, segments, reach_m)
    parts = _with_protection(parts, on_segment, segments, rules, as_of)
    of, listed = _one_row_each(parts)
    counted = cores[~cores["is_copy"]]
    pairs = cores_in_works(counted, counted["segment_id"], parts, reach_m)
    pairs = pairs.assign(work=of[pairs["work"]]).drop_duplicates().sort_values(["work", "core"])
    inside = counted.iloc[pairs["core"]].reset_index(drop=True)
    inside = inside.assign(works_id=listed["works_id"].to_numpy()[pairs["work"]], street=inside["street_matched"])
    counts = count_worst(inside, inside["works_id"])
    counted_works = listed.assign(streets=_streets(on_segment.assign(work=of[on_segment["work"]]), segments)).join(
        counts.assign(cores=inside.groupby("works_id").size()), on="works_id"
    )
    names = [*names_of(WORKS_TABLE), "geometry"]
    whole = [name for name in names if name == "cores" or name.startswith("cores_")]
    table = counted_works.fillna(dict.fromkeys(whole, 0)).astype(dict.fromkeys(whole, "int64"))
    return ListedWorks(table[names], inside[[*names_of(WORKS_CORES)]])


def works_notices(works: Works, as_of: dt.date) -> list[str]:
    """Return the notices about works that have ended, and about ids that several works have."""
    notices = []
    layers = {"planned_works": works.planned, "protected": works.protected, "resurfaced": works.resurfaced}
    if works.planned is not None and (late := int(days_of(works.planned["until"]).lt(pd.Timestamp(as_of)).sum())):
        notices.append(
            f"[planned_works]: {counted(late, 'feature')} with the last day before the audit ({as_of}), still "
            "listed as planned. Remove what is finished."
        )
    if works.protected is not None and (over := int(_is_over(works.protected, as_of).sum())):
        notices.append(
            f"[protected]: {counted(over, 'feature')} with a protection that has ended by the audit ({as_of}), not "
            "listed. Remove them, or correct `until`."
        )
    ids = [text for layer in layers.values() if layer is not None for text in layer["works_id"].dropna().unique()]
    shared = sorted(text for text, count in Counter(ids).items() if count > 1)
    if shared:
        notices.append(
            f'{counted(len(shared), "works id")} in more than one layer (such as "{shared[0]}"): listed by layer and '
            "number instead. Use each id in one layer only."
        )
    return notices


def _is_over(protected: gpd.GeoDataFrame, as_of: dt.date) -> pd.Series:
    """Return which protections have ended: on the day on which one ends, streets may be cut again."""
    return days_of(protected["until"]).le(pd.Timestamp(as_of))


def _segments_in(parts: gpd.GeoDataFrame, segments: gpd.GeoDataFrame, reach_m: float) -> pd.DataFrame:
    """Return pairs of works and a segment in them, by position, and the metres of the segment there."""
    lines, shapes = segments.geometry.to_numpy(), parts.geometry.to_numpy()
    named = parts["segment_id"].notna().to_numpy()
    drawn = np.flatnonzero(~named)
    is_line = shapely.get_dimensions(shapes[drawn]) < 2
    areas = np.where(is_line, shapely.buffer(shapes[drawn], np.where(is_line, reach_m, 0.0)), shapes[drawn])
    work, segment = shapely.STRtree(lines).query(areas, predicate="intersects")
    metres = shapely.length(shapely.intersection(lines[segment], areas[work]))
    by_name = (
        parts.loc[named, ["segment_id"]]
        .rename_axis("work")
        .reset_index()
        .merge(
            pd.DataFrame({"segment_id": segments["segment_id"].to_numpy(), "segment": np.arange(len(segments))}),
            on="segment_id",
            validate="many_to_many",
        )
    )
    return pd.DataFrame(
        {
            "work": np.concatenate([drawn[work], by_name["work"].to_numpy()]),
            "segment": np.concatenate([segment, by_name["segment"].to_numpy()]),
            "m": np.concatenate([metres, shapely.length(lines[by_name["segment"]])]),
        }
    )


def _with_protection(
    parts: gpd.GeoDataFrame,
    on_segment: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    rules: list[BoundRule],
    as_of: dt.date,
) -> gpd.GeoDataFrame:
    """Return the parts with their days and their kind; of a resurfaced road, ``until`` is the end of its protection.

    The limit is that of the road authority, class and surface of its segments, and of several the longest.
    """
    elsewhere = parts.index.difference(on_segment["work"])
    scope = {name: segments[_NAMES_IN_ROADS.get(name, name)].iloc[on_segment["segment"]] for name in SCOPE_COLUMNS}
    roads = pd.concat(
        [
            pd.DataFrame(scope).assign(work=on_segment["work"].to_numpy()),
            pd.DataFrame({**{name: no_text(elsewhere) for name in SCOPE_COLUMNS}, "work": elsewhere}),
        ],
        ignore_index=True,
    )
    limits = limits_of(rules, "street-protected", ProtectionLimits, roads)
    months = pd.Series(limits.protection_months, roads.index).groupby(roads["work"]).max().reindex(parts.index)
    on, until = days_of(parts["on"]), days_of(parts["until"])
    resurfaced = parts["layer"].eq("resurfaced")
    until = until.mask(resurfaced, months_after(on, months))
    is_over = resurfaced & ~until.gt(pd.Timestamp(as_of))
    kind = parts["layer"].mask(resurfaced, "protected").mask(is_over, "resurfaced")
    return parts.assign(on=on, stated_until=days_of(parts["until"]), until=until.mask(is_over), kind=kind)


def _one_row_each(parts: gpd.GeoDataFrame) -> tuple[npt.NDArray[np.intp], gpd.GeoDataFrame]:
    """Return the row of the works of each part, and the works: planned first, then by day, then by id."""
    own, name = parts["works_id"].fillna(""), parts["name"].fillna("")
    # of a resurfaced road, not the end of its protection: it differs by authority
    days = [parts[name].dt.strftime("%Y-%m-%d").fillna("") for name in ("on", "stated_until")]
    number = parts["feature"].astype("str")
    key = (
        ("id " + own)
        .mask(own.eq(""), "name " + name + " " + days[0] + "/" + days[1])
        .mask(own.eq("") & name.eq(""), "no " + number)
    )
    group = parts["layer"] + " " + key
    ranked = parts.assign(group=group, rank=parts["kind"].map({kind: rank for rank, kind in enumerate(_KINDS)}))
    each = ranked.groupby("group")
    # works in several features last from the first day to the last; of a road resurfaced twice, the last time counts
    begins = each["on"].transform("min").mask(parts["layer"].eq("resurfaced"), each["on"].transform("max"))
    ranked = ranked.assign(
        on=begins, until=each["until"].transform("max"), rank=each["rank"].transform("min").astype("int64")
    )
    first = ranked.loc[~group.duplicated()]
    first = first.assign(works_id=_ids(first), kind=first["rank"].map(dict(enumerate(_KINDS))).astype("str"))
    first = first.sort_values(["rank", "on", "works_id"])
    row = pd.Series(np.arange(len(first)), first["group"])
    of = np.asarray(group.map(row), dtype=np.intp)
    listed = gpd.GeoDataFrame(
        {
            "works_id": first["works_id"],
            "kind": first["kind"],
            "name": first["name"],
            "on": first["on"].dt.strftime("%Y-%m-%d").astype("str"),
            "until": first["until"].dt.strftime("%Y-%m-%d").astype("str"),
        }
    ).reset_index(drop=True)
    return of, listed.set_geometry(_shapes(parts.geometry.to_numpy(), of), crs=parts.crs)


def _ids(works: pd.DataFrame) -> pd.Series:
    """Return the id of each works: their own, else their name, if no other works has it; else layer and number."""
    numbered = works["layer"] + "-" + works["feature"].astype("str")
    called = works["works_id"].fillna(works["name"])
    taken = called.duplicated(keep=False) | called.isin(numbered)
    ids: pd.Series = called.mask(called.isna() | taken, numbered)
    return ids


def _shapes(shapes: npt.NDArray[np.object_], of: npt.NDArray[np.intp]) -> npt.NDArray[np.object_]:
    """Return the shape of each works: all polygons or lines of its parts, areas first."""
    pieces, part = shapely.get_parts(shapes, return_index=True)
    is_line = shapely.get_dimensions(pieces) < 2
    order = np.lexsort((np.arange(len(pieces)), is_line, of[part]))
    collected: npt.NDArray[np.object_] = shapely.geometrycollections(pieces[order], indices=of[part][order])
    return collected


def _streets(on_segment: pd.DataFrame, segments: gpd.GeoDataFrame) -> pd.Series:
    """Return the streets of each works that has any, by its row; ``on_segment``: its segments and the metres there."""
    metres = (
        on_segment.assign(street=segments["street"].to_numpy()[on_segment["segment"]])
        .dropna(subset="street")
        .groupby(["work", "street"], as_index=False)["m"]
        .sum()
    )
    longest = metres.groupby("work")["m"].transform("max")
    kept = metres[metres["m"].ge(_CROSSING_M) | metres["m"].eq(longest)]
    streets: pd.Series = kept.groupby("work")["street"].agg(_SEPARATOR.join).astype("str")
    return streets
