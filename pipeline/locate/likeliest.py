"""The likeliest surface of every core, and the confidence in its surface, shade and district."""

from functools import partial

import geopandas as gpd
import numpy as np
import pandas as pd

from pipeline.clock import Told, silent
from pipeline.contracts import no_text
from pipeline.engines import HERE, Count, Engine
from pipeline.locate.chances import near_edges
from pipeline.locate.learnt_errors import Blurs
from pipeline.locate.mixed import blurred, polygon_chances

__all__ = ["surface_chances", "two_likeliest", "weigh_districts", "weigh_surfaces"]

# chances below this are errors of the weighing, which leaves out 4 in 1,000,000,000 at the sides of its square
_NEGLIGIBLE = 1e-8
# chances are compared after rounding to this many decimals, for the same reason
_EQUAL_DECIMALS = 7


def surface_chances(
    cores: pd.DataFrame,
    blurs: Blurs,
    shares: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    surfaces: gpd.GeoDataFrame | None,
    recorded: pd.Series,
    told: Told = silent,
    engine: Engine = HERE,
) -> tuple[pd.DataFrame, np.ndarray]:
    """Return how likely each surface is under each core.

    The part of the error that falls in polygons counts for their surfaces. The part outside them counts for the
    surfaces of the segments, by how likely each segment is; where those have none, for the register's surface, else
    for "unknown".

    Parameters
    ----------
    cores
        N rows with ``x_m`` and ``y_m``, in metres.
    blurs
        The errors of their positions.
    shares
        Rows of ``core``, ``segment``, ``share``, as :func:`pipeline.locate.segments.find_segments` returns them.
    segments, surfaces
        Layers with ``surface``; polygons smallest first.
    recorded
        N catalogue names of the surface in the register, or missing.
    told
        Is told what is worked on, and how much of it is done.
    engine
        Does the work on the cores of each cell.

    Returns
    -------
    tuple
        Rows of ``core``, ``name``, ``source``, ``chance``, whose chances add up to one per core; and for each core the
        distance to the nearest polygon edge that its error may cross, in metres.
    """
    named = shares.assign(name=segments["surface"].to_numpy()[shares["segment"].to_numpy()])
    parts = []
    outside, edge_m = np.ones(len(cores)), np.full(len(cores), np.nan)
    if surfaces is not None and len(surfaces):
        # most cores have the same surface all round and need no weighing
        x, y = cores["x_m"].to_numpy(), cores["y_m"].to_numpy()
        table, edge_m = polygon_chances(x, y, blurs, named, surfaces, told, engine)
        told("likeliest surfaces")
        outside -= np.bincount(table["core"], table["chance"], minlength=len(cores))
        parts.append(table.assign(source="polygon"))
    left = named.assign(chance=named["share"].to_numpy() * outside[named["core"].to_numpy()])
    parts.append(left[left["name"].notna()][["core", "name", "chance"]].assign(source="segment"))
    # the register's surface takes the chance that polygons and segments leave
    by_map = sum(np.bincount(part["core"], part["chance"], minlength=len(cores)) for part in parts)
    rest = pd.DataFrame({"core": np.arange(len(cores)), "name": recorded.to_numpy(), "chance": 1 - by_map})
    rest["source"] = np.where(rest["name"].notna(), "register", "none")
    parts.append(rest.fillna({"name": "unknown"}))
    every = pd.concat(parts)
    return _summed(every[every["chance"].gt(_NEGLIGIBLE)], ["name", "source"]), edge_m


def _summed(table: pd.DataFrame, names: list[str]) -> pd.DataFrame:
    """Return the sum of the chances of each core and each value of other columns, sorted by them."""
    key, found = table["core"].to_numpy(), []
    # numbers are grouped many times faster than names
    for name in names:
        code, values = pd.factorize(table[name], sort=True)
        key = key * np.int64(len(values)) + code
        found.append(values)
    chance = table["chance"].groupby(key).sum()
    rest, columns = chance.index.to_numpy(), {"chance": chance.to_numpy()}
    for name, values in zip(reversed(names), reversed(found), strict=True):
        rest, code = np.divmod(rest, max(len(values), 1))
        columns[name] = values.take(code)
    return pd.DataFrame({"core": rest, **{name: columns[name] for name in [*names, "chance"]}})


def two_likeliest(table: pd.DataFrame, index: pd.Index, found: pd.Series | None = None) -> pd.DataFrame:
    """Return the likeliest name of each core and the next likeliest.

    Names equally likely come in this order: the name in ``found``, then by alphabet. Returns on
    ``index``: ``name``, ``chance``, ``second``, ``second_chance``.
    """
    by_name = _summed(table, ["name"])
    core, name = by_name["core"].to_numpy(), by_name["name"].to_numpy()
    is_other = name != (found.to_numpy()[core] if found is not None else None)
    # the names of a core are in the order of the alphabet
    order = by_name.iloc[np.lexsort((is_other, -by_name["chance"].round(_EQUAL_DECIMALS).to_numpy(), core))]
    rank = order.groupby("core").cumcount()
    first, second = (order[rank.eq(number)].set_index("core") for number in (0, 1))
    every = range(len(index))
    return pd.DataFrame(
        {
            "name": first["name"].reindex(every).astype("str").to_numpy(),
            "chance": first["chance"].clip(upper=1).reindex(every).to_numpy(),
            "second": second["name"].reindex(every).astype("str").to_numpy(),
            "second_chance": second["chance"].reindex(every).to_numpy(),
        },
        index=index,
    )


def weigh_surfaces(
    found: pd.DataFrame, table: pd.DataFrame, edge_m: np.ndarray, placed: pd.Series, shade_of: dict[str, str]
) -> pd.DataFrame:
    """Return the likeliest surface of each core in place of the one found, and how likely it and its shade are.

    Parameters
    ----------
    found
        N rows as :func:`pipeline.locate.surfaces.find_surfaces` returns them.
    table, edge_m
        As :func:`surface_chances` returns them.
    placed
        Whether each core has a position: without one there is no confidence.
    shade_of
        Shade of grout of each surface that cores are reinstated in.

    Returns
    -------
    pandas.DataFrame
        ``found`` with ``surface``, ``surface_from`` and ``surface_on_map`` by likelihood, and
        ``surface_confidence``, ``surface_next``, ``surface_next_confidence``, ``surface_edge_m``, and
        ``shade_<shade>_chance`` for each shade.
    """
    two = two_likeliest(table, found.index, found["surface"])
    chosen = table[table["name"].to_numpy() == two["name"].to_numpy()[table["core"].to_numpy()]]
    chosen = chosen.sort_values(["core", "chance", "source"], ascending=[True, False, True]).drop_duplicates("core")
    source = chosen.set_index("core")["source"].reindex(range(len(found))).astype("str").set_axis(found.index)
    # a surface that is also the one found at the core keeps the source it was found by
    source = source.where(two["name"].ne(found["surface"]), found["surface_from"])
    known = placed & two["name"].ne("unknown")
    out = found.assign(
        surface=two["name"],
        surface_from=source,
        surface_on_map=two["name"].where(source.isin(["polygon", "segment"])),
        surface_confidence=two["chance"].where(known),
        surface_next=two["second"].where(known),
        surface_next_confidence=two["second_chance"].where(known),
        # which edges were looked at depends on the boxes of polygons: without another surface there is none to tell of
        surface_edge_m=pd.Series(edge_m, found.index).where(known & two["second"].notna()),
    )
    shade = table["name"].map(shade_of)
    for name in sorted(set(shade_of.values())):
        part = table[shade.eq(name)]
        # without a single core of that shade, the counts would be whole numbers
        chance = np.bincount(part["core"], part["chance"], minlength=len(found)).astype(float)
        out[f"shade_{name}_chance"] = pd.Series(np.clip(chance, 0, 1), found.index).where(placed)
    return out


def weigh_districts(
    found: pd.DataFrame,
    cores: pd.DataFrame,
    blurs: Blurs,
    districts: gpd.GeoDataFrame | None,
    told: Told = silent,
) -> pd.DataFrame:
    """Return how likely the district found is, and which is the next likeliest; ``told`` is told how much is done.

    Returns on ``found.index``: ``district_confidence``, ``district_next``, ``district_next_confidence``; missing for
    a core that lies in no district or in several.
    """
    nothing = pd.Series(np.nan, found.index)
    out = pd.DataFrame(
        {"district_confidence": nothing, "district_next": no_text(found.index), "district_next_confidence": nothing}
    )
    if districts is None:
        return out
    x, y = cores["x_m"].to_numpy(), cores["y_m"].to_numpy()
    shapes = np.asarray(districts.geometry.array)
    # most cores are far from every boundary
    near = near_edges(x, y, blurs.widest(len(cores)), shapes)
    names = districts["district"].to_numpy()
    count = Count(told, "districts", len(near))
    table = blurred(x[near], y[near], blurs.of(near, len(cores)), shapes, names, partial(count.told, 0)).table
    table["core"] = near[table["core"].to_numpy()]
    own = found["district"].to_numpy()[table["core"].to_numpy()]
    mine = table[table["name"].to_numpy() == own].set_index("core")["chance"]
    other = two_likeliest(table[table["name"].to_numpy() != own], found.index)
    # where districts overlap the layer is in doubt and not the position: no confidence is reported
    inside = found["district_how"].eq("inside")
    sure = np.ones(len(found))
    sure[near] = mine.reindex(near).to_numpy()
    out["district_confidence"] = pd.Series(sure, found.index).where(inside)
    out["district_next"] = other["name"].where(inside)
    out["district_next_confidence"] = other["chance"].where(inside)
    return out
