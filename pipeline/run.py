"""The whole audit on one page: the nine stages in order, each held to its contract."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

import pandas as pd

from pipeline.audit import BoundRule, audit, bind_rules, limits_of, with_figures
from pipeline.audit.rules.sizes import DepthLimits, DiameterLimits, PavementLimits
from pipeline.calibrate import (
    Calibration,
    Rounded,
    calibrate,
    grout_used_l,
    grout_used_range_l,
    judged_grout,
    records_of_use,
)
from pipeline.clock import Clock, Progress, silent, take_memory_from_system
from pipeline.contracts import (
    AUDIT_FRAME,
    AUDIT_TABLES,
    AUDITED_COLUMNS,
    CALIBRATED_COLUMNS,
    CORE_TABLE,
    FINDING_TABLE,
    GONE_TABLE,
    INTAKE_COLUMNS,
    INTAKE_TABLES,
    LOCATED_COLUMNS,
    QUANTIFIED_COLUMNS,
    SPECIFIED_COLUMNS,
    Column,
    as_published,
    check_frame,
    check_tables,
    register_texts,
    shade_chances,
)
from pipeline.decide import decide
from pipeline.engines import HERE, Engine
from pipeline.errors import SettingsError
from pipeline.intake import Inputs, read_inputs
from pipeline.intake.decisions import read_decisions
from pipeline.ledger import follow, refuse_unknown_rules
from pipeline.locate import Reasons, Works, locate
from pipeline.locate.reach import whole_reach_m
from pipeline.order import Spending, refuse_unusable_budget
from pipeline.planned import Ground, order_supplies, plan_work
from pipeline.programme.catalogue import Catalogue, load_catalogue
from pipeline.programme.handed_columns import refuse_unknown_columns
from pipeline.programme.settings import Settings, load_programme
from pipeline.publish import publish, refuse_impossible_outputs, run_folder
from pipeline.publish.folder import folder_name
from pipeline.publish.held import held
from pipeline.publish.learnt_errors import position_notices
from pipeline.publish.report.pdf import Paper
from pipeline.publish.sentences import with_sentences
from pipeline.publish.tables import core_table
from pipeline.publish.words import load_words, words_of
from pipeline.quantify import believable_sizes, core_kg, quantify
from pipeline.readback.kept_runs import NO_EARLIER, read_earlier
from pipeline.results import RunResult
from pipeline.specify import specify
from pipeline.works import list_works, works_notices

__all__ = ["STAGES", "Prepared", "Programme", "day_of", "needs_of", "prepare", "read_programme", "rules_of",
           "run_programme"]  # fmt: skip

Programme = tuple[Settings, Catalogue, list[BoundRule], Inputs]
STAGES: Final = ("intake", "locate", "specify", "calibrate", "quantify", "audit", "plan", "order", "publish")


def run_programme(
    path: Path | str,
    out: Path | str | None = "outputs",
    as_of: dt.date | None = None,
    progress: Progress | None = None,
    pdf: Paper | None = None,
    engine: Engine = HERE,
) -> RunResult:
    """Audit one programme.

    Parameters
    ----------
    path
        The programme file.
    out
        Folder that takes ``<programme>/<as_of>/``; None writes nothing. Runs of earlier days kept there are inputs too:
        findings are followed from the latest of them, and the report shows what changed since.
    as_of
        Day of the audit, in place of the programme's own.
    progress
        Receives progress updates.
    pdf
        Paper of the report as a PDF, "A4" or "Letter"; None makes none. Needs the extra ``pdf``.
    engine
        Does the work that can be done in pieces; the answers do not depend on it.

    Raises
    ------
    SettingsError, InputError, OutputError
        The programme file or a command-line setting is wrong; an input cannot be used; the outputs cannot be written.
    """
    path, out = Path(path), None if out is None else Path(out)
    settings = refuse_impossible_outputs(path, pdf, writes=out is not None)
    # one day throughout, also of a run that goes on past midnight
    day = day_of(settings, as_of)
    take_memory_from_system()
    clock = Clock(progress, STAGES)
    if out is None:
        return _audit_and_order(prepare(path, clock, day, engine=engine), clock, None, engine)
    with held(run_folder(out, settings.programme.name, day)):
        result = _audit_and_order(prepare(path, clock, day, engine=engine), clock, out, engine)
        with clock.stage("publish"):
            return replace(result, folder=publish(result, path, out, clock.detail, pdf))


@dataclass(frozen=True)
class Prepared:
    """The results of the first four stages, which the audit and ``kerfbook calibrate`` share.

    ``cores``, ``located``, ``specified``, ``calibrated``: N rows each, as ``pipeline.contracts`` describes them.
    ``reasons``: why each core was placed where it is.
    """

    settings: Settings
    catalogue: Catalogue
    rules: list[BoundRule]
    inputs: Inputs
    day: dt.date
    cores: pd.DataFrame
    located: pd.DataFrame
    reasons: Reasons
    specified: pd.DataFrame
    calibrated: pd.DataFrame
    calibration: Calibration


def prepare(
    path: Path, clock: Clock, as_of: dt.date | None = None, rounded: Rounded | None = None, engine: Engine = HERE,
    read: Callable[..., Programme] | None = None,
) -> Prepared:  # fmt: skip
    """Run the stages up to the calibration.

    Parameters
    ----------
    path
        The programme file.
    clock
        With the stages ``intake``, ``locate``, ``specify`` and ``calibrate``.
    as_of
        Day of the audit, in place of the programme's own.
    rounded, engine, read
        How all crews round bags, as for ``pipeline.calibrate.calibrate``; as for :func:`run_programme`, which names
        the errors too; what gives the inputs in place of :func:`read_programme`.
    """
    with clock.stage("intake"):
        settings, catalogue, rules, inputs = (read or read_programme)(path, clock.progress, as_of)
        day = day_of(settings, as_of)
        inputs, cores = inputs.for_audit, inputs.cores
        check_frame(cores, INTAKE_COLUMNS, inputs.register.as_read.index, "intake")
        check_tables({name: getattr(inputs, name) for name in INTAKE_TABLES}, INTAKE_TABLES, "intake")
    with clock.stage("locate"):
        located, reasons = locate(
            cores, inputs.segments, inputs.surfaces, inputs.districts, settings.matching, catalogue, _works(inputs),
            clock.detail, engine,
        )  # fmt: skip
        check_frame(located, (*LOCATED_COLUMNS, *_chances(catalogue)), cores.index, "locate")
    with clock.stage("specify"):
        specified = specify(located, catalogue)
        check_frame(specified, SPECIFIED_COLUMNS, cores.index, "specify")
    with clock.stage("calibrate"):
        diameter_is, grout = settings.diameter_is, catalogue.materials.grout
        diameter = limits_of(rules, "diameter-implausible", DiameterLimits, located)
        depth = limits_of(rules, "depth-implausible", DepthLimits, located)
        sizes = believable_sizes(
            cores,
            (diameter.min_diameter_mm, diameter.max_diameter_mm),
            (depth.min_depth_mm, depth.max_depth_mm),
            limits_of(rules, "pavement-thin", PavementLimits, located).min_thickness_mm,
            diameter_is,
            catalogue.materials.geometry.kerf.value,
        )
        used = grout_used_l(cores["bags_used"], cores["water_l"], grout)
        calibration = calibrate(records_of_use(cores, specified, sizes, used), catalogue, diameter_is, rounded)
        calibrated = judged_grout(calibration, specified, sizes, used, catalogue).join(grout_used_range_l(cores, grout))
        check_frame(calibrated, CALIBRATED_COLUMNS, cores.index, "calibrate")
    return Prepared(
        settings, catalogue, rules, inputs, day, cores, located, reasons, specified, calibrated, calibration
    )


def needs_of(ready: Prepared) -> pd.DataFrame:
    """Return what N prepared cores need, as the contract of ``quantify`` describes it."""
    # a core in several rows is one core: its copies need nothing, and nor does a core that cannot be reinstated
    needless = ready.cores["is_copy"] | ready.calibrated["is_thin"]
    hole_mm, depth_mm = ready.calibrated["hole_mm"], ready.calibrated["depth_believed_mm"]
    needs = quantify(ready.specified, hole_mm.mask(needless), depth_mm, ready.catalogue)
    needs["core_kg"] = core_kg(hole_mm, depth_mm, ready.located["surface"], ready.catalogue)
    check_frame(needs, QUANTIFIED_COLUMNS, ready.cores.index, "quantify")
    return needs


def _audit_and_order(ready: Prepared, clock: Clock, out: Path | None, engine: Engine) -> RunResult:
    """Run the stages from the quantities to the orders; findings are followed from the runs kept in ``out``."""
    settings, catalogue, inputs, index = ready.settings, ready.catalogue, ready.inputs, ready.cores.index
    learning, is_only = ready.reasons.learning, len(settings.cores) == 1
    questioned = position_notices(learning, settings.matching.accuracy_m, words_of("en"), is_only=is_only)
    # the terminal prints the first notices alone, and these put every position in question
    inputs = replace(inputs, notices=[*questioned, *inputs.notices])
    with clock.stage("quantify"):
        needs = needs_of(ready)
    with clock.stage("audit"):
        rules, calibration, reasons, day = ready.rules, ready.calibration, ready.reasons, ready.day
        facts = pd.concat([ready.cores, ready.located, ready.specified, ready.calibrated, needs], axis="columns")
        # from here on everything is in the one frame
        del ready, needs
        facts = with_figures(facts, catalogue, inputs.register.kept)
        looked_m = whole_reach_m(reasons.errors["reach_m"], settings.matching.max_distance_m)
        audited = audit(facts, rules, day, looked_m, settings.programme.calendar, inputs.register.kept, clock.detail)
        facts = facts.assign(status=audited.status, findings=audited.slugs, urgency=audited.urgency)
        everything = {column.name: column for column in (*AUDIT_FRAME.values(), *AUDITED_COLUMNS, *_chances(catalogue))}
        check_frame(facts, [*everything.values()], index, "audit")
        check_tables({name: getattr(audited, name) for name in AUDIT_TABLES}, AUDIT_TABLES, "audit")
        name = settings.programme.name
        kept = NO_EARLIER if out is None else read_earlier(out / folder_name(name), name, day)
        found, gone = follow(audited, facts, rules, settings.owners, day, *kept.found)
        check_frame(gone, GONE_TABLE, None, "audit: gone")
        urgencies = {bound.rule.slug: bound.urgency for bound in rules}
        decided = decide(found, facts, inputs.entries.frame, inputs.register.corrections, urgencies)
        inputs = replace(inputs, notices=[*inputs.notices, *decided.notices, *kept.notices])
        audited = replace(audited, findings=pd.concat([found, decided.columns], axis="columns"))
        reach_m = settings.matching.works_reach_m
        works = list_works(facts, inputs.segments, _works(inputs), reach_m, rules, day)
        inputs = replace(inputs, notices=[*inputs.notices, *works_notices(_works(inputs), day)])
    with clock.stage("plan"):
        ground = Ground(inputs.segments, inputs.crs, inputs.temperatures, inputs.promised, day)
        planned, notices = plan_work(facts, settings, catalogue, rules, ground, clock.detail, engine)
        inputs = replace(inputs, notices=[*inputs.notices, *notices])
    with clock.stage("order"):
        orders = order_supplies(facts, planned.stops, settings, catalogue, day, inputs.stock, calibration.kerf_and_bed)
        inputs = replace(inputs, notices=[*inputs.notices, *orders.notices])
    table = core_table(facts, inputs.register.as_read)
    check_frame(table, (*as_published(CORE_TABLE), *register_texts(inputs.register.as_read)), index, "publish")
    result = RunResult(
        settings, catalogue, inputs, day, facts, table, audited, planned, orders, clock.costs,
        calibration, reasons, earlier=kept, gone=gone, decided=decided, works=works,
    )  # fmt: skip
    result = with_sentences(result, words_of("en"))
    check_frame(result.audit.findings, FINDING_TABLE, None, "publish: findings")
    return result


def _works(inputs: Inputs) -> Works:
    return Works(inputs.joints, inputs.resurfaced, inputs.planned_works, inputs.protected)


def _chances(catalogue: Catalogue) -> tuple[Column, ...]:
    return shade_chances(surface.shade for surface in catalogue.surfaces.values() if surface.shade)


def day_of(settings: Settings, as_of: dt.date | None) -> dt.date:
    """Return the day of the audit: the one given, else that of the programme, else today."""
    return as_of or settings.programme.as_of or dt.datetime.now(ZoneInfo(settings.programme.timezone)).date()


def read_programme(path: Path, progress: Progress | None = None, as_of: dt.date | None = None) -> Programme:
    """Read and validate a programme, its inputs and its language, and nothing more.

    ``as_of``: day of the audit, by which decisions are in force, in place of the programme's own. Raises
    SettingsError where the programme file is wrong, and InputError where an input cannot be used.
    """
    settings = load_programme(path)
    catalogue, rules = rules_of(settings, path)
    refuse_unknown_rules(settings.owners, rules, str(path))
    # a language without words is reported before the long work, not after it
    load_words(settings.programme.language)
    told = progress.detail if progress else silent
    try:
        day = day_of(settings, as_of)
        refuse_unusable_budget(settings.orders, Spending.of(settings), day)
        entries = read_decisions(settings.decisions, path.parent, day, day_first=settings.day_first)
        inputs = read_inputs(settings, path.parent, catalogue, told, entries)
    except SettingsError as error:
        raise SettingsError(f"{path}: {error}") from error
    refuse_unknown_columns(settings.handover.columns, inputs.register.as_read, str(path))
    return settings, catalogue, rules, inputs


def rules_of(settings: Settings, path: Path) -> tuple[Catalogue, list[BoundRule]]:
    """Return a programme's catalogue, and the rules with the limits in force for it."""
    catalogue = load_catalogue(settings.catalogue, str(path), settings.thresholds, settings.programme.name)
    return catalogue, bind_rules(catalogue, str(path))
