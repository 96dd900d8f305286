"""The whole audit on one page: the eight stages in order, each held to its contract."""

import datetime as dt
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

import pandas as pd

from pipeline.audit import BoundRule, audit, bind_rules, limits_of, with_figures
from pipeline.audit.rules.dates import OpenLimits
from pipeline.audit.rules.sizes import DepthLimits, DiameterLimits, PavementLimits
from pipeline.calibrate import Calibration, Rounding, calibrate, calibrated_range_l, grout_used_l, records_of_use
from pipeline.clock import Clock, Progress
from pipeline.contracts import LOCATED_COLUMNS, QUANTIFIED_COLUMNS, REGISTER_COLUMNS, SPECIFIED_COLUMNS, check_frame
from pipeline.errors import SettingsError
from pipeline.intake import Inputs, read_inputs
from pipeline.locate import Works, locate
from pipeline.order import order
from pipeline.programme.catalogue import Catalogue, load_catalogue
from pipeline.programme.handed_columns import refuse_unknown_columns
from pipeline.programme.settings import Settings, load_programme
from pipeline.publish import publish
from pipeline.publish.folder import folder_name
from pipeline.publish.report.pdf import Paper, require_pdf
from pipeline.publish.sentences import with_sentences
from pipeline.publish.tables import core_table
from pipeline.publish.words import load_words, words_of
from pipeline.quantify import believable_sizes, quantify
from pipeline.readback.kept_runs import read_earlier
from pipeline.results import RunResult
from pipeline.specify import specify

__all__ = ["STAGES", "Prepared", "prepare", "read_programme", "rules_of", "run_programme"]

STAGES: Final = ("intake", "locate", "specify", "calibrate", "quantify", "audit", "order", "publish")


def run_programme(
    path: Path | str,
    out: Path | str | None = "outputs",
    as_of: dt.date | None = None,
    progress: Progress | None = None,
    pdf: Paper | None = None,
) -> RunResult:
    """Audit one programme.

    Parameters
    ----------
    path
        The programme file.
    out
        Folder that takes ``<programme>/<as_of>/``; None writes nothing. Runs of earlier days kept there are inputs too:
        the report shows what changed since.
    as_of
        Day of the audit, in place of the programme's own.
    progress
        Receives progress updates.
    pdf
        Paper of the report as a PDF, "A4" or "Letter"; None makes none. Needs the extra ``pdf``.

    Raises
    ------
    SettingsError
        The programme file or a command-line setting is wrong.
    InputError
        An input cannot be used.
    OutputError
        The outputs cannot be written.
    """
    if pdf:
        require_pdf()
    clock = Clock(progress, STAGES)
    ready = prepare(Path(path), clock, as_of)
    settings, catalogue, inputs, cores = ready.settings, ready.catalogue, ready.inputs, ready.cores
    with clock.stage("quantify"):
        # a row written twice is one core: its copy needs nothing, and nor does a core that cannot be put back
        needing = ready.sizes["hole_mm"].mask(cores["is_copy"] | ready.sizes["is_thin"])
        needs = quantify(ready.specified, needing, ready.sizes["depth_believed_mm"], catalogue)
        check_frame(needs, QUANTIFIED_COLUMNS, cores.index, "quantify")
    with clock.stage("audit"):
        ranges = calibrated_range_l(
            ready.calibration, ready.specified, ready.sizes["hole_mm"], ready.sizes["depth_believed_mm"], catalogue
        )
        facts = pd.concat([cores, ready.located, ready.specified, needs, ready.sizes, ranges], axis="columns").assign(
            grout_used_l=ready.grout_used_l,
            grout_judged_by="by this programme's own records" if ready.calibration.enough else "by the stated ranges",
            # an unreadable reinstatement date may still mean that the core was reinstated: it does not count as open
            is_open=cores["reinstated_at"].isna() & cores["reinstated_at_problem"].isna(),
        )
        facts = with_figures(facts, catalogue, inputs.register.present)
        audited = audit(facts, ready.rules, ready.day, settings.matching.max_distance_m, settings.programme.holidays)
        facts = facts.assign(status=audited.status, findings=audited.slugs)
    with clock.stage("order"):
        allowed = limits_of(ready.rules, "open-too-long", OpenLimits, facts).max_open_days
        orders = order(facts.assign(allowed_days=allowed), catalogue, settings.orders, ready.day, inputs.stock,
                       settings.cores.diameter_is)  # fmt: skip
    table = core_table(facts, inputs.register.as_read)
    result = RunResult(
        settings, catalogue, inputs, ready.day, facts, table, audited, orders, clock.costs, ready.calibration
    )
    result = with_sentences(result, words_of("en"))
    if out is None:
        return result
    with clock.stage("publish"):
        name = settings.programme.name
        earlier = read_earlier(Path(out) / folder_name(name), name, ready.day)
        noted = replace(inputs, notices=[*inputs.notices, *earlier.notices])
        result = replace(result, earlier=earlier, inputs=noted)
        folder = publish(result, Path(path), Path(out), clock.detail, pdf)
    return replace(result, folder=folder)


@dataclass(frozen=True)
class Prepared:
    """The results of the first four stages, which the audit and ``kerfbook calibrate`` share.

    ``cores``, ``located``, ``specified``, ``sizes``: N rows each, as ``contracts`` describes them. ``grout_used_l``:
    N numbers, litres of wet grout as recorded.
    """

    settings: Settings
    catalogue: Catalogue
    rules: list[BoundRule]
    inputs: Inputs
    day: dt.date
    cores: pd.DataFrame
    located: pd.DataFrame
    specified: pd.DataFrame
    sizes: pd.DataFrame
    grout_used_l: pd.Series
    calibration: Calibration


def prepare(path: Path, clock: Clock, as_of: dt.date | None = None, rounded: Rounding = "up") -> Prepared:
    """Run the stages up to the calibration.

    Parameters
    ----------
    path
        The programme file.
    clock
        With the stages ``intake``, ``locate``, ``specify`` and ``calibrate``.
    as_of
        Day of the audit, in place of the programme's own.
    rounded
        How crews round bags, as ``pipeline.calibrate.calibrate`` has it.

    Raises
    ------
    SettingsError
        The programme file or a command-line setting is wrong.
    InputError
        An input cannot be used.
    """
    with clock.stage("intake"):
        settings, catalogue, rules, inputs = read_programme(path, clock.progress)
        day = as_of or settings.programme.as_of or dt.datetime.now(ZoneInfo(settings.programme.timezone)).date()
        cores = inputs.cores
        check_frame(cores, REGISTER_COLUMNS, cores.index, "intake")
    with clock.stage("locate"):
        works = Works(inputs.joints, inputs.resurfaced, inputs.planned_works)
        located = locate(cores, inputs.segments, inputs.surfaces, inputs.districts, settings.matching, catalogue, works)
        check_frame(located, LOCATED_COLUMNS, cores.index, "locate")
    with clock.stage("specify"):
        specified = specify(located, catalogue)
        check_frame(specified, SPECIFIED_COLUMNS, cores.index, "specify")
    with clock.stage("calibrate"):
        diameter = limits_of(rules, "diameter-implausible", DiameterLimits, located)
        depth = limits_of(rules, "depth-implausible", DepthLimits, located)
        sizes = believable_sizes(
            cores,
            (diameter.min_diameter_mm, diameter.max_diameter_mm),
            (depth.min_depth_mm, depth.max_depth_mm),
            limits_of(rules, "pavement-thin", PavementLimits, located).min_thickness_mm,
            settings.cores.diameter_is,
            catalogue.materials.geometry.kerf.value,
        )
        used = grout_used_l(cores["bags_used"], cores["water_l"], catalogue.materials.grout)
        records = records_of_use(cores, specified, sizes, used)
        calibration = calibrate(records, catalogue, settings.cores.diameter_is, rounded)
    return Prepared(settings, catalogue, rules, inputs, day, cores, located, specified, sizes, used, calibration)


def read_programme(path: Path, progress: Progress | None = None) -> tuple[Settings, Catalogue, list[BoundRule], Inputs]:
    """Read and validate a programme, its inputs and its language, and nothing more.

    Raises
    ------
    SettingsError
        The programme file is wrong.
    InputError
        An input cannot be used.
    """
    settings = load_programme(path)
    catalogue, rules = rules_of(settings, path)
    # a language without words is reported before the long work, not after it
    load_words(settings.programme.language)
    try:
        inputs = read_inputs(settings, path.parent, catalogue, progress.detail if progress else lambda _: None)
    except SettingsError as error:
        raise SettingsError(f"{path}: {error}") from error
    refuse_unknown_columns(settings.handover.columns, inputs.register.as_read, str(path))
    return settings, catalogue, rules, inputs


def rules_of(settings: Settings, path: Path) -> tuple[Catalogue, list[BoundRule]]:
    """Return a programme's catalogue, and the rules with the limits in force for it."""
    catalogue = load_catalogue(settings.catalogue, str(path), settings.thresholds)
    return catalogue, bind_rules(catalogue, str(path))
