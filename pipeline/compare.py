"""Two finished runs compared, from their folders to a folder of its own."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pandas as pd

from pipeline.catalogue import load_catalogue
from pipeline.errors import SettingsError
from pipeline.history import Changes, doubts, trend
from pipeline.intake.kept_runs import find_kept_runs
from pipeline.intake.runs import Run, read_run
from pipeline.publish.comparison import write_comparison
from pipeline.publish.since import changes_between

__all__ = ["Comparison", "compare_runs"]


@dataclass(frozen=True)
class Comparison:
    """What a comparison found.

    ``doubts``: what else than the road may have made the difference. ``records``: of every run kept, for the trend.
    ``notices``: what was left out of the trend, and why. ``is_swapped``: the later run was given first. ``folder``:
    where the outputs lie.
    """

    before: Run
    after: Run
    changes: Changes
    doubts: list[str]
    records: list[dict[str, Any]]
    notices: list[str]
    is_swapped: bool
    folder: Path | None = None

    @property
    def trend(self) -> pd.DataFrame:
        """One row a run kept."""
        return trend(self.records)


def compare_runs(before: Path, after: Path, out: Path | None = None) -> Comparison:
    """Compare two runs, and write what changed.

    Parameters
    ----------
    before, after
        Folders of two finished runs. If the first is of the later day, they are taken the other way round.
    out
        Folder for the outputs; None takes ``compare-<day>-to-<day>`` beside the later run.

    Raises
    ------
    SettingsError
        Both are the same folder.
    InputError
        One of them is no run's folder, or is cut short or spoiled.
    OutputError
        The outputs cannot be written.
    """
    if before.resolve() == after.resolve():
        raise SettingsError(f"{after}: was given twice. Give the folders of two runs, the earlier one first.")
    runs = [read_run(before), read_run(after)]
    is_swapped = runs[0].as_of > runs[1].as_of
    old, new = runs[::-1] if is_swapped else runs
    beside = new.folder.resolve().parent
    kept = find_kept_runs(beside, new.programme)
    records = list(kept.records)
    records += [run.record for run in (old, new) if run.record not in records]
    changes = changes_between(old, new)
    said = doubts(old.record, new.record, changes)
    found = Comparison(old, new, changes, said, records, list(kept.notices), is_swapped)
    place = out if out is not None else beside / f"compare-{old.as_of}-to-{new.as_of}"
    cautions = load_catalogue({}, "").cautions
    return replace(found, folder=write_comparison(found, place, cautions))
