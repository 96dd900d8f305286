"""The inspection sample of a finished run on one page: drawn, and judged when it is filled in."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, get_args

import pandas as pd

from pipeline.contracts import NO_CREW, NO_DISTRICT, commonest_spelling, is_missing
from pipeline.errors import InputError, SettingsError
from pipeline.intake.cells.dates import read_dates
from pipeline.intake.files.checksums import fingerprint
from pipeline.intervals import CONFIDENCE
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.cautions import cautions_by_core
from pipeline.programme.sampling_schemes import Isolated, LotsBy, Of, SamplingTables, Series, load_sampling
from pipeline.publish.sample import RESULTS, SHEET, publish_results, publish_sample
from pipeline.readback.runs import Run, read_run, register_sections, register_text, reinstatement_text
from pipeline.readback.samples import DrawnRecord, read_drawn, read_filled
from pipeline.sampling.draws import Lot, draw, sampling_frame, seed_of, sheet
from pipeline.sampling.verdicts import Verdict, judge

__all__ = ["Judged", "Sample", "draw_sample", "judge_sample"]

_OF: Final = {
    "reinstated": "reinstated cores, flagged or not",
    "open": "open cores",
    "all": "all cores",
}


@dataclass(frozen=True)
class Sample:
    """A drawn sample. ``sheet``: one row per drawn core; ``record``: the contents of ``sample.json``."""

    sheet: pd.DataFrame
    lots: list[Lot]
    record: dict[str, Any]
    folder: Path


@dataclass(frozen=True)
class Judged:
    """A judged sample. ``record``: the contents of ``results.json``."""

    verdict: Verdict
    record: dict[str, Any]
    folder: Path


def draw_sample(
    run: Path,
    scheme: Series | Isolated,
    of: Of = "reinstated",
    seed: int | None = None,
    out: Path | None = None,
    by: LotsBy = "district",
) -> Sample:
    """Draw an inspection sample of a finished run, and write it.

    Parameters
    ----------
    run
        The run's folder.
    scheme
        It decides how many cores of each lot are drawn, and how many may fail.
    of
        Which cores: ``reinstated``, ``open`` or ``all``.
    seed
        Seed of the draw, 0 or more; None derives it from the checksum of the register.
    out
        Folder for the sheet and its record; None: ``sample-<as_of>`` beside the run's folder, with what makes a lot in
        its name unless that is the district.
    by
        What makes a lot: ``district``, ``register`` or ``crew``.

    Raises
    ------
    SettingsError
        A value of the scheme is out of its range, or ``out`` is in a run's folder.
    InputError
        The folder is not a finished run, or has no core to draw from.
    OutputError
        ``out`` cannot be written, or already has another sample or a filled-in one.
    """
    read, tables = read_run(run), load_sampling()
    folder = out or _beside(read, by)
    _refuse_a_run(folder)
    sample = _draw(read, scheme, of, by, seed, tables, folder)
    publish_sample(sample.sheet, sample.record, folder)
    return sample


def judge_sample(run: Path, results: Path, out: Path | None = None) -> Judged:
    """Judge an inspected sample, and write the results.

    The sample is drawn again from its record, so that results count only for the cores that were drawn.

    Parameters
    ----------
    run
        The run's folder.
    results
        The filled-in sheet. Its ``sample.json`` is beside it, in ``out``, or in the default folder for a sample of this
        run.
    out
        Folder for the results; None: beside the sheet.

    Raises
    ------
    SettingsError
        ``out`` is in a run's folder, or the results would replace the sheet.
    InputError
        The folder is not a finished run, the sheet or its record cannot be read, or they belong to another run.
    OutputError
        ``out`` cannot be written.
    """
    read, tables = read_run(run), load_sampling()
    folder = out or results.parent
    _refuse_a_run(folder)
    if (folder / RESULTS[0]).resolve() == results.resolve():
        raise SettingsError(
            f"{results}: the results would replace this sheet. Rename it, or choose another folder with --out."
        )
    filled = read_filled(results)
    record_file = _record_file([results.parent, folder, *(_beside(read, by) for by in get_args(LotsBy))])
    record = read_drawn(record_file)
    sample = _draw_again(read, record, record_file, tables)
    verdict = judge(sample.sheet, sample.lots, filled, tables.inspection)
    if verdict.account["not in the sample"] == len(filled):
        rows = "its only row is not" if len(filled) == 1 else f"none of its {len(filled)} rows is"
        raise InputError(
            f"{results}: {rows} in the sample drawn from {run}. "
            f"Fill in the {SHEET[0]} beside {record_file}, and keep its columns row and core_id."
        )
    cautions = [tables.inspection.results_caution, *sample.record["cautions"]]
    judged = _results_record(read, record, verdict, fingerprint(results), cautions)
    publish_results(verdict.rows, judged, folder)
    return Judged(verdict, judged, folder)


def _draw(
    run: Run, scheme: Series | Isolated, of: Of, by: LotsBy, seed: int | None, tables: SamplingTables, folder: Path
) -> Sample:
    entry = reinstatement_text(run)
    dated = read_dates(entry, "UTC", day_first=run.day_first).instants.notna()
    is_reinstated = run.cores["status"].eq("reinstated") | (run.cores["status"].eq("flagged") & dated)
    frame = sampling_frame(run.cores, is_reinstated, ~is_missing(entry), of, _lot_names(run, by))
    if frame.cores.empty:
        raise InputError(
            f"{run.folder}: there are no cores to draw from; expected {_OF[of]}. Choose other cores with --of."
        )
    start = seed_of(run.register_sha256) if seed is None else seed
    lots = draw(frame.cores, scheme, tables.plans, start)
    # without a matched street, the register's may help to find the core
    street = frame.cores["street"].fillna(register_text(run, "street") + " (from the register)")
    is_series = isinstance(scheme, Series)
    cautions = [*([tables.inspection.series_caution] if is_series else []), *tables.inspection.cautions]
    record = {
        **_identity(run),
        "seed": start,
        "seed_from": "from the register's checksum" if seed is None else "from --seed",
        "of": of,
        "of_in_words": _OF[of],
        "by": by,
        "plan": scheme.model_dump(),
        "plan_source": tables.plans.sources if is_series else ["exact, hypergeometric"],
        "lots": [_lot_record(lot) for lot in lots],
        "cores": len(frame.cores),
        "drawn": sum(lot.plan.n for lot in lots),
        "left_out": frame.left_out,
        "cautions": cautions,
    }
    return Sample(sheet(_with_cautions(frame.cores.assign(street=street), is_reinstated), lots), lots, record, folder)


def _with_cautions(cores: pd.DataFrame, is_reinstated: pd.Series) -> pd.DataFrame:
    """Return cores with the cautions for each; a run of an earlier version knows its cores' states by a date alone."""
    state = cores["state"].mask(cores["state"].isna() & is_reinstated.loc[cores.index], "back")
    texts = load_catalogue({}, "").core_cautions
    return cores.assign(state=state, cautions=cautions_by_core(texts, state, cores["surface"], cores["core_kg"]))


def _draw_again(run: Run, record: DrawnRecord, file: Path, tables: SamplingTables) -> Sample:
    """Draw a sample again, and compare it with its record."""
    recorded = {"programme": record.programme, "as_of": record.as_of, "register_sha256": record.register_sha256}
    for name, found in recorded.items():
        if found != _identity(run)[name]:
            raise InputError(
                f"{file}: drawn from another run: its {name} is {found!r}, but that of {run.folder} is "
                f"{_identity(run)[name]!r}. Give the run it was drawn from, or draw a sample from this run."
            )
    sample = _draw(run, record.plan, record.of, record.by, record.seed, tables, file.parent)
    drawn = [(lot.lot, lot.cores, lot.n, lot.accept, lot.rows) for lot in record.lots]
    if drawn != [(lot.name, lot.size, lot.plan.n, lot.plan.accept, lot.rows) for lot in sample.lots]:
        raise InputError(
            f"{file}: its rows are not those that its seed {record.seed} draws from {run.folder}: one of the two was "
            "changed since. Restore the original files, or draw again."
        )
    return sample


def _identity(run: Run) -> dict[str, str]:
    return {
        "programme": run.programme,
        "as_of": run.as_of.isoformat(),
        "register_sha256": run.register_sha256,
    }


def _lot_record(lot: Lot) -> dict[str, object]:
    return {
        "lot": lot.name,
        "cores": lot.size,
        "letter": lot.plan.letter or None,
        "n": lot.plan.n,
        "accept": lot.plan.accept,
        "reject": lot.plan.reject,
        "every_core": lot.plan.n == lot.size,
        "accepted_with_95_percent": _digits(lot.curve.usually_accepted),
        "accepted_with_10_percent": _digits(lot.curve.seldom_accepted),
        "rows": lot.rows,
    }


def _results_record(
    run: Run, record: DrawnRecord, verdict: Verdict, sha256: str, cautions: list[str]
) -> dict[str, object]:
    lots = verdict.lots.astype(object).where(verdict.lots.notna(), None)
    decisions = verdict.lots["decision"].value_counts().sort_index()
    return {
        **_identity(run),
        "seed": record.seed,
        "of": record.of,
        "by": record.by,
        "plan": record.plan.model_dump(),
        "results_sha256": sha256,
        "account": verdict.account,
        "decisions": {str(name): int(count) for name, count in decisions.items()},
        "confidence": CONFIDENCE,
        "lots": [{str(name): _digits(value) for name, value in lot.items()} for lot in lots.to_dict("records")],
        "cautions": cautions,
    }


def _digits(value: object) -> object:
    return round(value, 6) if isinstance(value, float) else value


def _lot_names(run: Run, by: LotsBy) -> pd.Series:
    """Return the name of each core's lot.

    Raises
    ------
    InputError
        No core of the run has a crew.
    """
    if by == "district":
        return run.cores["district"].fillna(NO_DISTRICT)
    if by == "register":
        names = [str(section.get("name") or "cores") for section in register_sections(run)]
        return run.cores["register"].fillna(names[0])
    crew = commonest_spelling(register_text(run, "crew"))
    if crew.isna().all():
        raise InputError(
            f"{run.folder}: its registers name no crew, so lots cannot be made by crew. "
            "Map cores.columns.crew in the programme file and run the audit again, or use --by district or register."
        )
    return crew.fillna(NO_CREW)


def _beside(run: Run, by: LotsBy) -> Path:
    folder = run.folder if run.folder.name not in {"", ".."} else run.folder.resolve()
    return folder.parent / f"sample-{run.as_of.isoformat()}{'' if by == 'district' else f'-by-{by}'}"


def _record_file(folders: Sequence[Path]) -> Path:
    """Return the first record that exists, or else where it was looked for first."""
    files = [folder / SHEET[1] for folder in folders]
    return next((file for file in files if file.is_file()), files[0])


def _refuse_a_run(out: Path) -> None:
    resolved = out.resolve()
    if any((folder / "run.json").is_file() for folder in (resolved, *resolved.parents)):
        raise SettingsError(
            f"{out}: is in a run's folder, which must stay unchanged. Choose another folder with --out."
        )
