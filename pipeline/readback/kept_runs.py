"""The runs kept in a programme's folder: their records, and the latest of them before a day."""

import datetime as dt
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pipeline.errors import InputError
from pipeline.intake.files.layers import fingerprint
from pipeline.readback.runs import Run, read_run

__all__ = ["NO_EARLIER", "Earlier", "KeptRuns", "find_kept_runs", "read_earlier"]

_COUNTS: Final = {
    "account": ("rows_read", "flagged", "pending", "reinstated", "unplaced"),
    "findings_by_severity": ("fail", "check", "note"),
}


@dataclass(frozen=True)
class KeptRuns:
    """``folders`` and ``records`` go together, by day. ``notices``: what was left out, and why."""

    folders: tuple[Path, ...] = ()
    records: tuple[dict[str, Any], ...] = ()
    notices: tuple[str, ...] = ()


@dataclass(frozen=True)
class Earlier:
    """What a run has before it.

    ``run``: the latest earlier run, None if there is none that can be read. ``sha256``: of its ``cores.csv``.
    ``records``: of every earlier run, by day. ``notices``: what was left out, and why.
    """

    run: Run | None = None
    sha256: str = ""
    records: tuple[dict[str, Any], ...] = ()
    notices: tuple[str, ...] = ()


NO_EARLIER: Final = Earlier()


def find_kept_runs(folder: Path, programme: str, before: dt.date | None = None) -> KeptRuns:
    """Find a programme's runs by their records; nothing else of them is read.

    Parameters
    ----------
    folder
        The programme's folder, whose sub-folders are named by a date. It need not be there.
    programme
        Name of the programme: a run of another one is left out.
    before
        Only runs of an earlier day; None takes all.

    Returns
    -------
    KeptRuns
        A notice names a folder by its date alone, so that it reads the same wherever the outputs lie.
    """
    folders, records, notices = [], [], []
    for day, place in _dated(folder):
        if before is not None and day >= before:
            continue
        record = _record(place / "run.json")
        if isinstance(record, str):
            notices.append(f"The folder {place.name} beside this run is left out of the history: {record}.")
        elif record["programme"] != programme:
            notices.append(
                f"The run of {place.name} is left out of the history: it is of another programme, "
                f"{record['programme'][:80]!r}."
            )
        else:
            folders.append(place)
            records.append(record)
    return KeptRuns(tuple(folders), tuple(records), tuple(notices))


def read_earlier(folder: Path, programme: str, as_of: dt.date) -> Earlier:
    """Read the latest run kept of an earlier day, and the records of all of them.

    Parameters
    ----------
    folder
        The programme's folder; it need not be there.
    programme
        Name of the programme.
    as_of
        Day of the run that asks.

    Returns
    -------
    Earlier
        A run that cannot be read is left out with a notice, and the one before it taken.
    """
    kept = find_kept_runs(folder, programme, as_of)
    notices = list(kept.notices)
    records = list(kept.records)
    for place in reversed(kept.folders):
        try:
            return Earlier(read_run(place), fingerprint(place / "cores.csv"), tuple(records), tuple(notices))
        except (InputError, OSError) as error:
            # the place on this machine is no part of a report
            why = (
                str(error).replace(f"{place}/", "")
                if isinstance(error, InputError)
                else f"cores.csv: {error.strerror}."
            )
            notices.append(f"The run of {place.name} is left out of the history: {why}")
            records.pop()
    return Earlier(None, "", (), tuple(notices))


def _dated(folder: Path) -> Iterator[tuple[dt.date, Path]]:
    try:
        places = sorted(place for place in folder.iterdir() if place.is_dir())
    except OSError:
        return
    for place in places:
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", place.name, re.ASCII):
            try:
                day = dt.date.fromisoformat(place.name)
            except ValueError:
                continue
            yield day, place


def _record(path: Path) -> dict[str, Any] | str:
    """The record, or why it is none."""
    try:
        record = json.loads(path.read_text("utf-8"))
    except OSError as error:
        return f"run.json cannot be read ({error.strerror})"
    except (ValueError, RecursionError):
        return "run.json is cut short or spoiled"
    try:
        counts = [record[group][name] for group, names in _COUNTS.items() for name in names]
        told = isinstance(record["programme"], str) and record["as_of"] == path.parent.name
    except (KeyError, TypeError):
        return "run.json lacks what an audit writes into it"
    if not told or not all(isinstance(count, int) for count in counts):
        return "run.json is of another day than its folder, or a count in it is no number"
    return dict(record)
