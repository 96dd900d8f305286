"""The likeliest surface of every core, and how sure surface, shade and district are."""

import geopandas as gpd
import numpy as np
import pandas as pd

from pipeline.contracts import no_text
from pipeline.locate.chances import area_chances, names_around, near_edges, without_smaller

__all__ = ["surface_chances", "two_likeliest", "weigh_districts", "weigh_surfaces"]

_SURE = 1e-9


def surface_chances(
    cores: pd.DataFrame,
    shares: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    surfaces: gpd.GeoDataFrame | None,
    recorded: pd.Series,
) -> tuple[pd.DataFrame, np.ndarray]:
    """Say how likely each surface is under each core.

    What the error leaves in polygons counts for their surfaces; what it leaves outside them for the surfaces of the
    segments, by how likely each segment is; where those do not tell, for the register's, else for "unknown".

    Parameters
    ----------
    cores
        N rows with ``x_m``, ``y_m``, ``sigma_m``, in metres.
    shares
        Rows of ``core``, ``segment``, ``share``, as :func:`pipeline.locate.segments.find_segments` gives them.
    segments, surfaces
        Layers with ``surface``; polygons smallest first.
    recorded
        N catalogue names as the register says, or missing.

    Returns
    -------
    tuple
        Rows of ``core``, ``name``, ``source``, ``chance``, which add up to one for each core; and for each core
        the distance to the nearest edge of a polygon that its error may cross, in metres.
    """
    x, y, sigma = (cores[name].to_numpy() for name in ("x_m", "y_m", "sigma_m"))
    named = shares.assign(name=segments["surface"].to_numpy()[shares["segment"].to_numpy()])
    parts = []
    outside = np.ones(len(cores))
    edge_m = np.full(len(cores), np.nan)
    if surfaces is not None and len(surfaces):
        # most cores have one surface all round, whatever their error: those need no weighing
        mixed = np.flatnonzero(_is_mixed(x, y, sigma, named, surfaces))
        shapes = without_smaller(np.asarray(surfaces.geometry.array))
        weighed = area_chances(x[mixed], y[mixed], sigma[mixed], shapes, surfaces["surface"].to_numpy())
        table = weighed.table.assign(core=mixed[weighed.table["core"].to_numpy()])
        edge_m[mixed] = weighed.edge_m
        outside -= np.bincount(table["core"], table["chance"], minlength=len(cores))
        parts.append(table.assign(source="polygon"))
    left = named.assign(chance=named["share"].to_numpy() * outside[named["core"].to_numpy()])
    parts.append(left[left["name"].notna()][["core", "name", "chance"]].assign(source="segment"))
    # what neither tells is the register's to say
    told = sum(np.bincount(part["core"], part["chance"], minlength=len(cores)) for part in parts)
    rest = pd.DataFrame({"core": np.arange(len(cores)), "name": recorded.to_numpy(), "chance": 1 - told})
    rest["source"] = np.where(rest["name"].notna(), "register", "none")
    parts.append(rest.fillna({"name": "unknown"}))
    table = pd.concat(parts)
    table = table[table["chance"].gt(_SURE)].sort_values(["core", "name", "source"])
    return table.groupby(["core", "name", "source"])["chance"].sum().reset_index(), edge_m


def _is_mixed(
    x: np.ndarray, y: np.ndarray, sigma: np.ndarray, named: pd.DataFrame, surfaces: gpd.GeoDataFrame
) -> np.ndarray:
    """Tell the cores within whose error more than one surface lies, or none that is known."""
    around = names_around(x, y, sigma, np.asarray(surfaces.geometry.array), surfaces["surface"].to_numpy())
    every = pd.concat([around, named[["core", "name"]].fillna({"name": ""})]).drop_duplicates()
    count = np.bincount(every["core"], minlength=len(x))
    # a segment without a surface, or none at all, leaves something to the register
    silent = np.bincount(every.loc[every["name"].eq(""), "core"], minlength=len(x)) > 0
    without_segment = np.bincount(named["core"], minlength=len(x)) == 0
    mixed: np.ndarray = np.isfinite(x) & ((count > 1) | silent | without_segment)
    return mixed


def two_likeliest(table: pd.DataFrame, index: pd.Index, found: pd.Series | None = None) -> pd.DataFrame:
    """The likeliest name of each core and the next, of equals the one ``found`` at the place, then by name.

    Returns on ``index``: ``name``, ``chance``, ``second``, ``second_chance``.
    """
    by_name = table.groupby(["core", "name"])["chance"].sum().reset_index()
    there = found.to_numpy()[by_name["core"].to_numpy()] if found is not None else None
    order = by_name.assign(rounded=by_name["chance"].round(9), other=by_name["name"].to_numpy() != there).sort_values(
        ["core", "rounded", "other", "name"], ascending=[True, False, True, True]
    )
    rank = order.groupby("core").cumcount()
    first, second = (order[rank.eq(place)].set_index("core") for place in (0, 1))
    places = range(len(index))
    return pd.DataFrame(
        {
            "name": first["name"].reindex(places).astype("str").to_numpy(),
            "chance": first["chance"].clip(upper=1).reindex(places).to_numpy(),
            "second": second["name"].reindex(places).astype("str").to_numpy(),
            "second_chance": second["chance"].reindex(places).to_numpy(),
        },
        index=index,
    )


def weigh_surfaces(
    found: pd.DataFrame, table: pd.DataFrame, edge_m: np.ndarray, placed: pd.Series, shade_of: dict[str, str]
) -> pd.DataFrame:
    """Take the likeliest surface in place of the one found, and say how sure it and its shade are.

    Parameters
    ----------
    found
        N rows as :func:`pipeline.locate.surfaces.find_surfaces` gives them.
    table, edge_m
        As :func:`surface_chances` gives them.
    placed
        Whether each core has a position: without one nothing is likely.
    shade_of
        Shade of each surface that takes a core.

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
    # where the place itself tells the same surface, it says so by what it was found by
    source = source.where(two["name"].ne(found["surface"]), found["surface_from"])
    known = placed & two["name"].ne("unknown")
    out = found.assign(
        surface=two["name"],
        surface_from=source,
        surface_on_map=two["name"].where(source.isin(["polygon", "segment"])),
        surface_confidence=two["chance"].where(known),
        surface_next=two["second"].where(known),
        surface_next_confidence=two["second_chance"].where(known),
        surface_edge_m=edge_m,
    )
    shade = table["name"].map(shade_of)
    for name in sorted(set(shade_of.values())):
        part = table[shade.eq(name)]
        # without a single core of that shade, the counts would be whole numbers
        chance = np.bincount(part["core"], part["chance"], minlength=len(found)).astype(float)
        out[f"shade_{name}_chance"] = pd.Series(np.clip(chance, 0, 1), found.index).where(placed)
    return out


def weigh_districts(found: pd.DataFrame, cores: pd.DataFrame, districts: gpd.GeoDataFrame | None) -> pd.DataFrame:
    """Say how sure the district found is, and which is the next likeliest.

    Returns on ``found.index``: ``district_confidence``, ``district_next``, ``district_next_confidence``; missing for
    a core that lies in no district.
    """
    nothing = pd.Series(np.nan, found.index)
    out = pd.DataFrame(
        {"district_confidence": nothing, "district_next": no_text(found.index), "district_next_confidence": nothing}
    )
    if districts is None:
        return out
    x, y, sigma = (cores[name].to_numpy() for name in ("x_m", "y_m", "sigma_m"))
    shapes = np.asarray(districts.geometry.array)
    # most cores are far from every boundary
    near = near_edges(x, y, sigma, shapes)
    table = area_chances(x[near], y[near], sigma[near], shapes, districts["district"].to_numpy()).table
    table["core"] = near[table["core"].to_numpy()]
    own = found["district"].to_numpy()[table["core"].to_numpy()]
    mine = table[table["name"].to_numpy() == own].set_index("core")["chance"]
    other = two_likeliest(table[table["name"].to_numpy() != own], found.index)
    # where the layer itself claims a core twice, it is the layer that is not sure
    inside = found["district_how"].eq("inside")
    sure = np.ones(len(found))
    sure[near] = mine.reindex(near).to_numpy()
    out["district_confidence"] = pd.Series(sure, found.index).where(inside)
    out["district_next"] = other["name"].where(inside)
    out["district_next_confidence"] = other["chance"].where(inside)
    return out
