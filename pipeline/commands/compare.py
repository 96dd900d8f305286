"""The comparison on one page: two finished runs or packs, and the folder with what changed between them."""

from dataclasses import replace
from pathlib import Path

from pipeline.errors import SettingsError
from pipeline.history import caveats
from pipeline.programme.catalogue import load_catalogue
from pipeline.publish.comparison import write_comparison
from pipeline.publish.since import changes_between
from pipeline.readback.compared import read_run_or_pack
from pipeline.readback.kept_runs import find_kept_runs
from pipeline.results import Comparison

__all__ = ["compare_runs"]


def compare_runs(before: Path, after: Path, out: Path | None = None) -> Comparison:
    """Compare two runs or handover packs, in any combination, and write what changed.

    Parameters
    ----------
    before, after
        Folders of two finished runs, or packs as folder or zip. If the first is the later one, they are swapped.
    out
        Folder for the outputs; None: ``compare-<day>-to-<day>`` beside the later one, outside of any run's folder.

    Raises
    ------
    SettingsError
        Both folders are the same.
    InputError
        One of them is neither a finished run nor a pack, or is incomplete or damaged.
    OutputError
        The outputs cannot be written.
    """
    if before.resolve() == after.resolve():
        raise SettingsError(
            f"{after}: was given twice, expected two runs or packs. Give two different ones, the earlier one first."
        )
    runs = [read_run_or_pack(before), read_run_or_pack(after)]
    is_swapped = runs[0].as_of > runs[1].as_of
    old, new = runs[::-1] if is_swapped else runs
    beside = _beside(new.folder)
    kept = find_kept_runs(beside, new.programme)
    records = list(kept.records)
    records += [run.record for run in (old, new) if run.record not in records]
    changes = changes_between(old, new)
    found_caveats = caveats(old.record, new.record, changes)
    found = Comparison(old, new, changes, found_caveats, records, list(kept.notices), is_swapped)
    folder = out if out is not None else beside / f"compare-{old.as_of}-to-{new.as_of}"
    cautions = load_catalogue({}, "").cautions
    return replace(found, folder=write_comparison(found, folder, cautions))


def _beside(path: Path) -> Path:
    """Return the folder beside a run or pack; a pack may lie in a run's folder, which nothing is written into."""
    folder = path.resolve().parent
    while (folder / "run.json").exists():
        folder = folder.parent
    return folder
