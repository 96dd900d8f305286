"""The columns between the stages: name, kind, unit, meaning. What a stage hands on is checked against them."""

from collections.abc import Iterable, Sequence
from typing import Final, Literal, NamedTuple

import pandas as pd

from pipeline.errors import ContractError

__all__ = [
    "AUDIT_COLUMNS",
    "CORE_COLUMNS",
    "FINDING_COLUMNS",
    "HANDED_ALWAYS",
    "HANDED_COLUMNS",
    "LAYER_COLUMNS",
    "LOCATED_COLUMNS",
    "MADE_FROM",
    "MISSING_WORDS",
    "NO_DATE",
    "NO_DISTRICT",
    "ORDER_COLUMNS",
    "QUANTIFIED_COLUMNS",
    "REGISTER_COLUMNS",
    "REGISTER_SYNONYMS",
    "SPECIFIED_COLUMNS",
    "STATUSES",
    "STREET_RECORDED",
    "Column",
    "check_frame",
    "is_missing",
    "no_text",
    "own_names",
]

Kind = Literal["text", "number", "instant", "whole", "truth"]


# what people write into a cell to say that there is nothing to write
MISSING_WORDS: Final = frozenset(
    {
        "",
        "-",
        "--",
        "n/a",
        "na",
        "nan",
        "nat",
        "<na>",
        "(null)",
        "null",
        "none",
        "nil",
        "?",
        "unknown",
        "unk",
        "tbc",
        "tbd",
        "not known",
    }
)


class Column(NamedTuple):
    """One column of a frame; ``unit`` is empty where there is none."""

    name: str
    kind: Kind
    unit: str = ""
    meaning: str = ""
    required: bool = False

    @property
    def short(self) -> str:
        """The name without its unit, as programme files write it."""
        suffix = f"_{self.unit.lower()}" if self.unit != "degC" else "_c"
        return self.name.removesuffix(suffix) if self.unit else self.name


# the register, as intake hands it on; the position is the frame's geometry
REGISTER_COLUMNS: Final = (
    Column("core_id", "text", meaning="the register's own id, stray spaces removed", required=True),
    Column("diameter_mm", "number", "mm", "of the hole or of the core, as cores.diameter_is says", required=True),
    Column("depth_mm", "number", "mm", "length of the core: the bound pavement there", required=True),
    Column("position_accuracy_m", "number", "m", "radius that holds 95 % of the errors"),
    Column("position_method", "text", meaning="how the position was taken; stands for an accuracy"),
    Column("street", "text", meaning="street as the register writes it"),
    Column("surface_recorded", "text", meaning="surface as the register writes it"),
    Column("opened_on", "instant", meaning="the core was cut"),
    Column("plated_on", "instant", meaning="the hole was plated"),
    Column("backfilled_on", "instant", meaning="the hole was backfilled"),
    Column("interim_on", "instant", meaning="an interim reinstatement was made"),
    Column("reinstated_at", "instant", meaning="the core was put back"),
    Column("reopened_at", "instant", meaning="the road was reopened"),
    Column("shade_used", "text", meaning="shade of the grout that was used"),
    Column("bags_used", "number", "", "bags of grout that were used"),
    Column("water_l", "number", "L", "water that was used"),
    Column("air_temperature_c", "number", "degC", "when the grout was poured"),
    Column("bedding_mm", "number", "mm", "thickness of the gravel bed"),
    Column("flush_mm", "number", "mm", "largest step core to road: + proud, - low"),
    Column("depression_mm", "number", "mm", "deepest sag of the reinstated surface under a straight edge"),
    Column("cover_m", "number", "m", "depth of cover over the service"),
    Column("permit_no", "text", meaning="number of the permit to open the road"),
    Column("permit_expires_on", "instant", meaning="that permit expires"),
    Column("planned_on", "instant", meaning="reinstatement planned"),
    Column("crew", "text", meaning="crew that did the work"),
    Column("notice_sent_on", "instant", meaning="the road authority was told of the completion"),
    Column("inspected_on", "instant", meaning="the core was inspected"),
    Column("inspection_result", "text", meaning="result of that inspection, as the register writes it"),
    Column("remarks", "text", meaning="remarks, as the register has them"),
)
# other keys a programme file may use under cores.columns
REGISTER_SYNONYMS: Final = {"surface": "surface_recorded", "shade": "shade_used", "bags": "bags_used"}

LAYER_COLUMNS: Final = [
    "segment_id", "street", "surface", "road_class", "road_authority", "width", "slope", "level", "district",
    "resurfaced_on", "due_on",
]  # fmt: skip

LOCATED_COLUMNS: Final = (
    Column("segment_id", "text", meaning="road segment; missing where none lies within reach"),
    Column("street_matched", "text", meaning="street of that segment"),
    Column("chainage_m", "number", "m", "distance along the segment from its start"),
    Column("offset_m", "number", "m", "distance from the segment, never negative"),
    Column("side", "text", meaning="left or right of the segment's direction; missing on the line itself"),
    Column("segment_confidence", "number", "", "how likely the segment is the core's own; missing where not weighed"),
    Column("road_class", "text", meaning="catalogue name of the segment's class of road"),
    Column("road_authority", "text", meaning="whose road the segment is, as the layer writes it"),
    Column("slope_percent", "number", "", "slope along the segment"),
    Column("segment_length_m", "number", "m", "length of the whole segment"),
    Column("segment_area_m2", "number", "", "its area, kerb to kerb"),
    Column("joint_m", "number", "m", "from the centre to the nearest slab joint or edge, at most 5; missing without"),
    Column("resurfaced_known", "text", meaning="such a layer is given and the core has a place: yes or missing"),
    Column("planned_works_known", "text", meaning="the same of planned works"),
    Column("resurfaced_on", "instant", meaning="the road was last resurfaced before the core was cut"),
    Column("resurfacing_due_on", "instant", meaning="the next resurfacing planned there after the core was cut"),
    Column("runner_up_id", "text", meaning="the next segment within reach"),
    Column("runner_up_street", "text", meaning="its street"),
    Column("runner_up_confidence", "number", "", "how likely that one is"),
    Column("name_match", "number", "", "how far the register's street is the segment's: 0 not at all, 1 the same"),
    Column("nearest_id", "text", meaning="nearest segment at any distance, where none lies within reach"),
    Column("nearest_m", "number", "m", "distance to it"),
    Column("surface", "text", meaning="catalogue name of the surface"),
    Column("surface_from", "text", meaning="polygon, segment, register or none"),
    Column("surface_on_map", "text", meaning="by polygon or segment alone; missing where the map does not tell"),
    Column("surface_others", "text", meaning="other surfaces whose polygons lie there too"),
    Column("surface_confidence", "number", "", "how likely the surface is; missing where not weighed"),
    Column("surface_next", "text", meaning="the next likeliest surface"),
    Column("surface_next_confidence", "number", "", "how likely that one is"),
    Column("surface_edge_m", "number", "m", "distance to the nearest edge that the position's error may cross"),
    Column("district", "text", meaning="district it lies in, or the nearest within reach"),
    Column("district_how", "text", meaning="inside, several, gap or outside"),
    Column("district_others", "text", meaning="the other districts it lies in"),
    Column("district_distance_m", "number", "m", "distance to the district, where it lies in none"),
    Column("district_confidence", "number", "", "how likely the district is; missing where not weighed"),
    Column("district_next", "text", meaning="the next likeliest district"),
    Column("district_next_confidence", "number", "", "how likely that one is"),
)
SPECIFIED_COLUMNS: Final = (
    Column("reinstatable", "truth", meaning="whether the surface takes a core back at all"),
    Column("shade", "text", meaning="shade of grout that the surface takes"),
    Column("bedding", "text", meaning="what the core is bedded on there"),
)
QUANTIFIED_COLUMNS: Final = (
    Column("grout_net_l", "number", "L", "the void: kerf, pilot hole and bed"),
    Column("grout_l", "number", "L", "wet grout to mix, overfill included"),
    Column("grout_kg", "number", "kg", "dry grout for it"),
    Column("bags", "number", "", "bags for it, not rounded"),
    Column("water_l_needed", "number", "L", "water for it"),
    Column("gravel_kg", "number", "kg", "pea gravel of the bed"),
)
# what the audit makes of other columns for its rules, and the inputs that each is made from
MADE_FROM: Final[dict[str, tuple[str, ...]]] = {
    "grout_used_l": ("bags_used",),
    "grout_judged_by": (),
    "grout_least_l": ("diameter_mm", "depth_mm"),
    "grout_most_l": ("diameter_mm", "depth_mm"),
    "water_ratio": ("bags_used", "water_l"),
    "bedding_specified_mm": ("surface",),
    "reopened_after_min": ("reinstated_at", "reopened_at"),
    "hole_mm": ("diameter_mm",),
    "depth_believed_mm": ("depth_mm",),
    "shade_used_name": ("shade_used",),
    "surface_recorded_name": ("surface_recorded",),
    "plate_known": ("plated_on",),
    "interim_known": ("interim_on",),
    "notice_known": ("notice_sent_on",),
    "inspection_known": ("inspected_on",),
    "is_rigid": ("surface",),
    "segment_cores": ("position",),
}
# what a rule may ask for
AUDIT_COLUMNS: Final = frozenset(
    {
        *(
            column.name
            for group in (REGISTER_COLUMNS, LOCATED_COLUMNS, SPECIFIED_COLUMNS, QUANTIFIED_COLUMNS)
            for column in group
        ),
        *(
            f"{column.name}{end}"
            for column in REGISTER_COLUMNS
            if column.kind != "text"
            for end in ("_text", "_problem")
        ),
        *(
            "row",
            "same_row",
            "is_copy",
            "ragged",
            "x_m",
            "y_m",
            "x_text",
            "y_text",
            "position_problem",
            "position_repair",
        ),
        *(
            "surface_says_nothing",
            "is_open",
            *MADE_FROM,
        ),
    }
)
FINDING_COLUMNS: Final = ("row", "core_id", "rule", "severity", "message", "evidence")
ORDER_COLUMNS: Final = ("district", "period", "item", "unit", "needed", "order", "reserve", "packs")

# of a core, in the order in which they are told
STATUSES: Final = ("flagged", "pending", "reinstated")
# cores.csv, before the register's own columns
CORE_COLUMNS: Final = (
    "row", "core_id", "diameter_mm", "depth_mm", "status", "findings", "segment_id", "street", "chainage_m", "offset_m",
    "side", "segment_confidence", "runner_up_id", "surface", "surface_from", "surface_confidence", "district", "shade",
    "bedding", "grout_l", "grout_kg", "bags", "water_l_needed", "gravel_kg", "lon", "lat",
)  # fmt: skip

# what stands in orders and groups for a core without a district, or without a day
NO_DISTRICT: Final = "(no district)"
NO_DATE: Final = "(no date)"

# names that a GeoPackage keeps for itself
_RESERVED: Final = ("fid", "geom", "geometry", "ogc_fid")
# in a handover, where street is that of the segment: the street as the register writes it
STREET_RECORDED: Final = "street_recorded"
# without these a map of cores cannot be read; a handover always has them
HANDED_ALWAYS: Final = ("core_id", "status", "findings", "segment_id", "street", "district", "lon", "lat")
# what a road authority is handed unless a programme says otherwise: nothing of crews, remarks, materials and cost
HANDED_COLUMNS: Final = (
    "core_id", "status", "findings", "segment_id", "street", "chainage_m", "offset_m", "side", "segment_confidence",
    "runner_up_id", STREET_RECORDED, "surface", "surface_from", "surface_confidence", "surface_recorded", "district",
    "shade", "shade_used", "bedding", "diameter_mm", "depth_mm", "cover_m", "opened_on", "plated_on", "backfilled_on",
    "interim_on", "reinstated_at", "reopened_at", "notice_sent_on", "planned_on", "permit_no", "permit_expires_on",
    "inspected_on", "inspection_result", "flush_mm", "depression_mm", "position_accuracy_m", "lon", "lat",
)  # fmt: skip


def own_names(register: Iterable[object]) -> list[str]:
    """Return what a register's own columns are called in the table of cores.

    One whose name is taken there, without regard to case, comes as ``register_<name>``.
    """
    taken = {name.casefold() for name in (*CORE_COLUMNS, *_RESERVED)}
    names = []
    for name in map(str, register):
        free = name
        while free.casefold() in taken:
            free = f"register_{free}"
        taken.add(free.casefold())
        names.append(free)
    return names


def check_frame(frame: pd.DataFrame, columns: Sequence[Column], index: pd.Index, stage: str) -> None:
    """Hold a stage to its contract: the same rows, the named columns, their kinds.

    Raises
    ------
    ContractError
        A row came or went, a column is missing, or one is of another kind.
    """
    if not frame.index.equals(index):
        raise ContractError(f"{stage}: rows came, went or moved ({len(index)} in, {len(frame)} out)")
    for column in columns:
        if column.name not in frame:
            raise ContractError(f"{stage}: no column {column.name}")
        kind = frame[column.name].dtype
        if not _KIND_CHECKS[column.kind](kind):
            raise ContractError(f"{stage}: column {column.name} is {kind}, not {column.kind}")


_KIND_CHECKS: Final = {
    "text": pd.api.types.is_string_dtype,
    "number": pd.api.types.is_float_dtype,
    "instant": lambda kind: isinstance(kind, pd.DatetimeTZDtype),
    "whole": pd.api.types.is_integer_dtype,
    "truth": pd.api.types.is_bool_dtype,
}


def no_text(index: pd.Index) -> pd.Series:
    """Return a text column with nothing in it yet."""
    return pd.Series(None, index, dtype="str")


def is_missing(text: pd.Series) -> pd.Series:
    """Tell the cells that say nothing: empty, or a word such as "n/a" or "unknown"."""
    return text.isna() | text.str.strip().str.casefold().isin(MISSING_WORDS)
