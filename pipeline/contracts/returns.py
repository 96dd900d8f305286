"""Returns: the boxes of a sheet that a crew fills in, and the register columns that they become."""

from typing import Final, NamedTuple

from pipeline.contracts.column import Column

__all__ = ["RETURN_FIELDS", "RETURN_REPORT", "ReturnField"]


class ReturnField(NamedTuple):
    """A box of the sheet.

    ``column``: the register column that it fills. ``head``, ``unit``: of the sheet in metric units. ``us_head``,
    ``us_unit``: in US units; the same where there is no unit. ``low``, ``high``: what a number can be, in the unit of
    the register column. ``others``: further heads under which it is read. ``task``: the work it belongs to.
    """

    column: str
    kind: str
    head: str
    us_head: str
    unit: str = ""
    us_unit: str = ""
    low: float = 0.0
    high: float = 0.0
    others: tuple[str, ...] = ()
    task: str = "reinstate"


RETURN_FIELDS: Final = (
    ReturnField("bags_used", "number", "bags_used", "bags_used", high=50.0),
    ReturnField(
        "water_l", "number", "water_used_l", "water_used_gal", "L", "US gal", high=200.0, others=("water_l_used",)
    ),
    ReturnField(
        "air_temperature_c", "number", "air_temperature_c", "air_temperature_f", "degC", "degF", low=-40.0, high=60.0
    ),
    ReturnField("reinstated_at", "instant", "reinstated_at", "reinstated_at", others=("poured_at",)),
    ReturnField("reopened_at", "instant", "reopened_at", "reopened_at", others=("opened_at",)),
    ReturnField("flush_mm", "number", "flush_mm", "flush_in", "mm", "in", low=-100.0, high=100.0),
    ReturnField("shade_used", "text", "shade_used", "shade_used"),
    ReturnField(
        "diameter_mm", "number", "diameter_found_mm", "diameter_found_in", "mm", "in", 20.0, 2000.0, task="survey"
    ),
    ReturnField("depth_mm", "number", "depth_found_mm", "depth_found_in", "mm", "in", 10.0, 3000.0, task="survey"),
    ReturnField("surface_recorded", "text", "surface_found", "surface_found", task="survey"),
    ReturnField("remarks", "text", "remarks", "remarks"),
)
RETURN_REPORT: Final = (
    Column("file", "text", "", "File", "file of returns"),
    Column("line", "text", "", "Line", "row of the sheet, or line of the text"),
    Column("core_id", "text", "", "Core id", "id as it was returned"),
    Column("register", "text", "", "Register", "register that the core is in"),
    Column("column", "text", "", "Column", "register column that was returned"),
    Column("returned", "text", "", "Returned", "what was returned"),
    Column("held", "text", "", "Held", "what the register holds; missing where it is empty"),
    Column("outcome", "text", "", "Outcome", "what became of it: filled, the same, or why it was not used"),
)
