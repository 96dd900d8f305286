"""The table of what changed between two runs or packs, and the form in which a road authority is handed it."""

from typing import Final

from pipeline.contracts.column import Column

__all__ = ["CHANGE_TABLE", "HANDED_CHANGE_TABLE"]

_ROW_BEFORE: Final = Column("row_before", "integer", "", "Row before", "row of the core in the earlier run")
_ROW_AFTER: Final = Column("row_after", "integer", "", "Row after", "row of the core in the later run")
_CORE: Final = Column("core_id", "text", "", "Core id", "id of the core")
_WHERE: Final = (
    Column("district", "text", "", "District", "district of the core; of a removed core, its earlier one"),
    Column("street", "text", "", "Street", "street of the core; of a removed core, its earlier one"),
)
CHANGE_TABLE: Final = (
    _ROW_BEFORE,
    _ROW_AFTER,
    _CORE,
    Column("change", "text", "", "Change", "kind of change"),
    Column("before", "text", "", "Before", "value in the earlier run; of findings, the short names of the rules"),
    Column("after", "text", "", "After", "value in the later run; of findings, the short names of the rules"),
    *_WHERE,
)
# by core id, since a row moves whenever the register is sorted; the rows come last
HANDED_CHANGE_TABLE: Final = (
    _CORE,
    Column("change", "text", "", "Change", "kind of change"),
    Column("before", "text", "", "Before", "value on the earlier date; of findings, the rules by their names"),
    Column("after", "text", "", "After", "value on the later date; of findings, the rules by their names"),
    *_WHERE,
    Column("road_authority", "text", "", "Road authority", "road authority of the core's segment, in the later run"),
    Column("rule", "text", "", "Rule", "short name of the rule of a new or a cleared finding, as in rules.csv"),
    _ROW_BEFORE,
    Column("row_after", "integer", "", "Row after", "row of the core in cores.csv; empty for a removed core"),
)
