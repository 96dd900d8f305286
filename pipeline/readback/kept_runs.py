"""The runs kept in a programme's folder: their records, and the latest of them before a day."""

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pandas as pd

from pipeline.errors import InputError
from pipeline.intake.files.checksums import fingerprint
from pipeline.readback.json_text import parse_json
from pipeline.readback.record_shape import COUNTS
from pipeline.readback.runs import Run, read_run

__all__ = ["NO_EARLIER", "Earlier", "KeptRuns", "find_kept_runs", "read_earlier"]

# of what can be counted exactly
_MOST: Final = 2**53


@dataclass(frozen=True)
class KeptRuns:
    """The runs kept of a programme: ``folders`` and ``records``, by date; ``notices``: what was left out, and why."""

    folders: tuple[Path, ...] = ()
    records: tuple[dict[str, Any], ...] = ()
    notices: tuple[str, ...] = ()


@dataclass(frozen=True)
class Earlier:
    """The runs of earlier dates that are kept beside a run.

    ``run``: the latest of them, None if none can be read. ``sha256``: of its ``cores.csv``. ``records``: of all of
    them, by date. ``notices``: what was left out, and why.
    """

    run: Run | None = None
    sha256: str = ""
    records: tuple[dict[str, Any], ...] = ()
    notices: tuple[str, ...] = ()

    @property
    def found(self) -> tuple[pd.DataFrame | None, dt.date | None]:
        """The findings of the latest of them, and its day; None without one."""
        return (None, None) if self.run is None else (self.run.findings, self.run.as_of)


NO_EARLIER: Final = Earlier()


def find_kept_runs(folder: Path, programme: str, before: dt.date | None = None) -> KeptRuns:
    """Return a programme's runs by their records; nothing else of them is read.

    Parameters
    ----------
    folder
        The programme's folder, whose subfolders are named by date. It need not exist.
    programme
        Name of the programme; runs of others are left out.
    before
        Take only runs of an earlier date; None takes all.

    Returns
    -------
    KeptRuns
        Its notices name a folder by its date alone, so that they read the same wherever the outputs are.
    """
    folders, records, notices = [], [], []
    for day, run_folder in _dated(folder):
        if before is not None and day >= before:
            continue
        record = _record(run_folder / "run.json")
        if isinstance(record, str):
            notices.append(f"Folder {run_folder.name} is not in the history: {record}.")
        elif record["programme"] != programme:
            notices.append(
                f"The run of {run_folder.name} is not in the history: it is of another programme, "
                f"{record['programme'][:80]!r}."
            )
        else:
            folders.append(run_folder)
            records.append(record)
    return KeptRuns(tuple(folders), tuple(records), tuple(notices))


def read_earlier(folder: Path, programme: str, as_of: dt.date) -> Earlier:
    """Return the latest run kept of an earlier date, and the records of all of them.

    Parameters
    ----------
    folder
        The programme's folder; it need not exist.
    programme
        Name of the programme.
    as_of
        Date of the run that follows them.

    Returns
    -------
    Earlier
        A run that cannot be read is left out with a notice, and the run before it is taken.
    """
    kept = find_kept_runs(folder, programme, as_of)
    notices = list(kept.notices)
    records = list(kept.records)
    for run_folder in reversed(kept.folders):
        try:
            return Earlier(read_run(run_folder), fingerprint(run_folder / "cores.csv"), tuple(records), tuple(notices))
        except (InputError, OSError) as error:
            # paths of this machine do not belong in a report
            why = (
                str(error).replace(f"{run_folder}/", "")
                if isinstance(error, InputError)
                else f"cores.csv: {error.strerror}."
            )
            notices.append(f"The run of {run_folder.name} is not in the history: {why}")
            records.pop()
    return Earlier(None, "", (), tuple(notices))


def _dated(folder: Path) -> Iterator[tuple[dt.date, Path]]:
    try:
        run_folders = sorted(run_folder for run_folder in folder.iterdir() if run_folder.is_dir())
    except OSError:
        return
    for run_folder in run_folders:
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", run_folder.name, re.ASCII):
            try:
                day = dt.date.fromisoformat(run_folder.name)
            except ValueError:
                continue
            yield day, run_folder


def _record(path: Path) -> dict[str, Any] | str:
    """Return a run's record, or why it cannot be used."""
    if path.exists() and not path.is_file():
        # a pipe would be waited for without end
        return "run.json is not a file"
    try:
        record = parse_json(path.read_text("utf-8"))
    except OSError as error:
        return f"run.json cannot be read ({error.strerror})"
    except (ValueError, RecursionError):
        return "run.json is incomplete or damaged"
    try:
        counts = [record[group][name] for group, names in COUNTS.items() for name in names]
        counts += [record["account"].get("cores", 0), record.get("orders", {}).get("bags_needed") or 0]
        is_of_folder = isinstance(record["programme"], str) and record["as_of"] == path.parent.name
    except (KeyError, TypeError, AttributeError):
        return "run.json lacks entries that an audit writes"
    if not is_of_folder or not all(isinstance(count, int | float) and abs(count) < _MOST for count in counts):
        return "run.json has another date than its folder, or a count that is not a number"
    return dict(record)
