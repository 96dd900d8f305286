"""The data dictionary of a pack, drawn from its own tables."""

from typing import Any, Final

import pandas as pd

from pipeline.publish.data_package import DescribedTable, data_package, described
from pipeline.publish.record import as_json
from pipeline.readback.pack_files import DISTRICTS, PACK_FILES

__all__ = ["draw_dictionary"]

_CORES: Final = "cores.csv"
_RULES: Final = "rules.csv"
# what identifies a row of a table, and which values are those of another table
_KEYS: Final = {
    _CORES: ("row",),
    "findings.csv": ("row", "rule"),
    _RULES: ("rule",),
    "works.csv": ("works_id",),
    DISTRICTS: ("file",),
}
_REFERS: Final = {
    "findings.csv": {"row": (_CORES, "row"), "rule": (_RULES, "rule")},
    "changes.csv": {"row_after": (_CORES, "row"), "rule": (_RULES, "rule")},
    "works_cores.csv": {"row": (_CORES, "row"), "works_id": ("works.csv", "works_id")},
}
_TITLES: Final = {
    _CORES: "Cores",
    "findings.csv": "Findings",
    _RULES: "Rules",
    "works.csv": "Works",
    "works_cores.csv": "Cores in works",
    "changes.csv": "Changes",
    DISTRICTS: "Districts",
}
_TABLES: Final = {
    name: DescribedTable((), file.columns, _TITLES.get(name, name), _KEYS.get(name, ()), _REFERS.get(name, {}))
    for name, file in PACK_FILES.items()
    if file.kind == "table" or name == DISTRICTS
}


def draw_dictionary(facts: dict[str, Any], tables: dict[str, pd.DataFrame]) -> str:
    """Return the text of ``datapackage.json``; ``SHA256SUMS`` has the checksums of the files.

    Parameters
    ----------
    facts
        What ``handover.json`` holds.
    tables
        The CSV files of the pack by name.
    """
    title = f"{facts['programme']}: cores as of {facts['as_of']}"
    return as_json(
        data_package(f"{facts['programme']} {facts['as_of']}", title, described(tables, _TABLES), facts["sources"])
    )
