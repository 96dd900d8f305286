"""Locate: the road segment, surface and district of every core, and the works on the road around it."""

from typing import Final, NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.clock import Told, silent
from pipeline.contracts import column_by_column, no_text, sharing_blanks
from pipeline.engines import HERE, Engine
from pipeline.locate.changed import changed_by_learning
from pipeline.locate.districts import find_districts
from pipeline.locate.learnt_errors import Blurs, LearntErrors, blurs_of, said_of_learning
from pipeline.locate.likeliest import surface_chances, weigh_districts, weigh_surfaces
from pipeline.locate.lines import lines_of
from pipeline.locate.position_error import reach_of_rounding_m, rounding_weighed_m, sigma_of
from pipeline.locate.posterior import Evidence
from pipeline.locate.reach import reach_of_error_m
from pipeline.locate.reasons import LEAST_CHANCE, Reasons
from pipeline.locate.road_works import NO_WORKS, Works, road_works_around
from pipeline.locate.segments import find_segments, road_of_segment
from pipeline.locate.street_names import name_form
from pipeline.locate.surfaces import find_surfaces, with_recorded_kinds
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.names import folded
from pipeline.programme.settings import Matching

__all__ = ["LEAST_CHANCE", "Located", "Reasons", "Works", "locate"]


# widths closer than this are the same
_SAME_M: Final = 1e-6


class Located(NamedTuple):
    """Where N cores are: ``frame``, the contract's located columns on their index, and the ``reasons`` for it."""

    frame: pd.DataFrame
    reasons: Reasons


def locate(
    cores: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    surfaces: gpd.GeoDataFrame | None,
    districts: gpd.GeoDataFrame | None,
    matching: Matching,
    catalogue: Catalogue,
    works: Works = NO_WORKS,
    told: Told = silent,
    engine: Engine = HERE,
) -> Located:
    """Find the segment, surface and district of every core.

    Parameters
    ----------
    cores
        N rows with the contract's intake columns, ``x_m`` and ``y_m`` in the run's CRS, in metres.
    segments, surfaces, districts
        The layers in the same CRS; the last two may be None.
    matching, catalogue
        Reach and gap, in metres, and how names and levels weigh; what reads the register's surfaces and street names.
    works
        Slab joints, resurfaced roads and planned works, where the programme has such layers.
    told, engine
        Is told what is worked on and how much of it is done; does the work on the cores of each cell.

    Returns
    -------
    Located
        Its frame holds, on ``cores.index``, the contract's located columns, ``segment`` (row of ``segments``, -1 for
        none), ``surface_recorded_name`` and ``surface_says_nothing`` (the register writes "unknown" or the like).
    """
    evidence = _evidence_of(matching)
    rounding_m = rounding_weighed_m(cores["rounding_sigma_m"].to_numpy(dtype=float))
    errors = _position_errors(cores, rounding_m, matching)
    cores = _with_errors(cores, errors, rounding_m)
    cores, segments = (cores, segments) if evidence is None else _with_names(cores, segments, catalogue)
    lines, reach = lines_of(segments, are_weighed=evidence is not None), errors["reach_m"].to_numpy()
    found, shares, candidates, learnt, reach_m = find_segments(cores, segments, reach, evidence, lines, told, engine)
    errors = _with_learnt(errors.assign(reach_m=reach_m), rounding_m, learnt).join(said_of_learning(cores, learnt))
    blurs = blurs_of(errors["sigma_m"].to_numpy(), rounding_m, learnt)
    recorded = (written := catalogue.surface_names(cores["surface_recorded"])).where(written.ne("unknown"))
    told("surfaces")
    shade_of, weighed = _shade_by_surface(catalogue), None if evidence is None else (blurs, shares)
    surface = find_surfaces(cores, found["segment"], segments, surfaces, recorded)
    surface, chances = _weighed(surface, cores, segments, surfaces, recorded, shade_of, weighed, told, engine)
    if learnt is not None:
        told("what learning changed")
    after = found.join(surface["surface"])
    changed = changed_by_learning(cores, segments, surfaces, recorded, evidence, learnt, after, shade_of, lines)
    told("districts")
    district = _districts_of(cores, districts, matching.district_gap_m, None if evidence is None else blurs, told)
    surface = with_recorded_kinds(surface, recorded, _wider_surfaces(catalogue))
    register = pd.DataFrame({"surface_recorded_name": recorded, "surface_says_nothing": written.eq("unknown")})
    told("works on the roads")
    around = road_works_around(cores, found["segment_id"], works, matching.works_reach_m)
    road = road_of_segment(found["segment"], segments, lines.segment)
    frame = pd.concat([found, road, around, surface, district, register], axis=1)
    outcomes = [] if learnt is None else learnt.outcomes
    return Located(sharing_blanks(column_by_column(frame)), Reasons(errors, candidates, chances, outcomes, changed))


def _weighed(
    surface: pd.DataFrame,
    cores: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    surfaces: gpd.GeoDataFrame | None,
    recorded: pd.Series,
    shade_of: dict[str, str],
    errors: tuple[Blurs, pd.DataFrame] | None,
    told: Told,
    engine: Engine,
) -> tuple[pd.DataFrame, pd.DataFrame | None]:
    """Return the surfaces as the errors of positions weigh them, and their chances; without errors, unweighed."""
    if errors is None:
        return surface.assign(**_not_weighed("surface", cores.index), surface_edge_m=np.nan), None
    chances, edge_m = surface_chances(cores, *errors, segments, surfaces, recorded, told, engine)
    return weigh_surfaces(surface, chances, edge_m, cores["x_m"].notna(), shade_of), chances


def _districts_of(
    cores: pd.DataFrame, districts: gpd.GeoDataFrame | None, gap_m: float, blurs: Blurs | None, told: Told
) -> pd.DataFrame:
    """Return the district of each core and, where errors are weighed, how likely it is."""
    found = find_districts(cores, districts, gap_m)
    if blurs is None:
        return found.assign(**_not_weighed("district", cores.index))
    return pd.concat([found, weigh_districts(found, cores, blurs, districts, told)], axis="columns")


def _evidence_of(matching: Matching) -> Evidence | None:
    """Return how names and levels weigh; None where the nearest segment is taken."""
    if matching.choose != "likeliest":
        return None
    return Evidence(
        matching.name_right, matching.names_near, matching.underground, matching.learn, matching.max_reach_m
    )


def _position_errors(cores: pd.DataFrame, rounding_m: npt.NDArray[np.float64], matching: Matching) -> pd.DataFrame:
    """Return how far positions may be off, in metres, as ``Reasons.errors`` holds it.

    The accuracy is the core's own, else its method's, else its register's, else the programme's, else the default.
    """
    own = cores["position_accuracy_m"].where(cores["position_accuracy_m"].gt(0))
    by_method = {folded(method): accuracy for method, accuracy in matching.accuracy_by_method.items()}
    written = {method: by_method.get(folded(method)) for method in cores["position_method"].dropna().unique()}
    method = cores["position_method"].map(written).astype(float)
    register = cores["accuracy_by_register_m"]
    used = own.fillna(method).fillna(register).fillna(matching.accuracy_m).astype(float)
    by_programme = "programme" if "accuracy_m" in matching.model_fields_set else "default"
    source = np.select([own.notna(), method.notna(), register.notna()], ["core", "method", "register"], by_programme)
    accuracy_m = np.asarray(used, dtype=np.float64)
    # the default says nothing of a core's own error, and where the nearest line is taken no error is weighed
    is_stated = (source != "default") & (matching.choose == "likeliest")
    stated_m = np.where(is_stated, sigma_of(accuracy_m), 0.0)
    reach_m = reach_of_error_m(stated_m, matching.max_distance_m, matching.max_reach_m)
    return pd.DataFrame(
        {
            "accuracy_used_m": used,
            "accuracy_from": pd.Series(source, cores.index, dtype="str"),
            # the digits of a position add their own error to that of the instrument
            "sigma_m": np.hypot(sigma_of(accuracy_m), rounding_m),
            "reach_m": reach_m + reach_of_rounding_m(rounding_m),
        }
    )


def _with_errors(cores: pd.DataFrame, errors: pd.DataFrame, rounding_m: npt.NDArray[np.float64]) -> pd.DataFrame:
    """Return the cores with what their positions may be off."""
    return cores.assign(
        sigma_m=errors["sigma_m"],
        reach_m=errors["reach_m"],
        rounding_m=rounding_m,
        may_learn=errors["accuracy_from"].eq("default"),
    )


def _with_learnt(
    errors: pd.DataFrame, rounding_m: npt.NDArray[np.float64], learnt: LearntErrors | None
) -> pd.DataFrame:
    """Return the errors with those that were learnt: an accuracy is not given for them, as it cannot be told well."""
    if learnt is None:
        return errors
    is_learnt = pd.Series(learnt.is_learnt, errors.index)
    sigma = pd.Series(np.hypot(learnt.sigma_m, rounding_m), errors.index)
    return errors.assign(
        accuracy_used_m=errors["accuracy_used_m"].mask(is_learnt),
        accuracy_from=errors["accuracy_from"].mask(is_learnt, "learnt"),
        sigma_m=errors["sigma_m"].mask(is_learnt, sigma),
    )


def _with_names(
    cores: pd.DataFrame, segments: gpd.GeoDataFrame, catalogue: Catalogue
) -> tuple[pd.DataFrame, gpd.GeoDataFrame]:
    """Return both with their street names as they are compared.

    The segments also with whether each has a width, its own or its class's.

    The usual width of roads of no known class is none.
    """
    of_no_class = segments["class_name"].eq("other")
    is_usual = (2 * segments["half_width_m"]).sub(catalogue.roads["other"].width).abs().lt(_SAME_M)
    own, theirs = (name_form(frame["street"], catalogue.short_words) for frame in (cores, segments))
    return cores.assign(street_form=own), segments.assign(street_form=theirs, has_width=~(of_no_class & is_usual))


def _not_weighed(name: str, index: pd.Index) -> dict[str, pd.Series]:
    """Return empty columns of confidence, where the nearest segment is taken and nothing is weighed."""
    unknown = pd.Series(np.nan, index)
    return {f"{name}_confidence": unknown, f"{name}_next": no_text(index), f"{name}_next_confidence": unknown}


def _wider_surfaces(catalogue: Catalogue) -> dict[str, str]:
    """Return the wider surface of each that is a kind of another."""
    return {name: surface.kind_of for name, surface in catalogue.surfaces.items() if surface.kind_of is not None}


def _shade_by_surface(catalogue: Catalogue) -> dict[str, str]:
    """Return the shade of grout of each surface that cores are reinstated in."""
    return {name: surface.shade for name, surface in catalogue.surfaces.items() if surface.reinstate and surface.shade}
