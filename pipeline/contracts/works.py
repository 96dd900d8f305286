"""The columns of works, of the cores in them, and of the counts that works, segments and districts have."""

from typing import Final

from pipeline.contracts.column import Column

__all__ = ["WORKS_CORES", "WORKS_TABLE", "WORST_COUNTS"]

_KINDS: Final = (
    ("planned", "planned works"),
    ("protected", "street protected by the road authority, or still protected after its resurfacing"),
    ("resurfaced", "resurfaced road, no longer protected"),
)
_ID: Final = Column(
    "works_id", "text", "", "Works", "id of the works: their own, else their name, else kind and number"
)
# what a road authority asks about a street, a district or works; added where these are published
WORST_COUNTS: Final = (
    Column("cores_open", "integer", "", "Open cores", "number of cores that are open, plated or interim", "always"),
    Column("cores_hazard", "integer", "", "Hazards", "number of cores with a hazard", "always"),
    Column(
        "cores_overdue",
        "integer",
        "",
        "Overdue cores",
        "number of overdue cores, without those that are a hazard",
        "always",
    ),
)
WORKS_TABLE: Final = (
    _ID,
    Column("kind", "text", "", "Kind", "planned, protected or resurfaced", values=_KINDS),
    Column("name", "text", "", "Name", "name of the works; missing where the layer has none"),
    Column("on", "day", "", "From", "first day of planned works or of a protection, or day of the resurfacing"),
    Column("until", "day", "", "Until", "last day of planned works, or day on which a protection ends"),
    Column("streets", "text", "", "Streets", "streets that the works lie in, separated by semicolons"),
    Column("cores", "integer", "", "Cores", "number of cores in the works, whatever their state"),
    *WORST_COUNTS,
)
WORKS_CORES: Final = (
    _ID,
    Column("row", "integer", "", "Row", "row of the core in the register"),
    Column("core_id", "text", "", "Core id", "id of the core"),
    Column("state", "text", "", "State", "state of the core"),
    Column("urgency", "text", "", "Urgency", "urgency of its most urgent finding; missing without one"),
    Column("status", "text", "", "Status", "status of the core"),
    Column("district", "text", "", "District", "district of the core"),
    Column("street", "text", "", "Street", "street of the core's road segment"),
)
