"""The findings of each owner, in a file of its own."""

from pathlib import Path
from typing import Final

from pipeline.ledger import owner_names
from pipeline.publish.folder import folder_name
from pipeline.publish.tables import write_csv
from pipeline.results import RunResult

__all__ = ["OWNERS", "owner_files", "write_owners"]

# the folder of these files
OWNERS: Final = "owners"
_WHERE: Final = ("street", "district")


def owner_files(names: list[str]) -> dict[str, str]:
    """Return the file of each owner: letters, digits and hyphens, numbered where two names make the same one."""
    files: dict[str, str] = {}
    for name in names:
        plain = folder_name(name)
        taken, number = {*files.values()}, 1
        while (file := f"{plain}.csv" if number == 1 else f"{plain}-{number}.csv") in taken:
            number += 1
        files[name] = file
    return files


def write_owners(result: RunResult, folder: Path) -> None:
    """Write a table of findings for each owner of the settings, with street and district; none without owners.

    Parameters
    ----------
    result
        The run.
    folder
        The folder to write into, which is made.
    """
    names = owner_names(result.settings.owners)
    if not names:
        return
    folder.mkdir()
    findings = result.audit.findings
    located = findings.join(result.table.set_index("row")[list(_WHERE)], on="row", validate="many_to_one")
    for name, file in owner_files(names).items():
        write_csv(located[located["owner"].eq(name)], folder / file)
