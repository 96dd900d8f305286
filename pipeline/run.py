"""The whole audit on one page: the stages in order, each held to its contract."""

import datetime as dt
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Protocol
from zoneinfo import ZoneInfo

import pandas as pd

from pipeline.audit import Audit, BoundRule, audit, believable, bind_rules
from pipeline.calibrate import Calibration, Rounding, calibrate, grout_used_l, needs_before_and_after
from pipeline.catalogue import Catalogue, load_catalogue
from pipeline.contracts import (
    LOCATED_COLUMNS,
    QUANTIFIED_COLUMNS,
    REGISTER_COLUMNS,
    SPECIFIED_COLUMNS,
    check_frame,
)
from pipeline.cost import StageCost, peak_mb
from pipeline.errors import SettingsError
from pipeline.intake import Inputs, read_inputs
from pipeline.locate import locate
from pipeline.order import Orders, order
from pipeline.publish import publish
from pipeline.publish.calibration import catalogue_snippet, publish_calibration
from pipeline.publish.tables import core_table
from pipeline.quantify import hole_mm, quantify
from pipeline.settings import Settings, load_programme
from pipeline.specify import specify

__all__ = [
    "CalibrationResult",
    "Progress",
    "RunResult",
    "StageCost",
    "calibrate_programme",
    "read_programme",
    "run_programme",
]

STAGES = ("intake", "locate", "specify", "quantify", "audit", "order", "publish")
_CALIBRATION_STAGES = ("intake", "locate", "specify", "calibrate", "publish")


class Progress(Protocol):
    """What a run tells as it goes on."""

    def stage(self, name: str, place: int, count: int) -> None:
        """A stage begins, the ``place``-th of ``count``."""

    def detail(self, text: str) -> None:
        """What the stage is at."""


@dataclass(frozen=True)
class RunResult:
    """Everything a run found.

    ``cores``: N rows with all the contract's columns, ``status`` and ``findings``. ``table``: the same as
    ``cores.csv`` shows them. ``folder``: where the outputs lie, None if none were written.
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
    folder: Path | None = None

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


@dataclass(frozen=True)
class CalibrationResult:
    """What a programme's records of use say.

    ``needs``: bags by depth, by the stated and by the calibrated model. ``snippet``: the calibrated values as a
    programme file states them, empty where the records are not enough. ``folder``: where the files lie, None if none
    were written.
    """

    settings: Settings
    as_of: dt.date
    calibration: Calibration
    needs: pd.DataFrame
    snippet: str
    folder: Path | None = None


@dataclass
class _Clock:
    progress: Progress | None
    stages: tuple[str, ...] = STAGES
    costs: list[StageCost] = field(default_factory=list)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        if self.progress is not None:
            self.progress.stage(name, self.stages.index(name) + 1, len(self.stages))
        start = time.perf_counter()
        yield
        self.costs.append(StageCost(name, time.perf_counter() - start, peak_mb()))

    def detail(self, text: str) -> None:
        if self.progress is not None:
            self.progress.detail(text)


def read_programme(path: Path, progress: Progress | None = None) -> tuple[Settings, Catalogue, list[BoundRule], Inputs]:
    """Read and validate a programme and its inputs, and nothing more.

    Raises
    ------
    SettingsError, InputError
        As their names say.
    """
    settings = load_programme(path)
    catalogue = load_catalogue(settings.catalogue, str(path))
    rules = bind_rules(catalogue.rules, str(path))
    try:
        inputs = read_inputs(settings, path.parent, catalogue, progress.detail if progress else lambda _: None)
    except SettingsError as error:
        raise SettingsError(f"{path}: {error}") from error
    return settings, catalogue, rules, inputs


def run_programme(
    path: Path | str,
    out: Path | str | None = "outputs",
    as_of: dt.date | None = None,
    progress: Progress | None = None,
) -> RunResult:
    """Audit one programme.

    Parameters
    ----------
    path
        The programme file.
    out
        Folder that takes ``<programme>/<as_of>/``; None writes nothing.
    as_of
        Day of the audit, in place of the programme's own.
    progress
        Told of each stage.

    Raises
    ------
    SettingsError, InputError, OutputError
        As their names say; each text says what to do.
    """
    clock = _Clock(progress)
    with clock.stage("intake"):
        settings, catalogue, rules, inputs = read_programme(Path(path), progress)
        day = as_of or _day_of(settings)
        cores = inputs.cores
        check_frame(cores, REGISTER_COLUMNS, cores.index, "intake")
    with clock.stage("locate"):
        located = locate(cores, inputs.segments, inputs.surfaces, inputs.districts, settings.matching, catalogue)
        check_frame(located, LOCATED_COLUMNS, cores.index, "locate")
    with clock.stage("specify"):
        specified = specify(located, catalogue)
        check_frame(specified, SPECIFIED_COLUMNS, cores.index, "specify")
    with clock.stage("quantify"):
        hole, depth, is_thin = _believed_sizes(cores, settings, catalogue, rules)
        # a row written twice is one core: its copy needs nothing, and nothing does a core that cannot go back
        needs = quantify(specified, hole.mask(cores["is_copy"] | is_thin), depth, catalogue)
        check_frame(needs, QUANTIFIED_COLUMNS, cores.index, "quantify")
    with clock.stage("audit"):
        whole = pd.concat([cores, located, specified, needs], axis="columns").assign(
            hole_mm=hole,
            depth_believed_mm=depth,
            is_thin=is_thin,
            shade_used_name=catalogue.shade_names(cores["shade_used"]),
            # a date that cannot be read may say that the core is back: it is not taken for open
            is_open=cores["reinstated_at"].isna() & cores["reinstated_at_problem"].isna(),
        )
        audited = audit(whole, rules, day, settings.matching.max_distance_m)
        whole = whole.assign(status=audited.status, findings=audited.slugs)
    with clock.stage("order"):
        orders = order(whole, catalogue)
    table = core_table(whole, inputs.register.as_read)
    result = RunResult(settings, catalogue, inputs, day, whole, table, audited, orders, clock.costs)
    if out is None:
        return result
    with clock.stage("publish"):
        folder = publish(result, Path(path), Path(out), clock.detail)
    return replace(result, folder=folder)


def calibrate_programme(
    path: Path | str, out: Path | str | None = None, progress: Progress | None = None, rounded: Rounding = "up"
) -> CalibrationResult:
    """Calibrate the volume model from the records of use of one programme.

    Parameters
    ----------
    path
        The programme file.
    out
        Folder that takes ``calibration.csv`` and ``calibration.svg``; None writes nothing.
    progress
        Told of each stage.
    rounded
        How crews round bags, as ``pipeline.calibrate.calibrate`` has it.

    Raises
    ------
    SettingsError, InputError, OutputError
        As their names say; each text says what to do.
    """
    clock = _Clock(progress, _CALIBRATION_STAGES)
    with clock.stage("intake"):
        settings, catalogue, rules, inputs = read_programme(Path(path), progress)
        cores = inputs.cores
        check_frame(cores, REGISTER_COLUMNS, cores.index, "intake")
    with clock.stage("locate"):
        located = locate(cores, inputs.segments, inputs.surfaces, inputs.districts, settings.matching, catalogue)
        check_frame(located, LOCATED_COLUMNS, cores.index, "locate")
    with clock.stage("specify"):
        specified = specify(located, catalogue)
        check_frame(specified, SPECIFIED_COLUMNS, cores.index, "specify")
    with clock.stage("calibrate"):
        hole, depth, is_thin = _believed_sizes(cores, settings, catalogue, rules)
        is_back = cores["reinstated_at"].notna() & specified["reinstatable"]
        records = pd.DataFrame(
            {
                "hole_mm": hole,
                "depth_mm": depth,
                "bedding": specified["bedding"],
                "bags_used": cores["bags_used"],
                "grout_used_l": grout_used_l(cores["bags_used"], cores["water_l"], catalogue.materials.grout),
                "is_usable": is_back & ~cores["is_copy"] & ~is_thin,
            }
        )
        found = calibrate(records, catalogue, settings.cores.diameter_is, rounded)
        day = _day_of(settings)
        snippet = catalogue_snippet(found, day) if found.enough else ""
        result = CalibrationResult(settings, day, found, needs_before_and_after(found), snippet)
    if out is None:
        return result
    with clock.stage("publish"):
        folder = publish_calibration(found, cores, Path(out))
    return replace(result, folder=folder)


def _day_of(settings: Settings) -> dt.date:
    return settings.programme.as_of or dt.datetime.now(ZoneInfo(settings.programme.timezone)).date()


def _believed_sizes(
    cores: pd.DataFrame, settings: Settings, catalogue: Catalogue, rules: list[BoundRule]
) -> tuple[pd.Series, pd.Series, pd.Series]:
    """Diameter of the hole and depth in millimetres, missing where not to be believed; whether it is too thin."""
    limits = {bound.rule.slug: bound.limits for bound in rules}
    hole = hole_mm(
        believable(cores["diameter_mm"], limits["diameter-implausible"]),
        settings.cores.diameter_is,
        catalogue.materials.geometry.kerf.value,
    )
    depth = believable(cores["depth_mm"], limits["depth-implausible"])
    return hole, depth, depth.lt(limits["pavement-thin"]["limit"])
