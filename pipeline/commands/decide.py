"""The sheet of what awaits a decision in a finished run."""

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from pipeline.decide.awaiting import Awaiting, awaiting
from pipeline.errors import InputError, SettingsError
from pipeline.programme.names import did_you_mean, listed
from pipeline.publish.decision_sheet import publish_decision_sheet
from pipeline.readback.runs import Run, read_run

__all__ = ["DecisionSheet", "write_decision_sheet"]


@dataclass(frozen=True)
class DecisionSheet:
    """A sheet of what awaits a decision in a run, as it was written."""

    run: Run
    awaiting: Awaiting
    path: Path


def write_decision_sheet(
    run: Path, out: Path | None = None, urgencies: Collection[str] = (), owners: Collection[str] = ()
) -> DecisionSheet:
    """Write the findings of a finished run that await a decision.

    Parameters
    ----------
    run
        The run's folder.
    out
        The file, ``.csv`` or ``.xlsx``; None: ``decide-<as_of>.csv`` beside the run's folder.
    urgencies, owners
        Take only findings with these; none takes all.

    Raises
    ------
    SettingsError
        ``out`` is in a run's folder or has another ending, or nobody of that name owns a finding.
    InputError
        The folder is not a finished run, or its findings have no fingerprints.
    OutputError
        The file cannot be written, or is there already and differs.
    """
    read = read_run(run)
    findings = read.findings[read.findings["row"].isin(read.counted_cores["row"].astype("str"))]
    if len(findings) and findings["evidence_mark"].fillna("").eq("").all():
        raise InputError(
            f"{run}: its findings have no evidence marks, so an earlier version wrote it. Run the audit again."
        )
    known = sorted(findings["owner"].dropna().unique())
    for owner in owners:
        if owner not in known:
            raise SettingsError(
                f'--owner: found "{owner}", expected one of: {listed(known)}.{did_you_mean(owner, known)} Correct it.'
            )
    path = out or read.folder.resolve().parent / f"decide-{read.as_of.isoformat()}.csv"
    _refuse_a_run(path)
    found = awaiting(findings, read.cores, urgencies, owners)
    publish_decision_sheet(found.sheet, read.programme, read.as_of, path)
    return DecisionSheet(read, found, path)


def _refuse_a_run(path: Path) -> None:
    if any((folder / "run.json").is_file() for folder in path.resolve().parents):
        raise SettingsError(
            f"{path}: is in a run's folder, which must stay unchanged. Choose another folder with --out."
        )
