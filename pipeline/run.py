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
from pipeline.intake.kept_runs import NO_EARLIER, Earlier, read_earlier
from pipeline.locate import locate
from pipeline.order import Orders, order
from pipeline.publish import publish
from pipeline.publish.folder import folder_name
from pipeline.publish.tables import core_table
from pipeline.quantify import hole_mm, quantify
from pipeline.settings import Settings, load_programme
from pipeline.specify import specify

__all__ = ["Progress", "RunResult", "StageCost", "read_programme", "run_programme"]

STAGES = ("intake", "locate", "specify", "quantify", "audit", "order", "publish")


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


@dataclass
class _Clock:
    progress: Progress | None
    costs: list[StageCost] = field(default_factory=list)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        if self.progress is not None:
            self.progress.stage(name, STAGES.index(name) + 1, len(STAGES))
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
        Folder that takes ``<programme>/<as_of>/``; None writes nothing. Runs of earlier days kept there are inputs too:
        the report tells what changed since.
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
        day = as_of or settings.programme.as_of or dt.datetime.now(ZoneInfo(settings.programme.timezone)).date()
        cores = inputs.cores
        check_frame(cores, REGISTER_COLUMNS, cores.index, "intake")
    with clock.stage("locate"):
        located = locate(cores, inputs.segments, inputs.surfaces, inputs.districts, settings.matching, catalogue)
        check_frame(located, LOCATED_COLUMNS, cores.index, "locate")
    with clock.stage("specify"):
        specified = specify(located, catalogue)
        check_frame(specified, SPECIFIED_COLUMNS, cores.index, "specify")
    with clock.stage("quantify"):
        limits = {bound.rule.slug: bound.limits for bound in rules}
        hole = hole_mm(
            believable(cores["diameter_mm"], limits["diameter-implausible"]),
            settings.cores.diameter_is,
            catalogue.materials.geometry.kerf.value,
        )
        depth = believable(cores["depth_mm"], limits["depth-implausible"])
        # a row written twice is one core: its copy needs nothing, and nothing does a core that cannot go back
        is_thin = depth.lt(limits["pavement-thin"]["limit"])
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
        name = settings.programme.name
        earlier = read_earlier(Path(out) / folder_name(name), name, day)
        told = replace(inputs, notices=[*inputs.notices, *earlier.notices])
        result = replace(result, earlier=earlier, inputs=told)
        folder = publish(result, Path(path), Path(out), clock.detail)
    return replace(result, folder=folder)
