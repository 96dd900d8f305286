"""Locate: every core's road segment, surface and district."""

import geopandas as gpd
import numpy as np
import pandas as pd

from pipeline.contracts import no_text
from pipeline.locate.districts import find_districts
from pipeline.locate.likeliest import surface_chances, weigh_districts, weigh_surfaces
from pipeline.locate.position_error import sigma_of
from pipeline.locate.posterior import Evidence
from pipeline.locate.road_works import NO_WORKS, Works, is_known, joint_m, work_on
from pipeline.locate.segments import find_segments
from pipeline.locate.street_names import name_form
from pipeline.locate.surfaces import find_surfaces
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.settings import Matching

__all__ = ["Works", "locate"]


def locate(
    cores: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    surfaces: gpd.GeoDataFrame | None,
    districts: gpd.GeoDataFrame | None,
    matching: Matching,
    catalogue: Catalogue,
    works: Works = NO_WORKS,
) -> pd.DataFrame:
    """Find segment, surface and district of every core.

    Parameters
    ----------
    cores
        N rows with ``x_m``, ``y_m`` (run's CRS, metres), ``surface_recorded`` and ``opened_on``.
    segments, surfaces, districts
        The layers in the same CRS; the last two may be None.
    matching
        Reach and gap, in metres.
    catalogue
        Names the surfaces that the register writes.
    works
        Slab joints, roads resurfaced and works planned, where there are such layers.

    Returns
    -------
    pandas.DataFrame
        On ``cores.index``: the contract's located columns, ``segment`` (row of ``segments``, -1 for none),
        ``surface_recorded_name`` and ``surface_says_nothing`` (the register writes "unknown" or the like).
    """
    evidence = None
    if matching.choose == "likeliest":
        evidence = Evidence(matching.name_right, matching.names_near, matching.underground)
    cores = cores.assign(
        sigma_m=sigma_of(_accuracy_m(cores, matching)), street_form=name_form(cores["street"], catalogue.short_words)
    )
    segments = segments.assign(street_form=name_form(segments["street"], catalogue.short_words))
    found, shares = find_segments(cores, segments, matching.max_distance_m, evidence)
    written = catalogue.surface_names(cores["surface_recorded"])
    recorded = written.where(written.ne("unknown"))
    surface = find_surfaces(cores, found["segment"], segments, surfaces, recorded)
    district = find_districts(cores, districts, matching.district_gap_m)
    if evidence is None:
        nothing, text = pd.Series(np.nan, cores.index), no_text(cores.index)
        numbers = ["surface_confidence", "surface_next_confidence", "surface_edge_m", "district_confidence"]
        numbers.append("district_next_confidence")
        surface = surface.assign(**dict.fromkeys(numbers, nothing), surface_next=text, district_next=text)
    else:
        table, edge_m = surface_chances(cores, shares, segments, surfaces, recorded)
        shade_of = {name: one.shade for name, one in catalogue.surfaces.items() if one.reinstate and one.shade}
        surface = weigh_surfaces(surface, table, edge_m, cores["x_m"].notna(), shade_of)
        district = pd.concat([district, weigh_districts(district, cores, districts)], axis="columns")
    register = pd.DataFrame({"surface_recorded_name": recorded, "surface_says_nothing": written.eq("unknown")})
    road = _of_road(found["segment"], segments)
    around = pd.DataFrame(
        {
            "joint_m": joint_m(cores, works.joints),
            "resurfaced_known": is_known(cores, works.resurfaced),
            "planned_works_known": is_known(cores, works.planned),
            "resurfaced_on": work_on(
                cores, found["segment_id"], works.resurfaced, matching.works_reach_m, "last before"
            ),
            "resurfacing_due_on": work_on(
                cores, found["segment_id"], works.planned, matching.works_reach_m, "first after"
            ),
        }
    )
    return pd.concat([found, road, around, surface, district, register], axis="columns")


def _of_road(segment: pd.Series, segments: gpd.GeoDataFrame) -> pd.DataFrame:
    """What the layer says of each core's segment; its length and area are those of all its lines."""
    length = segments.length
    by_id = pd.DataFrame({"m": length, "m2": length * 2 * segments["half_width_m"]}).groupby(segments["segment_id"])
    facts = pd.DataFrame(
        {
            "road_class": segments["class_name"],
            "road_authority": segments["road_authority"],
            "slope_percent": segments["slope_percent"].astype(float),
            "segment_length_m": by_id["m"].transform("sum"),
            "segment_area_m2": by_id["m2"].transform("sum"),
        }
    )
    return facts.reindex(segment.where(segment.ge(0), -1)).set_axis(segment.index)


def _accuracy_m(cores: pd.DataFrame, matching: Matching) -> "np.ndarray[tuple[int], np.dtype[np.float64]]":
    """Radius that holds 95 % of the errors: the core's own, else its method's, else the programme's."""
    own = cores["position_accuracy_m"].where(cores["position_accuracy_m"].gt(0))
    by_method = {method.casefold(): accuracy for method, accuracy in matching.accuracy_by_method.items()}
    method = cores["position_method"].str.casefold().map(by_method).astype(float)
    return own.fillna(method).fillna(matching.accuracy_m).to_numpy(dtype=float)
