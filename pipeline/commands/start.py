"""The starter programme: the demo town's files, and a programme file in which every key is explained."""

import os
import re
import shutil
from pathlib import Path

from pipeline.errors import OutputError
from pipeline.programme.names import named_after
from pipeline.programme.resources import shipped

__all__ = ["start"]

_FILES = (
    "programme.toml", "cores.csv", "roads.gpkg", "surfaces.gpkg", "districts.geojson", "joints.gpkg",
    "resurfaced.geojson", "planned_works.geojson", "protected.geojson", "stock.csv", "decisions.csv",
    "forecast.csv", "seasons.csv",
)  # fmt: skip

_DEMO = 'name = "Harbour Vale 2026"'


def start(folder: Path) -> list[Path]:
    """Copy the starter programme into a folder and name it after the folder.

    Returns
    -------
    list of pathlib.Path
        The files written, the programme file first.

    Raises
    ------
    OutputError
        One of the files exists already, or the folder cannot be written.
    """
    targets = [folder / name for name in _FILES]
    taken = [target for target in targets if os.path.exists(target)]  # noqa: PTH110 - takes names too long for a folder
    if taken:
        raise OutputError(f"{taken[0]}: exists already, and nothing is overwritten. Choose an empty folder.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        targets[0].write_text(_programme_named_after(folder), encoding="utf-8", newline="\n")
        for target in targets[1:]:
            shutil.copyfile(shipped("sample_data") / target.name, target)
    except OSError as error:
        raise OutputError(f"{folder}: cannot be written ({error.strerror}). Choose another folder.") from error
    return targets


def _programme_named_after(folder: Path) -> str:
    """Return the programme named after its folder: two programmes of one name would replace each other's runs."""
    name = named_after(re.sub(r'["\\]', "", folder.resolve().name))
    text = (shipped("sample_data") / _FILES[0]).read_text("utf-8")
    return text.replace(_DEMO, f'name = "{name}"', 1)
