"""The stages that every run begins with, in order, each held to its contract; and the clock they run by."""

import datetime as dt
import difflib
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol
from zoneinfo import ZoneInfo

import pandas as pd

from pipeline.audit import BoundRule, believable, bind_rules
from pipeline.calibrate import Calibration, Rounding, calibrate, grout_used_l
from pipeline.catalogue import Catalogue, load_catalogue
from pipeline.contracts import (
    CORE_COLUMNS,
    LOCATED_COLUMNS,
    REGISTER_COLUMNS,
    SPECIFIED_COLUMNS,
    STREET_RECORDED,
    check_frame,
    own_names,
)
from pipeline.cost import StageCost, peak_mb
from pipeline.errors import SettingsError
from pipeline.intake import Inputs, read_inputs
from pipeline.locate import Works, locate
from pipeline.quantify import hole_mm
from pipeline.settings import Settings, load_programme
from pipeline.specify import specify

__all__ = ["Clock", "Prepared", "Progress", "prepare", "read_programme", "read_rules"]


class Progress(Protocol):
    """What a run tells as it goes on."""

    def stage(self, name: str, place: int, count: int) -> None:
        """A stage begins, the ``place``-th of ``count``."""

    def detail(self, text: str) -> None:
        """What the stage is at."""


@dataclass
class Clock:
    """Tells of each stage as it begins, and keeps what it cost."""

    progress: Progress | None
    stages: tuple[str, ...]
    costs: list[StageCost] = field(default_factory=list)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Run one stage by the clock."""
        if self.progress is not None:
            self.progress.stage(name, self.stages.index(name) + 1, len(self.stages))
        start = time.perf_counter()
        yield
        self.costs.append(StageCost(name, time.perf_counter() - start, peak_mb()))

    def detail(self, text: str) -> None:
        """Tell what the stage is at."""
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
    catalogue, rules = _rules_of(settings, path)
    try:
        inputs = read_inputs(settings, path.parent, catalogue, progress.detail if progress else lambda _: None)
    except SettingsError as error:
        raise SettingsError(f"{path}: {error}") from error
    _check_handed(settings.handover.columns, inputs.register.as_read, path)
    return settings, catalogue, rules, inputs


def _check_handed(columns: list[str], as_read: pd.DataFrame, path: Path) -> None:
    """Refuse a column to be handed over that there is none of, before anything takes time."""
    of_register = [column.name for column in REGISTER_COLUMNS if column.name != "street"] + [STREET_RECORDED]
    known = [*CORE_COLUMNS, *of_register, *own_names(as_read)]
    for name in columns:
        if name not in known:
            # one of the register's own whose name is taken goes by another
            own = f"register_{name}"
            near = [own] if own in known else difflib.get_close_matches(name, known, n=1)
            hint = f' Did you mean "{near[0]}"?' if near else ""
            raise SettingsError(
                f"{path}: handover.columns: no column {name!r}.{hint} Known are the columns of cores.csv, the "
                f"register's own among them, and: {', '.join(of_register)}."
            )


def read_rules(path: Path | None) -> list[BoundRule]:
    """Return the rules with their thresholds: those in force for a programme, or as they are shipped.

    Raises
    ------
    SettingsError
        The programme file cannot be read, or says what cannot be.
    """
    if path is None:
        return bind_rules(load_catalogue({}, "shipped"), "shipped")
    return _rules_of(load_programme(path), path)[1]


def _rules_of(settings: Settings, path: Path) -> tuple[Catalogue, list[BoundRule]]:
    catalogue = load_catalogue(settings.catalogue, str(path), settings.thresholds)
    return catalogue, bind_rules(catalogue, str(path))


@dataclass(frozen=True)
class Prepared:
    """The inputs, where each core lies, what it asks for, its believable sizes, and what records of use say.

    ``cores``, ``located``, ``specified``: N rows each. ``hole_mm``, ``depth_mm``: N numbers, missing where not known or
    not to be believed. ``is_thin``: whether the pavement is too thin for its core. ``grout_used_l``: as recorded.
    """

    settings: Settings
    catalogue: Catalogue
    rules: list[BoundRule]
    inputs: Inputs
    day: dt.date
    cores: pd.DataFrame
    located: pd.DataFrame
    specified: pd.DataFrame
    hole_mm: pd.Series
    depth_mm: pd.Series
    is_thin: pd.Series
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
        limits = {bound.rule.slug: bound.limits(located) for bound in rules if bound.rule.family == "sizes"}
        hole = hole_mm(
            believable(cores["diameter_mm"], limits["diameter-implausible"]),
            settings.cores.diameter_is,
            catalogue.materials.geometry.kerf.value,
        )
        depth = believable(cores["depth_mm"], limits["depth-implausible"])
        is_thin = depth.lt(limits["pavement-thin"]["limit"])
        used = grout_used_l(cores["bags_used"], cores["water_l"], catalogue.materials.grout)
        is_back = cores["reinstated_at"].notna() & specified["reinstatable"]
        records = pd.DataFrame(
            {
                "hole_mm": hole,
                "depth_mm": depth,
                "bedding": specified["bedding"],
                "bags_used": cores["bags_used"],
                "grout_used_l": used,
                "is_usable": is_back & ~cores["is_copy"] & ~is_thin,
            }
        )
        calibration = calibrate(records, catalogue, settings.cores.diameter_is, rounded)
    return Prepared(
        settings, catalogue, rules, inputs, day, cores, located, specified, hole, depth, is_thin, used, calibration
    )
