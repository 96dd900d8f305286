"""A pack with other settings, made from a run that is there already: the audit does not depend on them."""

from dataclasses import replace
from pathlib import Path

from pipeline.clock import numbered, silent
from pipeline.programme.settings import load_programme
from pipeline.publish.handover.contents import write_handover
from pipeline.publish.map_input import map_input
from pipeline.publish.run_package import package_of_run
from tests.small_town import write_town


def pack_of(result, folder: Path, handover: str) -> Path:
    """Hand over a run of the small town as if its programme had this ``[handover]`` section; return the pack."""
    changed = replace(result, settings=load_programme(write_town(folder, handover)))
    (folder / "run").mkdir()
    write_handover(
        changed,
        "0",
        map_input(changed, None),
        package_of_run(changed),
        None,
        folder / "run",
        numbered(silent, 1, "outputs"),
        folder,
    )
    return folder / "run" / "handover"
