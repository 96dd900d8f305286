"""The whole audit on one page: the stages in order, each held to its contract."""

import datetime as dt
from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from pipeline.audit import Audit, BoundRule, audit, with_figures
from pipeline.calibrate import Calibration, calibrated_range_l
from pipeline.catalogue import Catalogue
from pipeline.contracts import QUANTIFIED_COLUMNS, check_frame
from pipeline.cost import StageCost
from pipeline.intake import Inputs
from pipeline.intake.kept_runs import NO_EARLIER, Earlier, read_earlier
from pipeline.order import Orders, order
from pipeline.publish import publish
from pipeline.publish.folder import folder_name
from pipeline.publish.pdf import Paper, require_pdf
from pipeline.publish.tables import core_table
from pipeline.publish.words import load_words
from pipeline.quantify import quantify
from pipeline.settings import Settings
from pipeline.stages import Clock, Progress, prepare, read_rules
from pipeline.stages import read_programme as read_inputs_of

__all__ = ["Progress", "RunResult", "StageCost", "read_programme", "read_rules", "run_programme"]

_STAGES = ("intake", "locate", "specify", "calibrate", "quantify", "audit", "order", "publish")


@dataclass(frozen=True)
class RunResult:
    """Everything a run found.

    ``cores``: N rows with all the contract's columns, ``status`` and ``findings``. ``table``: the same as
    ``cores.csv`` shows them. ``folder``: where the outputs lie, None if none were written. ``earlier``: the runs
    of earlier days that were kept there.
    """

    settings: Settings
    catalogue: Catalogue
    inputs: Inputs
    as_of: dt.date
    cores: pd.DataFrame
    table: pd.DataFrame
    audit: Audit
    orders: Orders
    costs: list[StageCost]
    calibration: Calibration
    folder: Path | None = None
    earlier: Earlier = NO_EARLIER

    @property
    def account(self) -> dict[str, int]:
        """The balance of rows: what was read is flagged, reinstated or pending, and placed or not."""
        status = self.cores["status"].value_counts()
        unplaced = int(self.cores["x_m"].isna().sum())
        in_file = self.inputs.register.rows_in_file
        return {
            "rows_in_file": in_file,
            "left_out_by_where": in_file - len(self.cores),
            "rows_read": len(self.cores),
            **{name: int(status.get(name, 0)) for name in ("flagged", "reinstated", "pending")},
            "placed": len(self.cores) - unplaced,
            "unplaced": unplaced,
        }


def read_programme(path: Path, progress: Progress | None = None) -> tuple[Settings, Catalogue, list[BoundRule], Inputs]:
    """Read and validate a programme, its inputs and its language, and nothing more.

    Raises
    ------
    SettingsError, InputError
        As their names say.
    """
    settings, catalogue, rules, inputs = read_inputs_of(path, progress)
    load_words(settings.programme.language)
    return settings, catalogue, rules, inputs


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
        the report tells what changed since.
    as_of
        Day of the audit, in place of the programme's own.
    progress
        Told of each stage.
    pdf
        Paper of the report as a PDF, "A4" or "Letter"; None makes none. Needs the extra ``pdf``.

    Raises
    ------
    SettingsError, InputError, OutputError
        As their names say; each text says what to do.
    """
    if pdf:
        require_pdf()
    clock = Clock(progress, _STAGES)
    ready = prepare(Path(path), clock, as_of)
    settings, catalogue, inputs, cores = ready.settings, ready.catalogue, ready.inputs, ready.cores
    # a language without words is told before the long work, not after it
    load_words(settings.programme.language)
    with clock.stage("quantify"):
        # a row written twice is one core: its copy needs nothing, and nothing does a core that cannot go back
        needing = ready.hole_mm.mask(cores["is_copy"] | ready.is_thin)
        needs = quantify(ready.specified, needing, ready.depth_mm, catalogue)
        check_frame(needs, QUANTIFIED_COLUMNS, cores.index, "quantify")
    with clock.stage("audit"):
        ranges = calibrated_range_l(ready.calibration, ready.specified, ready.hole_mm, ready.depth_mm, catalogue)
        whole = pd.concat([cores, ready.located, ready.specified, needs, ranges], axis="columns").assign(
            hole_mm=ready.hole_mm,
            depth_believed_mm=ready.depth_mm,
            is_thin=ready.is_thin,
            grout_used_l=ready.grout_used_l,
            grout_judged_by="by this programme's own records" if ready.calibration.enough else "by the stated ranges",
            # a date that cannot be read may say that the core is back: it is not taken for open
            is_open=cores["reinstated_at"].isna() & cores["reinstated_at_problem"].isna(),
        )
        whole = with_figures(whole, catalogue, inputs.register.present)
        audited = audit(whole, ready.rules, ready.day, settings.matching.max_distance_m, settings.programme.holidays)
        whole = whole.assign(status=audited.status, findings=audited.slugs)
    with clock.stage("order"):
        allowed = next(bound for bound in ready.rules if bound.rule.slug == "open-too-long").limits(whole)["limit"]
        orders = order(whole.assign(allowed_days=allowed), catalogue, settings.orders, ready.day, inputs.stock,
                       settings.cores.diameter_is)  # fmt: skip
    table = core_table(whole, inputs.register.as_read)
    result = RunResult(
        settings, catalogue, inputs, ready.day, whole, table, audited, orders, clock.costs, ready.calibration
    )
    if out is None:
        return result
    with clock.stage("publish"):
        name = settings.programme.name
        earlier = read_earlier(Path(out) / folder_name(name), name, ready.day)
        told = replace(inputs, notices=[*inputs.notices, *earlier.notices])
        result = replace(result, earlier=earlier, inputs=told)
        folder = publish(result, Path(path), Path(out), clock.detail, pdf)
    return replace(result, folder=folder)
