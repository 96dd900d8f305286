"""The columns between the stages, each described once; what a stage hands on is checked against them."""

from pipeline.contracts.cells import (
    CORE_STATES,
    MISSING_WORDS,
    NO_CREW,
    NO_DATE,
    NO_DISTRICT,
    OPEN_STATES,
    SEVERITIES,
    STATUSES,
    URGENCIES,
    column_by_column,
    commonest_spelling,
    is_missing,
    is_word,
    latest_of,
    no_text,
    plain_ids,
    sharing_blanks,
    start_of_day,
)
from pipeline.contracts.changed import CHANGE_TABLE, HANDED_CHANGE_TABLE
from pipeline.contracts.checks import check_frame, check_tables
from pipeline.contracts.column import AS_WRITTEN, Column, Kind, cell_columns, names_of, shown_unit
from pipeline.contracts.cores import (
    AUDIT_COLUMNS,
    AUDIT_FRAME,
    AUDITED_COLUMNS,
    CALIBRATED_COLUMNS,
    INTAKE_COLUMNS,
    LOCATED_COLUMNS,
    MADE_FROM,
    QUANTIFIED_COLUMNS,
    SPECIFIED_COLUMNS,
)
from pipeline.contracts.handed import HANDED_RULE_TABLE
from pipeline.contracts.plan import PLAN_TABLE, PLAN_TABLES, STOP_COLUMNS, TASK_WORDS
from pipeline.contracts.published import (
    CORE_COLUMNS,
    CORE_TABLE,
    DATES_UNDERSTOOD,
    HANDED_ALWAYS,
    HANDED_COLUMNS,
    PUBLISHED,
    as_published,
    own_names,
    register_texts,
)
from pipeline.contracts.register import REGISTER_COLUMNS, REGISTER_SYNONYMS, STREET_RECORDED
from pipeline.contracts.returns import RETURN_FIELDS, RETURN_REPORT
from pipeline.contracts.shades import shade_chances
from pipeline.contracts.tables import (
    AUDIT_TABLES,
    FINDING_COLUMNS,
    FINDING_TABLE,
    GONE_TABLE,
    HANDED_FINDING_COLUMNS,
    INTAKE_TABLES,
    LAYER_COLUMNS,
    ORDER_COLUMNS,
    ORDER_TABLES,
    PACKAGE_INDEX,
    STATUS_COUNTS,
)
from pipeline.contracts.temperatures import Temperatures
from pipeline.contracts.works import WORKS_CORES, WORKS_TABLE, WORST_COUNTS

__all__ = [
    "AS_WRITTEN", "AUDITED_COLUMNS", "AUDIT_COLUMNS", "AUDIT_FRAME", "AUDIT_TABLES", "CALIBRATED_COLUMNS",
    "CHANGE_TABLE", "CORE_COLUMNS", "CORE_STATES", "CORE_TABLE", "DATES_UNDERSTOOD", "FINDING_COLUMNS", "FINDING_TABLE",
    "GONE_TABLE", "HANDED_ALWAYS", "HANDED_CHANGE_TABLE",
    "HANDED_COLUMNS", "HANDED_FINDING_COLUMNS", "HANDED_RULE_TABLE", "INTAKE_COLUMNS", "INTAKE_TABLES", "LAYER_COLUMNS",
    "LOCATED_COLUMNS", "MADE_FROM", "MISSING_WORDS", "NO_CREW", "NO_DATE", "NO_DISTRICT", "OPEN_STATES",
    "ORDER_COLUMNS", "ORDER_TABLES", "PACKAGE_INDEX", "PLAN_TABLE", "PLAN_TABLES", "PUBLISHED", "QUANTIFIED_COLUMNS",
    "REGISTER_COLUMNS",
    "REGISTER_SYNONYMS", "RETURN_FIELDS", "RETURN_REPORT", "SEVERITIES",
    "SPECIFIED_COLUMNS", "STATUSES", "STATUS_COUNTS", "STOP_COLUMNS", "STREET_RECORDED", "TASK_WORDS", "URGENCIES",
    "WORKS_CORES", "WORKS_TABLE", "WORST_COUNTS",
    "Column", "Kind", "Temperatures",
    "as_published", "cell_columns", "check_frame", "check_tables", "column_by_column", "commonest_spelling",
    "is_missing", "is_word",
    "latest_of", "names_of", "no_text", "own_names", "plain_ids", "register_texts", "shade_chances", "sharing_blanks",
    "shown_unit", "start_of_day",
]  # fmt: skip
