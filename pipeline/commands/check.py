"""The inputs of a programme read, and what was understood of them, with nothing written but a page."""

import datetime as dt
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

import numpy as np
import shapely

from pipeline.audit import BoundRule
from pipeline.audit.assessable import lacking_inputs
from pipeline.clock import Clock, Progress
from pipeline.commands.alike import alike_errors, alike_sentences
from pipeline.commands.separate_inputs import SeparateInputs, read_separately
from pipeline.decide.reporting import problem_notices
from pipeline.errors import InputError, SettingsError
from pipeline.intake import Inputs
from pipeline.intake.crs import name_of
from pipeline.intake.decisions import NO_ENTRIES
from pipeline.intake.layer_facts import LayerFacts, stock_facts
from pipeline.intake.outliers import Ranges
from pipeline.intake.position_facts import RoadTree
from pipeline.intake.suspicions import suspicions_of
from pipeline.intake.understood import RegisterFacts, understood_register
from pipeline.programme.settings import Settings, load_programme
from pipeline.publish.check.page import write_check
from pipeline.publish.words import load_words
from pipeline.results import Checked, RuleInputs
from pipeline.run import read_programme, rules_of

if TYPE_CHECKING:
    from pipeline.intake.register import Register

__all__ = ["check_inputs"]

# the rules whose limits are the plausible values of a column, with the keys of the lower and the upper one
_LIMITS: Final = {
    "diameter_mm": ("diameter-implausible", "min_diameter_mm", "max_diameter_mm"),
    "depth_mm": ("depth-implausible", "min_depth_mm", "max_depth_mm"),
}

# in the notice of a workbook that has other sheets than the one that is read
_OTHER_SHEETS: Final = "; not read: "


def check_inputs(path: Path, out: Path | None = None, progress: Progress | None = None) -> Checked:
    """Return what was understood of the inputs of a programme.

    An input that cannot be used is an error in the result, and the others are shown all the same.

    Parameters
    ----------
    path
        The programme file.
    out
        Folder that takes ``<programme>/check.html``; None writes nothing.
    progress
        Receives progress updates.

    Raises
    ------
    SettingsError
        The programme file is wrong.
    OutputError
        The page cannot be written.
    """
    clock = Clock(progress, ("intake", "check"))
    with clock.stage("intake"):
        settings = load_programme(path)
        catalogue, rules = rules_of(settings, path)
        load_words(settings.programme.language)
        inputs = None
        try:
            inputs = read_programme(path, clock.progress)[3]
        except (InputError, SettingsError) as error:
            announce = clock.progress.detail if clock.progress else lambda _: None
            read = read_separately(settings, path, catalogue, announce)
            read.errors = alike_errors([error, *read.errors])
        else:
            read = _as_read(inputs)
    with clock.stage("check"):
        checked = _checked(settings, rules, read, inputs)
        return replace(checked, page=write_check(checked, out) if out else None)


def _as_read(inputs: Inputs) -> SeparateInputs:
    """Return inputs that can all be used as if each had been read by itself."""
    return SeparateInputs(
        inputs.register.parts,
        inputs.layers,
        inputs.segments,
        inputs.districts,
        inputs.stock,
        inputs.crs,
        inputs.notices,
    )


def _checked(settings: Settings, rules: list[BoundRule], read: SeparateInputs, inputs: Inputs | None) -> Checked:
    """Return what was understood of the inputs that were read."""
    day = settings.programme.as_of or dt.datetime.now(ZoneInfo(settings.programme.timezone)).date()
    roads = None
    if read.segments is not None:
        lines = shapely.STRtree(np.asarray(read.segments.geometry.array))
        roads = RoadTree(lines, read.segments["half_width_m"].to_numpy("float64"), settings.matching.accuracy_m)
    by_name: dict[str, list[Register]] = {}
    for part in read.parts:
        by_name.setdefault(part.name, []).append(part)
    # positions are measured only where there is something to measure to
    crs = None if roads is None else read.crs
    limits = _plausible(rules)
    registers = [understood_register(parts, crs, roads, day, limits) for parts in by_name.values()]
    stock = settings.orders.stock
    entries = NO_ENTRIES if inputs is None else inputs.entries
    notices = alike_sentences([*read.notices, *problem_notices(entries.frame)])
    # rows that nobody read are no detail
    unread_sheets = [notice for notice in notices if _OTHER_SHEETS in notice]
    return Checked(
        settings=settings,
        as_of=day,
        registers=registers,
        layers=read.layers,
        stock=None if stock is None or read.stock is None else stock_facts(stock.label("orders.stock"), read.stock),
        rules=_rule_inputs(rules, registers, read.layers) if registers else [],
        suspicions=[
            *(sentence for facts in registers for sentence in suspicions_of(facts, limits, day)),
            *unread_sheets,
        ],
        notices=[notice for notice in notices if notice not in unread_sheets],
        errors=read.errors,
        crs=None if read.crs is None else f"{read.crs.name} ({name_of(read.crs)})",
        stretch=None if inputs is None else inputs.stretch,
        inputs=inputs,
    )


def _plausible(rules: list[BoundRule]) -> Ranges:
    """Return the plausible values of the columns for which the rule book has limits that apply everywhere."""
    ranges = {}
    for bound in rules:
        for column, (slug, least, most) in _LIMITS.items():
            if bound.rule.slug == slug:
                values = {
                    bound.rule.limit_fields[setting.name].name: limit
                    for setting, limit in bound.settings
                    if not setting.scope
                }
                ranges[column] = (float(values[least]), float(values[most]))  # type: ignore[arg-type]  # lengths
    return ranges


def _rule_inputs(rules: list[BoundRule], registers: list[RegisterFacts], layers: list[LayerFacts]) -> list[RuleInputs]:
    """Return for every rule whether it can be assessed, register by register."""
    given = {layer.name for layer in layers}
    given |= {f"{layer.name}.{name}" for layer in layers for name, _, filled in layer.columns if filled}
    return [
        RuleInputs(
            bound.rule.slug,
            bound.rule.title,
            bound.severity,
            {facts.name: lacking for facts in registers if (lacking := lacking_inputs(bound.rule, facts.kept | given))},
        )
        for bound in rules
    ]
