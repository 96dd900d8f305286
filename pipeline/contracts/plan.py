"""The tables of the plan: stops, mixes, crew days, what is not planned, and the bounds."""

from typing import Final

from pipeline.contracts.column import Column, names_of
from pipeline.contracts.published import CORE_TABLE
from pipeline.contracts.value_words import URGENCY_WORDS

__all__ = ["PLAN_TABLE", "PLAN_TABLES", "STOP_COLUMNS", "TASK_WORDS"]

TASK_WORDS: Final = (
    ("reinstate", "the core is reinstated"),
    ("survey", "size or surface is to be determined"),
    ("make safe", "a hazard is to be made safe; nothing is mixed"),
)
_CREW: Final = Column("crew", "text", "", "Crew", "crew that the work is planned for")
_DAY: Final = Column("day", "day", "", "Day", "day that the work is planned for")
_DISTRICT: Final = Column("district", "text", "", "District", "district of the core")
_SHADE: Final = Column("shade", "text", "", "Shade", "shade of grout")
_TASK: Final = Column("task", "text", "", "Task", "what is to be done at the core", values=TASK_WORDS)
_CORE: Final = (
    Column("row", "integer", "", "Row", "row of the core in the register"),
    Column("core_id", "text", "", "Core id", "id of the core"),
)
PLAN_TABLES: Final = {
    # on the index of the cores; one row per core that is planned, by crew, day and stop
    "stops": (
        _CREW,
        _DAY,
        Column("stop", "integer", "", "Stop", "order of the stops of a crew's day, from 1"),
        *_CORE,
        _TASK,
        _DISTRICT,
        Column("arrival_min", "number", "min", "Arrival", "arrival at the core, minutes from midnight"),
        Column("pour_min", "number", "min", "Pour", "start of the pour, minutes from midnight; missing without a mix"),
        Column("traffic_min", "number", "min", "Traffic", "earliest return of traffic, minutes from midnight"),
        Column("leave_min", "number", "min", "Leaves", "end of the work at the core, minutes from midnight"),
        Column("travel_m", "number", "m", "Travel", "distance from the stop before, or from the yard"),
        Column("travel_min", "number", "min", "Travel time", "time from the stop before, or from the yard"),
        _SHADE,
        Column("mix", "integer", "", "Mix", "number of the mix that the grout comes from, from 1; missing without one"),
        Column("net_bags", "number", "", "Net grout", "bags that the core needs, not rounded"),
        Column("bags", "number", "", "Bags to mix", "bags opened at this stop; those of a mix add up to its bags"),
        Column("water_l", "number", "L", "Water", "water for the bags opened at this stop"),
        Column("gravel_kg", "number", "kg", "Gravel", "pea gravel for the bed"),
        Column("urgency", "text", "", "Urgency", "urgency of the core's findings", values=URGENCY_WORDS),
        Column("due_on", "day", "", "Due", "day by which the work is due; missing without one"),
        Column(
            "due_by", "text", "", "Due by", "what sets that day: booked, permit, opened, planned works, hazard or none"
        ),
        Column("late_days", "integer", "d", "Late", "days after the due day"),
        Column("air_c", "number", "degC", "Air temperature", "lowest temperature expected while the grout cures"),
        Column("is_kept", "boolean", "", "Promised", "whether the stop was promised in an earlier plan"),
        Column("needs_permit", "boolean", "", "Extend permit", "whether the permit expires before the planned day"),
        Column("permit_until", "day", "", "Permit until", "last day of the permit; missing without one"),
        Column("air_from", "text", "", "Temperature from", "forecast, seasonal table, or not known"),
    ),
    "mixes": (
        Column("mix", "integer", "", "Mix", "number of the mix, from 1"),
        _CREW,
        _DAY,
        _SHADE,
        Column("cores", "integer", "", "Cores", "cores that take their grout from it"),
        Column("net_bags", "number", "", "Net grout", "bags that its cores need, not rounded"),
        Column("alone", "number", "", "Without sharing", "bags if each core had a mix of its own"),
        Column("bags", "number", "", "Bags to mix", "bags to mix"),
        Column("span_min", "number", "min", "Span", "walking, pouring and pressing, from first pour to last press"),
    ),
    "days": (
        _CREW,
        _DAY,
        Column("stops", "integer", "", "Stops", "number of stops"),
        Column("start_min", "number", "min", "Start", "start from the yard, minutes from midnight"),
        Column("end_min", "number", "min", "End", "return to the yard, minutes from midnight"),
        Column("shift_start_min", "number", "min", "Shift starts", "start of the shift, minutes from midnight"),
        Column("shift_end_min", "number", "min", "Shift ends", "end of the shift, minutes from midnight"),
        Column("break_min", "number", "min", "Break", "length of the break"),
        Column("work_min", "number", "min", "At the cores", "minutes at the cores"),
        Column("travel_min", "number", "min", "Travelling", "minutes between yard and cores"),
        Column("travel_m", "number", "m", "Distance", "distance travelled"),
        Column("bags", "number", "", "Bags to mix", "bags to mix that day"),
        Column("load_kg", "number", "kg", "Load", "weight of grout, gravel and water at the start of the day"),
        Column("carries_kg", "number", "kg", "Carries", "what the truck carries"),
        Column(
            "wait_min", "number", "min", "Waiting", "of the minutes at the cores, those waited for traffic to return"
        ),
    ),
    "not_planned": (
        *_CORE,
        _DISTRICT,
        _TASK,
        Column("reason", "text", "", "Reason", "why it is not planned"),
        Column("remedy", "text", "", "Needed", "what would be needed to plan it"),
        Column("net_bags", "number", "", "Net grout", "bags that the core needs, not rounded; missing if unknown"),
    ),
    "bounds": (
        Column("measure", "text", "", "Measure", "what is bounded: weighted lateness, crew days or bags to mix"),
        Column("planned", "number", "", "Planned", "value of the plan"),
        Column("bound", "number", "", "Lower bound", "no plan has less"),
        Column("gap", "number", "", "Gap", "planned less bound, as a share of the bound; missing where that is zero"),
        Column("relaxed", "text", "", "Relaxed", "what the bound ignores"),
    ),
    "objective": (
        Column("part", "text", "", "Part", "part of what the plan minimises; the last row adds up"),
        Column("value", "number", "", "Value", "value of the plan"),
        Column("unit", "text", "", "Unit", "unit of the value"),
        Column("weight", "number", "min", "Weight", "minutes of a crew's work that one of it is worth"),
        Column("minutes", "number", "min", "Minutes", "value times weight"),
    ),
    "crews": (
        _CREW,
        Column("districts", "text", "", "Districts", "its districts, separated by semicolons; empty for all"),
        Column("yard", "text", "", "Yard", "yard that it starts from"),
        Column("lon", "number", "°", "Longitude", "longitude of its start", digits=8),
        Column("lat", "number", "°", "Latitude", "latitude of its start", digits=8),
        Column("starts_from", "text", "", "Starts from", "yard, or middle of its cores where no yard has a position"),
        Column("shift_start_min", "number", "min", "Shift starts", "start of the shift, minutes from midnight"),
        Column("shift_end_min", "number", "min", "Shift ends", "end of the shift, minutes from midnight"),
        Column("break_min", "number", "min", "Break", "length of the break"),
        Column("surfaces", "text", "", "Surfaces", "surfaces it works in, separated by semicolons; empty for all"),
        Column("carries_kg", "number", "kg", "Carries", "what the truck carries"),
        Column("work_days", "integer", "", "Working days", "days in the horizon on which it works"),
        Column("origin", "text", "", "From", "programme, or default"),
    ),
    "minutes": (
        Column("step", "text", "", "Step", "step of the work"),
        Column("size", "text", "", "Size", "class of diameter"),
        Column("surface", "text", "", "Surface", "kind of surface"),
        Column("minutes", "number", "min", "Minutes", "minutes per core, per bag for mixing"),
        Column("cores", "integer", "", "Cores", "cores that it was learnt from; 0 where it was not"),
        Column("origin", "text", "", "From", "programme, learnt or our default"),
    ),
    # what the separate checker found; empty where the plan holds
    "faults": (
        Column("check", "text", "", "Check", "what was checked"),
        _CREW,
        _DAY,
        Column("core_id", "text", "", "Core id", "id of the core, or of the first of several"),
        Column("fault", "text", "", "Fault", "what is wrong"),
    ),
}
STOP_COLUMNS: Final = names_of(PLAN_TABLES["stops"])

# the stops as they are published, with what a crew wants to know of the core: as the table of cores has it, unless
# described here
_ORDER: Final = (
    "crew", "day", "stop", "core_id", "arrival", "street", "chainage_m", "lon", "lat", "diameter_mm", "depth_mm",
    "weight_kg", "shade", "bags", "mix", "water_l", "gravel_kg", "state", "cautions",
    "row", "register", "task", "side", "surface", "district", "urgency", "findings", "net_bags", "pour",
    "earliest_traffic", "due_on", "due_by", "late_days", "air_c", "is_kept",
)  # fmt: skip
_PUBLISHED: Final = {column.published: column for column in (*CORE_TABLE, *PLAN_TABLES["stops"])} | {
    column.name: column
    for column in (
        Column("arrival", "text", "", "Arrival", "arrival at the core, local time"),
        Column("pour", "text", "", "Pour", "start of the pour, local time; missing without a mix"),
        Column("earliest_traffic", "text", "", "Earliest traffic", "earliest return of traffic, local time"),
        Column("street", "text", "", "Street", "street of the road segment, else as written in the register"),
        Column("weight_kg", "number", "kg", "Weight of the core", "weight of the core; missing if unknown"),
        Column("cautions", "text", "", "Cautions", "what to take care of at the core"),
    )
}
PLAN_TABLE: Final = tuple(_PUBLISHED[name] for name in _ORDER)
