"""The columns of a register of cores. A new column is one entry here, and nothing else."""

from typing import Final

from pipeline.contracts.column import Column

__all__ = ["REGISTER_COLUMNS", "REGISTER_SYNONYMS", "STREET_RECORDED"]

# in tables, where "street" is the street of the segment: the street as the register writes it
STREET_RECORDED: Final = "street_recorded"

# the position is no column of its own: intake hands it on as coordinates
REGISTER_COLUMNS: Final = (
    Column("core_id", "text", "", "Core id", "id of the core, as written in the register", "always", required=True),
    Column(
        "diameter_mm", "number", "mm", "Diameter", "diameter of the cut hole or of the core, as the programme states",
        "by default", required=True, digits=3,
    ),
    Column(
        "depth_mm", "number", "mm", "Depth", "length of the core: the thickness of the bound pavement there",
        "by default", required=True, digits=3,
    ),
    Column(
        "position_accuracy_m", "number", "m", "Position accuracy", "radius that holds 95% of the position errors",
        "by default",
    ),
    Column("position_method", "text", "", "Position method", "how the position was taken"),
    Column(
        "street", "text", "", "Street recorded", "street as written in the register", "by default",
        published_as=STREET_RECORDED,
    ),
    Column("surface_recorded", "text", "", "Surface recorded", "surface as written in the register", "by default"),
    Column("opened_on", "instant", "", "Opened", "day on which the core was cut", "by default"),
    Column("plated_on", "instant", "", "Plated", "day on which the hole was plated", "by default"),
    Column("backfilled_on", "instant", "", "Backfilled", "day on which the hole was backfilled", "by default"),
    Column("interim_on", "instant", "", "Interim reinstatement", "day of an interim reinstatement", "by default"),
    Column("reinstated_at", "instant", "", "Reinstated", "when the core was reinstated", "by default"),
    Column("reopened_at", "instant", "", "Reopened", "when the road was reopened to traffic", "by default"),
    Column("shade_used", "text", "", "Shade used", "shade of the grout that was used", "by default"),
    Column("bags_used", "number", "", "Bags used", "bags of grout that were used", never_negative=True),
    Column("water_l", "number", "L", "Water used", "water that was mixed in", never_negative=True),
    Column("air_temperature_c", "number", "degC", "Air temperature", "air temperature when the grout was poured"),
    Column(
        "bedding_mm", "number", "mm", "Bedding thickness", "thickness of the gravel bed", never_negative=True,
    ),
    Column(
        "flush_mm", "number", "mm", "Largest step", "largest step from core to road: + proud, - low", "by default",
    ),
    Column(
        "depression_mm", "number", "mm", "Depression",
        "deepest dip of the reinstated surface under a straightedge", "by default", never_negative=True,
    ),
    Column(
        "cover_m", "number", "m", "Depth of cover", "depth of cover over the buried service", "by default",
        never_negative=True,
    ),
    Column("permit_no", "text", "", "Permit number", "number of the permit to open the road", "by default"),
    Column("permit_expires_on", "instant", "", "Permit expiry", "last day of the permit", "by default"),
    Column("planned_on", "instant", "", "Planned", "day on which reinstatement is planned", "by default"),
    Column("crew", "text", "", "Crew", "crew that did the work"),
    Column(
        "notice_sent_on", "instant", "", "Completion notice",
        "day on which the road authority was notified of completion", "by default",
    ),
    Column("inspected_on", "instant", "", "Inspected", "day of the inspection", "by default"),
    Column(
        "inspection_result", "text", "", "Inspection result", "result of the inspection, as written in the register",
        "by default",
    ),
    Column(
        "core_condition", "text", "", "Core condition",
        "condition of the core when it was inspected before reuse, as written in the register", "by default",
    ),
    Column("remarks", "text", "", "Remarks", "remarks, as the register writes them"),
)  # fmt: skip
# other keys that a programme file may use under cores.columns
REGISTER_SYNONYMS: Final = {"surface": "surface_recorded", "shade": "shade_used", "bags": "bags_used"}
