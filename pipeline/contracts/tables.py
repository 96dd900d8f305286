"""The tables and layers beside the frame of cores: what intake reads, the audit finds, and orders come to."""

from typing import Final

from pipeline.contracts.buying import BUYING_TABLES
from pipeline.contracts.cells import STATUSES
from pipeline.contracts.column import Column, names_of
from pipeline.contracts.compared import COMPLETENESS, RATES
from pipeline.contracts.decisions import DECIDED_COLUMNS, DECIDED_HANDED
from pipeline.contracts.ledger import FOLLOWED_COLUMNS, gone_table
from pipeline.contracts.value_words import SEVERITY_WORDS, URGENCY_WORDS

__all__ = [
    "AUDIT_TABLES", "FINDING_COLUMNS", "FINDING_TABLE", "GONE_TABLE", "HANDED_FINDING_COLUMNS", "INTAKE_TABLES",
    "LAYER_COLUMNS", "ORDER_COLUMNS", "ORDER_TABLES", "PACKAGE_INDEX", "STATUS_COUNTS",
]  # fmt: skip

_GEOMETRY: Final = Column("geometry", "geometry", "", "Geometry", "shape in the run's CRS")
_DISTRICT: Final = Column("district", "text", "", "District", "name of the district")
_PERIOD: Final = Column("period", "text", "", "Period", "week or month in which it is needed, or all")
_SHADE: Final = Column("shade", "text", "", "Shade", "shade of grout")
_ITEM: Final = Column("item", "text", "", "Item", "item to order")
_YARD: Final = Column("yard", "text", "", "Yard", "yard that it is for")
_CORES: Final = Column("cores", "integer", "", "Cores", "number of cores")
_RULE: Final = Column("rule", "text", "", "Rule", "short name of the rule")

# keys that a programme file may set under the columns of a layer
LAYER_COLUMNS: Final = [
    "segment_id", "street", "surface", "road_class", "road_authority", "width", "slope", "level", "district",
    "resurfaced_on", "due_on", "works_id", "name", "ends_on", "from", "until",
]  # fmt: skip
_WORKS: Final = (
    Column("feature", "integer", "", "Feature", "number of the feature in its file, from 1"),
    Column("works_id", "text", "", "Id", "the works' own id; missing where the layer has none"),
    Column("name", "text", "", "Name", "name of the works; missing where the layer has none"),
    Column("on", "instant", "", "Date", "day of the resurfacing, or first day of the works or of the protection"),
    Column("until", "instant", "", "Until", "last day of planned works, or day on which a protection ends"),
    Column("segment_id", "text", "", "Road segment", "segment that it applies to; missing where only a shape is given"),
    _GEOMETRY,
)
# number of cores by status, added to segments and districts when they are published
STATUS_COUNTS: Final = tuple(
    Column(f"cores_{status}", "integer", "", f"{status.capitalize()} cores", f"number of {status} cores", "always")
    for status in STATUSES
)
# which GeoPackage of a district is where
PACKAGE_INDEX: Final = (
    Column("file", "text", "", "File", "name of the GeoPackage"),
    Column("district", "text", "", "District", "name of the district; empty for the cores outside every district"),
    _CORES,
    *(
        Column(status, "integer", "", f"{status.capitalize()} cores", f"number of {status} cores")
        for status in STATUSES
    ),
    Column("segments", "integer", "", "Road segments", "number of road segments"),
    *(
        Column(side, "number", "degrees", side.capitalize(), f"{side}ernmost {axis} of a core, in WGS 84", digits=7)
        for side, axis in (("west", "longitude"), ("south", "latitude"), ("east", "longitude"), ("north", "latitude"))
    ),
)
INTAKE_TABLES: Final = {
    "segments": (
        Column("segment_id", "text", "", "Road segment", "id of the segment", "always"),
        Column("street", "text", "", "Street", "street of the segment, as in the road layer", "always"),
        Column("surface", "text", "", "Surface", "surface of the segment, by its catalogue name", "by default"),
        Column("road_class", "text", "", "Class in the road layer", "class of road, as in the road layer"),
        Column("class_name", "text", "", "Class of road", "class of road, by its catalogue name", "by default"),
        Column("road_authority", "text", "", "Road authority", "road authority, as in the road layer", "by default"),
        Column("slope_percent", "number", "%", "Slope", "slope along the segment"),
        Column("half_width_m", "number", "m", "Half width", "half of the width from kerb to kerb"),
        Column("is_underground", "boolean", "", "Underground", "whether it is in a tunnel or under another road"),
        _GEOMETRY,
        Column("start_m", "number", "m", "Start", "distance along the segment at which this line begins"),
    ),
    "surfaces": (Column("surface", "text", "", "Surface", "catalogue name of the surface"), _GEOMETRY),
    "districts": (_DISTRICT, _GEOMETRY),
    "joints": (_GEOMETRY,),
    "resurfaced": _WORKS,
    "planned_works": _WORKS,
    "protected": _WORKS,
    "stock": (
        _YARD,
        _ITEM,
        Column("packs", "number", "", "Packs", "packs in the yard or on their way to it"),
        Column("arrives_on", "day", "", "Arrives", "day of arrival; missing for what is in the yard"),
        Column("expires_on", "day", "", "Expires", "last day of use; missing where not given"),
    ),
}
_URGENCY: Final = Column("urgency", "text", "", "Urgency", "hazard, overdue, quality or record", values=URGENCY_WORDS)
_SEVERITY: Final = Column("severity", "text", "", "Severity", "fail, check or note", values=SEVERITY_WORDS)
_FOUND: Final = (
    Column("row", "integer", "", "Row", "row of the core in the register"),
    Column("core_id", "text", "", "Core id", "id of the core"),
    Column("rule", "text", "", "Rule", "short name of the rule that the core breaches"),
    _SEVERITY,
)
# the audit finds, and the sentences are made when it is published
_WORDED: Final = (
    *_FOUND,
    Column("message", "text", "", "Finding", "what was found, and what to do"),
    Column("evidence", "text", "", "Evidence", "values that the rule compared"),
    _URGENCY,
)
FINDING_TABLE: Final = (*_WORDED, *FOLLOWED_COLUMNS, *DECIDED_COLUMNS)
FINDING_COLUMNS: Final = names_of(FINDING_TABLE)
# row, id, rule, severity and message of a finding as it was
GONE_TABLE: Final = gone_table(_WORDED[:5])
# how a finding is followed, and who decided about it and why, is the utility's own business
HANDED_FINDING_COLUMNS: Final = (*names_of(_WORDED), *DECIDED_HANDED)
AUDIT_TABLES: Final = {
    "findings": (*_FOUND, _URGENCY),
    "rules": (
        _RULE,
        Column("family", "text", "", "Family", "group of rules it belongs to"),
        Column("title", "text", "", "Title", "what is wrong with a core where the rule has a finding"),
        _SEVERITY,
        Column("limits", "text", "", "Limits", "thresholds that apply everywhere"),
        Column("source", "text", "", "Source", "where the thresholds come from"),
        Column("needs", "text", "", "Inputs", "inputs that the rule needs"),
        Column("applies_to", "text", "", "Applies to", "cores that the rule applies to: all, open or reinstated"),
        Column("assessed", "integer", "", "Assessed", "cores that were assessed"),
        Column("found", "integer", "", "Findings", "cores with this finding"),
        Column("not_assessed", "integer", "", "Not assessed", "cores without the inputs that the rule needs"),
        Column("not_applicable", "integer", "", "Not applicable", "cores that the rule does not apply to"),
        _URGENCY,
        Column(
            "at_limit",
            "integer",
            "",
            "At the limit",
            "assessed cores whose recorded value is too coarse to tell on which side of the limit it lies",
        ),
    ),
    "thresholds": (
        _RULE,
        Column("threshold", "text", "", "Threshold", "name of the threshold"),
        Column("value", "text", "", "Value", "value of the threshold"),
        Column("where", "text", "", "Where", "where it applies"),
        Column("origin", "text", "", "Origin", "who set it: shipped, a code of practice or the programme"),
        Column("source", "text", "", "Source", "where the value comes from"),
        _CORES,
        Column(
            "kind",
            "text",
            "",
            "Kind of source",
            "a code of practice or law, our default, common practice without a source, or the programme",
        ),
    ),
    "evidence": (
        Column("input", "text", "", "Input", "input that is missing for some cores"),
        _CORES,
        Column("assessments", "integer", "", "Assessments", "assessments that this input alone would add"),
        Column(
            "cores_with_others", "integer", "", "Cores, with others", "cores that need it together with other inputs"
        ),
        Column("rules", "text", "", "Rules", "rules that need it"),
        Column("not_kept", "integer", "", "Not kept", "of all these cores, those whose register has no column for it"),
        Column(
            "left_empty",
            "integer",
            "",
            "Left empty",
            "of all these cores, those whose register has a column for it, but whose cell is empty or unreadable",
        ),
        Column("registers", "text", "", "Registers without it", "registers without a column for it"),
    ),
    "rates": RATES,
    "completeness": COMPLETENESS,
}

_UNCERTAIN: Final = (
    Column("cores", "number", "", "Cores", "number of cores, chances added up"),
    Column("expected", "number", "", "Bags to mix", "bags to mix of the plan"),
    Column("enough", "number", "", "Enough", "bags that suffice at the service level; of a total, if held in common"),
    Column("safety_stock", "number", "", "Safety stock", "bags to hold beyond the bags to mix"),
    Column("error", "number", "", "Error", "standard error of that number, from the number of simulations"),
    Column("mean", "number", "", "Mean", "mean of the simulations"),
    Column("from_shade", "number", "", "From shade", "safety stock if only shades were uncertain"),
    Column("from_size", "number", "", "From size", "safety stock if only sizes were uncertain"),
    Column("from_waste", "number", "", "From waste", "safety stock if only waste were uncertain"),
    Column("from_model", "number", "", "From the model", "safety stock if only the volume model were uncertain"),
    Column(
        "without_model",
        "number",
        "",
        "With a known model",
        "safety stock if kerf, bed and the rest of the volume model were exactly as stated, or as calibrated",
    ),
    Column(
        "planned_suffices",
        "number",
        "",
        "Chance without safety stock",
        "share of the simulations in which the bags to mix suffice without any safety stock",
    ),
    Column(
        "enough_jointly",
        "number",
        "",
        "Enough, all at once",
        "bags to hold so that no district runs out of any shade, at the service level; of a total, their sum",
    ),
    Column(
        "joint_level",
        "number",
        "",
        "Chance, all at once",
        "share of the simulations in which no district runs out of any shade, if each holds its own safety stock",
    ),
)
_LINES: Final = (
    Column("district", "text", "", "District", "district to deliver to"),
    _PERIOD,
    _ITEM,
    Column("unit", "text", "", "Unit", "unit of the quantities"),
    Column("needed", "number", "", "Net need", "exact quantity needed; of grout, the net grout"),
    Column("order", "number", "", "In whole packs", "quantity in whole packs; of grout, in bags to mix"),
    Column("reserve", "number", "", "Rounding surplus", "quantity in whole packs less the net need"),
    Column("packs", "integer", "", "Packs", "number of packs; of grout, bags to mix; missing for water"),
)
ORDER_COLUMNS: Final = names_of(_LINES)
ORDER_TABLES: Final = {
    "lines": _LINES,
    "left_out": (
        _DISTRICT,
        Column("reason", "text", "", "Reason", "why nothing is ordered for the core"),
        _CORES,
        Column("core_ids", "text", "", "Core ids", "ids of these cores, in the order of the register"),
    ),
    "cores_left_out": (
        Column("reason", "text", "", "Reason", "why nothing is ordered for the core"),
        Column("core_id", "text", "", "Core id", "id of the core; missing without one"),
    ),
    "sharing": (
        _DISTRICT,
        _PERIOD,
        _SHADE,
        _CORES,
        Column("needed", "number", "", "Net grout", "exact need in bags, not rounded"),
        Column("alone", "number", "", "Without sharing", "bags if every core had its own mix"),
        Column("shared", "number", "", "Bags to mix", "bags to mix"),
    ),
    "plan": (
        Column("day", "day", "", "Day", "day on which the core is to be reinstated"),
        _PERIOD,
        Column("period_start", "day", "", "Start of the period", "first day of the period"),
        Column("visit", "text", "", "Visit", "day and crew"),
        Column("mix", "integer", "", "Mix", "number of the mix that the core's grout comes from"),
        Column("bags_mixed", "number", "", "Bags mixed", "bags opened at the core"),
    ),
    **BUYING_TABLES,
    "safety_stock": (_DISTRICT, _SHADE, *_UNCERTAIN),
    "service_levels": (
        Column("shade", "text", "", "Shade", "shade of grout; missing for all shades together"),
        *_UNCERTAIN,
        Column("level", "number", "", "Service level", "share of the simulations in which the bags suffice"),
    ),
    # what the cores to be surveyed may need: no part of the bags to mix
    "survey_round": (
        Column("district", "text", "", "District", "district; missing for all of them"),
        Column("shade", "text", "", "Shade", "shade of grout; missing for all shades together"),
        Column("cores", "number", "", "Cores", "number of cores of unknown size or surface, chances added up"),
        Column("expected", "number", "", "Expected", "bags expected, the mean of the simulations"),
        Column("enough", "number", "", "Up to", "bags that suffice at the service level"),
        Column("known", "integer", "", "Known sizes", "cores of known size that the unknown ones are drawn from"),
        Column("drawn_from", "text", "", "Drawn from", "district, programme, or none: such cores are not counted"),
    ),
    # what the plan costs, and what open cores cost until they are reinstated
    "costs": (
        Column("kind", "text", "", "Kind", "grout, visits, crew days, plates, permit overrun or penalties"),
        _DISTRICT,
        Column("register", "text", "", "Register", "register of the cores"),
        Column("crew", "text", "", "Crew", "crew that reinstates the cores, or (not planned)"),
        Column("week", "text", "", "Period", "week or month, or all; so far: before the audit, not in the forecast"),
        Column("quantity", "number", "", "Quantity", "number of bags, visits, days or cores"),
        Column("unit", "text", "", "Unit", "unit of the quantity"),
        Column("amount", "number", "", "Amount", "cost; missing without a price"),
        Column("currency", "text", "", "Currency", "currency of the amount"),
    ),
    "budget": (
        Column("week", "text", "", "Period", "week or month; so far: before the audit; missing for the whole forecast"),
        Column("amount", "number", "", "Forecast", "cost of the period"),
        Column("cumulative", "number", "", "Forecast, added up", "cost from the audit to the end of the period"),
        Column("budget", "number", "", "Budget", "what may be spent in the period; missing where not given"),
        Column("budget_cumulative", "number", "", "Budget, added up", "budgets of the periods so far, added up"),
        Column("beyond", "number", "", "Beyond the budget", "forecast less budget; below zero where some is left"),
    ),
}
