"""The frame of cores, one row per core: the columns that each stage adds to it, in the order of the stages."""

from typing import Final

from pipeline.contracts.column import Column, cell_columns
from pipeline.contracts.register import REGISTER_COLUMNS, STREET_RECORDED
from pipeline.contracts.value_words import SIDE_WORDS, STATE_WORDS, STATUS_WORDS, SURFACE_SOURCE_WORDS, URGENCY_WORDS

__all__ = [
    "AUDITED_COLUMNS", "AUDIT_COLUMNS", "AUDIT_FRAME", "CALIBRATED_COLUMNS", "INTAKE_COLUMNS", "LOCATED_COLUMNS",
    "MADE_FROM", "QUANTIFIED_COLUMNS", "SPECIFIED_COLUMNS",
]  # fmt: skip

INTAKE_COLUMNS: Final = (
    Column("row", "integer", "", "Row", "row number, counted from 1 through all registers", "always"),
    Column("register", "text", "", "Register", "register that the core is from, as the programme names it"),
    Column(
        "register_file", "text", "", "Register file", "file of the register that the core is from",
    ),
    Column("file_no", "integer", "", "Number of the file", "files of the registers in their order, from 0", reveals=()),
    Column(
        "register_row", "integer", "", "Register row",
        "row of the sheet, or line of the text, that the core is in",
    ),
    *(part for column in REGISTER_COLUMNS for part in (column, *cell_columns(column))),
    Column("x_text", "text", "", "Easting or longitude, as written", "cell of the first coordinate", cell_of="x"),
    Column("y_text", "text", "", "Northing or latitude, as written", "cell of the second coordinate", cell_of="y"),
    Column("position_problem", "text", "", "Position: problem", "why the position cannot be used", reveals=()),
    Column("position_repair", "text", "", "Position: repair", "how the position was repaired", reveals=()),
    Column("x", "number", "", "Easting or longitude", "first coordinate, in the register's CRS", reveals=("lon",)),
    Column("y", "number", "", "Northing or latitude", "second coordinate, in the register's CRS", reveals=("lat",)),
    Column("lon", "number", "°", "Longitude", "longitude, WGS 84", "always", digits=8),
    Column("lat", "number", "°", "Latitude", "latitude, WGS 84", "always", digits=8),
    Column(
        "position_step_m", "number", "m", "Position rounded to",
        "step of the last digit written of the coordinates, on the ground; missing for the points of a layer",
        reveals=("lon", "lat"),
    ),
    Column(
        "rounding_sigma_m", "number", "m", "Error of rounding",
        "standard deviation along one axis that the rounding of the position adds", reveals=("lon", "lat"),
    ),
    Column(
        "accuracy_by_register_m", "number", "m", "Position accuracy of the register",
        "accuracy that the programme sets for the register, used where a core has neither an accuracy nor a method "
        "with one", reveals=(),
    ),
    Column("ragged", "text", "", "Fields", "how the row's fields do not fit the header", reveals=()),
    Column("x_m", "number", "m", "Easting in the run's CRS", "easting in the run's CRS", reveals=("lon",)),
    Column("y_m", "number", "m", "Northing in the run's CRS", "northing in the run's CRS", reveals=("lat",)),
    Column("register_no", "integer", "", "Number of the register", "registers in their order, from 0", reveals=()),
    Column("same_row", "integer", "", "Same row", "number shared by rows of one register that are equal in every cell",
           reveals=()),
    Column("same_core", "integer", "", "Same core", "number shared by rows that are one core", reveals=()),
    Column("is_copy", "boolean", "", "Copy", "whether another row of the same core is counted", reveals=()),
    Column("copy_of", "integer", "", "Repeats row", "row of the same core that is counted in its place; missing where "
           "this row is counted", "always"),
)  # fmt: skip

LOCATED_COLUMNS: Final = (
    Column("segment", "integer", "", "Segment number", "position in the road layer; -1 for none", reveals=()),
    Column(
        "segment_id", "text", "", "Road segment",
        "road segment that the core lies on; missing where none lies within reach", "always",
    ),
    Column(
        "street_matched", "text", "", "Street", "street of the road segment", "always", published_as="street",
    ),
    Column(
        "chainage_m", "number", "m", "Chainage", "distance along the segment from its start", "by default", digits=3,
    ),
    Column("offset_m", "number", "m", "Offset", "distance from the segment's centreline", "by default", digits=3),
    Column(
        "side", "text", "", "Side", "left or right of the segment's direction; missing on the line itself",
        "by default", values=SIDE_WORDS,
    ),
    Column(
        "segment_confidence", "number", "", "Confidence in the segment (0 to 1)",
        "probability that this is the right segment; missing where not worked out", "by default", digits=4,
        shown_digits=2,
    ),
    Column(
        "road_class", "text", "", "Class of road", "catalogue name of the segment's class of road", "by default",
        reveals=(),
    ),
    Column(
        "road_authority", "text", "", "Road authority", "road authority of the segment, as in the road layer",
        "by default", reveals=(),
    ),
    Column("slope_percent", "number", "%", "Slope", "slope along the segment", reveals=()),
    Column("segment_length_m", "number", "m", "Segment length", "length of the segment, all lines of it", reveals=()),
    Column("segment_area_m2", "number", "m²", "Segment area", "area of the segment, kerb to kerb", reveals=()),
    Column(
        "joint_m", "number", "m", "Distance to a joint",
        "distance from the core's centre to the nearest slab joint or edge, at most 5; missing where not known",
        reveals=(),
    ),
    Column(
        "resurfaced_known", "text", "", "Resurfacing known",
        "yes where resurfaced roads or protected streets are given and the core has a position; else missing",
        reveals=(),
    ),
    Column(
        "planned_works_known", "text", "", "Planned works known",
        "yes where a layer of planned works is given and the core has a position; else missing", reveals=(),
    ),
    Column(
        "resurfaced_on", "instant", "", "Last resurfaced", "last resurfacing of the road before the core was cut",
        reveals=(),
    ),
    Column(
        "resurfacing_due_on", "instant", "", "Resurfacing due",
        "next resurfacing planned there after the core was cut", reveals=(),
    ),
    Column(
        "protected_until", "instant", "", "Protected until",
        "end of the road authority's protection of the street that the core was cut into; missing where it was not "
        "protected", reveals=(),
    ),
    Column("runner_up_id", "text", "", "Next likely segment", "the next likely segment within reach", "by default"),
    Column(
        "runner_up_street", "text", "", "Street of the next likely segment", "street of the next likely segment",
        reveals=(),
    ),
    Column(
        "runner_up_confidence", "number", "", "Confidence in the next likely segment (0 to 1)",
        "probability that it is the right segment", reveals=(), shown_digits=2,
    ),
    Column(
        "name_match", "number", "", "Match of street names (0 to 1)",
        "how well the register's street matches the segment's: 0 not at all, 1 the same", reveals=(STREET_RECORDED,),
    ),
    Column(
        "nearest_id", "text", "", "Nearest segment", "nearest segment at any distance, where none lies within reach",
        reveals=(),
    ),
    Column("nearest_m", "number", "m", "Distance to the nearest segment", "distance to that segment", reveals=()),
    Column("surface", "text", "", "Surface", "surface of the road there, by its catalogue name", "by default"),
    Column(
        "surface_from", "text", "", "Source of the surface",
        "where the surface is known from: polygon, segment, register or none", "by default",
        values=SURFACE_SOURCE_WORDS,
    ),
    Column(
        "surface_on_map", "text", "", "Surface on the map",
        "surface by polygon or segment alone; missing where the map gives none", reveals=(),
    ),
    Column(
        "surface_others", "text", "", "Other surfaces", "other surfaces whose polygons cover the position", reveals=(),
    ),
    Column(
        "surface_confidence", "number", "", "Confidence in the surface (0 to 1)",
        "probability that this is the right surface; missing where not worked out", "by default", digits=4,
        shown_digits=2,
    ),
    Column("surface_next", "text", "", "Next likely surface", "the next likely surface", reveals=()),
    Column(
        "surface_next_confidence", "number", "", "Confidence in the next likely surface (0 to 1)",
        "probability that it is the right surface", reveals=(), shown_digits=2,
    ),
    Column(
        "surface_edge_m", "number", "m", "Distance to another surface",
        "distance to the nearest edge that the position error may cross", reveals=(),
    ),
    Column(
        "district", "text", "", "District",
        "district that the core lies in, or the nearest if it lies just outside all of them", "always",
    ),
    Column(
        "district_how", "text", "", "Found by", "how the district was found: inside, several, gap or outside",
        reveals=(),
    ),
    Column("district_others", "text", "", "Other districts", "further districts that the core lies in", reveals=()),
    Column(
        "district_distance_m", "number", "m", "Distance to the district",
        "distance to the district, where it lies in none", reveals=(),
    ),
    Column(
        "district_confidence", "number", "", "Confidence in the district (0 to 1)",
        "probability that this is the right district; missing where not worked out", reveals=(),
    ),
    Column("district_next", "text", "", "Next likely district", "the next likely district", reveals=()),
    Column(
        "district_next_confidence", "number", "", "Confidence in the next likely district (0 to 1)",
        "probability that it is the right district", reveals=(),
    ),
    Column(
        "surface_recorded_name", "text", "", "Surface recorded, by its catalogue name",
        "catalogue name of the surface that the register writes; missing where it is not known",
        made_from=("surface_recorded",),
    ),
    Column(
        "surface_says_nothing", "boolean", "", "Surface recorded as unknown",
        "whether the register writes that the surface is unknown", reveals=(),
    ),
)  # fmt: skip


SPECIFIED_COLUMNS: Final = (
    Column("reinstatable", "boolean", "", "Reinstatable", "whether a core can be bonded into that surface", reveals=()),
    Column("shade", "text", "", "Shade", "shade of grout that matches the surface", "by default"),
    Column("bedding", "text", "", "Bedding", "bedding under the core", "by default"),
)

CALIBRATED_COLUMNS: Final = (
    Column("hole_mm", "number", "mm", "Hole diameter",
           "diameter of the cut hole; missing where not known or not plausible", made_from=("diameter_mm",)),
    Column("depth_believed_mm", "number", "mm", "Depth used",
           "depth of the core; missing where not known or not plausible", made_from=("depth_mm",)),
    Column("is_thin", "boolean", "", "Too thin", "whether the pavement is too thin for its core to be reinstated",
           made_from=("depth_mm",)),
    Column("grout_used_l", "number", "L", "Grout used", "wet grout that was used, by the bags and the water recorded",
           made_from=("bags_used",), reveals=("bags_used", "water_l")),
    Column("grout_used_low_l", "number", "L", "Grout used at least",
           "least by the steps that bags and water were written to", reveals=("bags_used", "water_l")),
    Column("grout_used_high_l", "number", "L", "Grout used at most",
           "most by the steps that bags and water were written to", reveals=("bags_used", "water_l")),
    Column("grout_least_l", "number", "L", "Least void", "smallest void that kerf, pilot hole and bed may come to",
           made_from=("diameter_mm", "depth_mm")),
    Column("grout_most_l", "number", "L", "Largest void", "largest void that kerf, pilot hole and bed may come to",
           made_from=("diameter_mm", "depth_mm")),
    Column("grout_judged_by", "text", "", "Range of the void from", "what the range of the void comes from",
           made_from=()),
)  # fmt: skip

QUANTIFIED_COLUMNS: Final = (
    Column("grout_net_l", "number", "L", "Void", "void of kerf, pilot hole and bed",
           reveals=("diameter_mm", "depth_mm")),
    Column("grout_l", "number", "L", "Wet grout needed", "wet grout to mix, overfill included"),
    Column("grout_kg", "number", "kg", "Dry grout needed", "dry grout for that mix"),
    Column("bags", "number", "", "Bags needed", "bags of grout for that mix, not rounded", shown_digits=2),
    Column("water_l_needed", "number", "L", "Water needed", "water for that mix"),
    Column("gravel_kg", "number", "kg", "Gravel needed", "pea gravel for the bed"),
    Column("core_kg", "number", "kg", "Weight of the core",
           "about what the core weighs, by its size and surface; missing where either is not known", "by default",
           made_from=("diameter_mm", "depth_mm", "surface"), digits=1),
)  # fmt: skip

# figures that rules compare and no register writes
_FIGURES: Final = (
    Column("is_open", "boolean", "", "Open", "whether the core is not yet reinstated", reveals=()),
    Column("state", "text", "", "State", "open, plated, interim, back (reinstated) or unknown", "by default",
           values=STATE_WORDS),
    Column("water_ratio", "number", "L/kg", "Water to grout", "litres of water per kilogram of dry grout",
           made_from=("bags_used", "water_l")),
    Column("water_ratio_low", "number", "L/kg", "Water to grout at least",
           "least ratio by the steps that both were written to", reveals=("bags_used", "water_l")),
    Column("water_ratio_high", "number", "L/kg", "Water to grout at most",
           "greatest ratio by the steps that both were written to", reveals=("bags_used", "water_l")),
    Column("bedding_specified_mm", "number", "mm", "Bedding specified",
           "thickness of the bed that the surface calls for", made_from=("surface",)),
    Column("reopened_after_min", "number", "min", "Reopened after", "time from reinstatement to traffic",
           made_from=("reinstated_at", "reopened_at")),
    Column("reopened_within_min", "number", "min", "Reopened after: within", "by how much that time may be off",
           reveals=()),
    Column("shade_used_name", "text", "", "Shade used, by its catalogue name",
           "catalogue name of the shade that was used", made_from=("shade_used",)),
    Column("core_fault", "text", "", "Fault of the core", "fault that bars its reuse, or none",
           made_from=("core_condition",)),
    Column("is_rigid", "boolean", "", "Rigid", "whether the pavement is rigid", made_from=("surface",)),
    Column("segment_cores", "number", "", "Cores on the segment", "number of cores on the same segment",
           made_from=("position",), reveals=("lon", "lat")),
    Column("spacing_x_m", "number", "m", "Easting, where it is precise enough to judge spacing",
           "easting in the run's CRS; missing where the position is only written to more than 2 m",
           made_from=("position",), reveals=("lon", "lat")),
    Column("reinstatement_known", "text", "", "Reinstated or not", "yes or no; missing where not recorded",
           made_from=("reinstated_at",)),
    Column("plate_known", "text", "", "Plated or not", "yes or no; missing where not recorded",
           made_from=("plated_on",)),
    Column("interim_known", "text", "", "Interim reinstatement or not", "yes or no; missing where not recorded",
           made_from=("interim_on",)),
    Column("notice_known", "text", "", "Completion notice or not", "yes or no; missing where not recorded",
           made_from=("notice_sent_on",)),
    Column("inspection_known", "text", "", "Inspected or not", "yes or no; missing where not recorded",
           made_from=("inspected_on",)),
)  # fmt: skip
AUDITED_COLUMNS: Final = (
    *_FIGURES,
    Column("status", "text", "", "Status", "flagged, pending or reinstated", "always", values=STATUS_WORDS),
    Column("findings", "text", "", "Findings", "rules that the core breaches, separated by semicolons", "always"),
    Column(
        "urgency",
        "text",
        "",
        "Urgency",
        "the most urgent of its failures and checks: hazard, overdue, quality or record; empty without any",
        "by default",
        values=URGENCY_WORDS,
    ),
)

# what a rule may ask for: every column of the frame that the audit reads
AUDIT_FRAME: Final = {
    column.name: column
    for stage in (INTAKE_COLUMNS, LOCATED_COLUMNS, SPECIFIED_COLUMNS, CALIBRATED_COLUMNS, QUANTIFIED_COLUMNS, _FIGURES)
    for column in stage
}
AUDIT_COLUMNS: Final = frozenset(AUDIT_FRAME)
# the inputs that each figure is worked out from
MADE_FROM: Final = {name: column.made_from for name, column in AUDIT_FRAME.items() if column.made_from is not None}
