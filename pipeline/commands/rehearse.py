"""The rehearsal on one page: faults planted into copies of the registers in memory, each audited by the stages."""

import datetime as dt
from pathlib import Path
from typing import Any, Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.audit import limits_of, outcomes_of, with_figures
from pipeline.audit.rules.confidence import StreetNameLimits
from pipeline.clock import Clock, Progress
from pipeline.errors import InputError, SettingsError
from pipeline.intake.reread import RawRegisters, read_raw_registers
from pipeline.locate.reach import whole_reach_m
from pipeline.publish.rehearsal.files import publish_rehearsal, refuse_folder
from pipeline.rehearse.advice import lacking_accuracy, narrower_limits, rank_remedies, with_place_before
from pipeline.rehearse.draw import draw_batches, plantable
from pipeline.rehearse.kinds import KINDS
from pipeline.rehearse.planting import Planted, plant
from pipeline.rehearse.result import Rehearsal, by_kind
from pipeline.rehearse.score import Audited, judge, refused, tally_sizes
from pipeline.rehearse.sheet import Sheet, sheet_of
from pipeline.run import Prepared, Programme, needs_of, prepare, read_programme

__all__ = ["FAULTS", "STAGES", "rehearse_programme"]

STAGES: Final = ("intake", "locate", "specify", "calibrate", "rehearse", "publish")
FAULTS: Final = 2000


class _Scene(NamedTuple):
    """What each audit of a rehearsal shares.

    The programme as it is, its registers as they were read, what the rules say of them and read of them, and the facts
    of no core.
    """

    path: Path
    ready: Prepared
    raw: RawRegisters
    sheet: Sheet
    before: Audited
    facts: pd.DataFrame
    no_facts: pd.DataFrame


def rehearse_programme(
    path: Path | str,
    out: Path | str | None = None,
    as_of: dt.date | None = None,
    faults: int = FAULTS,
    seed: int = 1,
    progress: Progress | None = None,
) -> tuple[Rehearsal, Path | None]:
    """Plant faults into copies of a programme's registers, and audit them.

    Nothing of the programme is written: neither its inputs nor its runs are touched.

    Parameters
    ----------
    path
        The programme file.
    out
        Folder of its own for the report; None writes nothing.
    as_of
        Day of the audit, in place of the programme's own.
    faults
        How many faults to plant, at least one.
    seed
        The same seed plants the same faults.
    progress
        Receives progress updates.

    Returns
    -------
    tuple
        The rehearsal, and the folder it was written to.

    Raises
    ------
    SettingsError
        The programme file is wrong, or nothing can be planted.
    InputError
        An input cannot be used.
    OutputError
        ``out`` cannot be written.
    """
    clock, path = Clock(progress, STAGES), Path(path)
    if out is not None:
        # before the long work, not after it
        refuse_folder(Path(out))
    ready, raw = _prepared(path, clock, as_of)
    with clock.stage("rehearse"):
        found = _rehearse(path, ready, raw, clock, faults, seed)
    if out is None:
        return found, None
    with clock.stage("publish"):
        folder = publish_rehearsal(found, Path(out))
    return found, folder


def _prepared(path: Path, clock: Clock, as_of: dt.date | None) -> tuple[Prepared, RawRegisters]:
    """Return the cores as they are, prepared for the audit, and the registers that they are from."""
    kept: list[RawRegisters] = []

    def read(*given: Any) -> Programme:  # noqa: ANN401 - what `prepare` gives
        settings, catalogue, rules, inputs = read_programme(*given)
        raw = read_raw_registers(settings, path.parent, catalogue, clock.detail)
        kept.append(raw)
        # a table of a database may have changed between the two readings: the second one counts
        return settings, catalogue, rules, raw.typed(raw.tables, inputs)

    ready = prepare(path, clock, as_of, read=read)
    return ready, kept[0]


def _rehearse(path: Path, ready: Prepared, raw: RawRegisters, clock: Clock, faults: int, seed: int) -> Rehearsal:
    rng = np.random.default_rng(seed)
    sheet = sheet_of(ready.inputs, raw.tables)
    before, facts = _judged(ready)
    places = plantable(KINDS, sheet, ready.cores, before.outcomes, rng)
    batches = draw_batches(KINDS, places, faults, len(sheet.cells), rng)
    if not batches:
        raise SettingsError(
            f"{path}: no fault can be planted in its {len(sheet.cells):,} rows: each has a finding of every rule that "
            "would know it. Rehearse with a register that has sound rows."
        )
    # the facts of no core: there is something to put together where everything was found
    nobody = with_place_before(facts.head(0).assign(kind=pd.Series([], dtype="str")), facts.head(0))
    scene = _Scene(path, ready, raw, sheet, before, facts, nobody)
    sizes = facts[["diameter_mm", "depth_mm"]]
    judged, missed = [], [scene.no_facts]
    for number, batch in enumerate(batches, start=1):
        clock.detail("audits with planted faults", number - 1, len(batches), "audits")
        for found, unseen in _audit_batch(scene, plant(sheet, batch, KINDS, rng)):
            judged.append(found.assign(audit=number))
            missed.append(unseen)
    every = pd.concat(judged, ignore_index=True)
    filled = {name for name in sheet.cells if sheet.cells[name].notna().any()}
    lacks = {kind.name: [name for name in kind.spoils if name not in filled] for kind in KINDS}
    unfound = pd.concat(missed, ignore_index=True)
    limits = limits_of(ready.rules, "street-differs", StreetNameLimits, unfound)
    errors = ready.reasons.errors
    return Rehearsal(
        settings=ready.settings,
        as_of=ready.day,
        seed=seed,
        rows=len(sheet.cells),
        audits=len(batches),
        faults=every,
        kinds=by_kind(every, KINDS, lacks),
        sizes=tally_sizes(every, KINDS),
        remedies=rank_remedies(unfound, KINDS, ready.rules, ready.inputs.register.kept, limits),
        narrower=narrower_limits(unfound, KINDS, sizes, before.outcomes),
        accuracy_m=float(errors["accuracy_used_m"].median()),
        accuracy_from=str(errors["accuracy_from"].mode().get(0, "default")),
        inaccurate=lacking_accuracy(unfound, KINDS, limits),
    )


def _audit_batch(scene: _Scene, planted: Planted) -> list[tuple[pd.DataFrame, pd.DataFrame]]:
    """Return how each fault came out, and the facts of those not found; in halves where the register is refused."""
    if not len(planted.rows):
        return []
    tables = scene.sheet.written(scene.raw.tables, planted.rows, planted.after)
    ready = scene.ready
    try:
        inputs = scene.raw.typed(tables, ready.inputs)
    except InputError as error:
        if len(planted.rows) == 1:
            return [(refused(planted, KINDS, scene.before, str(error)), scene.no_facts)]
        half = len(planted.rows) // 2
        return [
            one for part in (slice(None, half), slice(half, None)) for one in _audit_batch(scene, planted.part(part))
        ]
    spoiled = prepare(
        scene.path,
        Clock(None, STAGES),
        ready.day,
        read=lambda *_: (ready.settings, ready.catalogue, ready.rules, inputs),
    )
    after, facts = _judged(spoiled)
    found = judge(planted, KINDS, scene.before, after)
    unfound = found["outcome"].ne("found").to_numpy()
    lacking = facts.iloc[planted.rows[unfound]].assign(kind=found["kind"].to_numpy()[unfound])
    return [(found, with_place_before(lacking, scene.facts.iloc[planted.rows[unfound]]))]


def _judged(ready: Prepared) -> tuple[Audited, pd.DataFrame]:
    """Return what the rules say of prepared cores, and everything that they read of them."""
    frames = [ready.cores, ready.located, ready.specified, ready.calibrated, needs_of(ready)]
    facts = with_figures(pd.concat(frames, axis="columns"), ready.catalogue, ready.inputs.register.kept)
    looked_m = whole_reach_m(ready.reasons.errors["reach_m"], ready.settings.matching.max_distance_m)
    outcomes = outcomes_of(facts, ready.rules, ready.day, looked_m, ready.settings.programme.calendar)
    return Audited(ready.cores, outcomes), facts
