"""Rules on sizes: missing, unreadable or implausible; on whether a core may be reused; and on unreadable cells."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import pandas as pd

from pipeline.audit.findings import LABELS, Findings, ItemKind, Remedies, find, found_items
from pipeline.audit.for_authority import for_authority
from pipeline.audit.limits import Millimetres, PositiveMillimetres
from pipeline.audit.registry import rule
from pipeline.audit.shared_remedies import UNSURE_WHETHER_REUSED
from pipeline.audit.written_ranges import WrittenRange, below, outside
from pipeline.contracts import REGISTER_COLUMNS, is_missing

_OTHER_NUMBERS: Final = tuple(
    column.name for column in REGISTER_COLUMNS if column.kind == "number" and not column.required
)
_UNREADABLE_DIAMETER: Final = {
    "unreadable": 'Diameter "{diameter_mm_text}" is not a size.',
    "no unit": 'Diameter "{diameter_mm_text}" has no unit.',
    "thousands or decimals": 'Diameter "{diameter_mm_text}" has a comma that may mean thousands or decimals.',
}
_UNREADABLE_DEPTH: Final = {
    "unreadable": 'Depth "{depth_mm_text}" is not a size.',
    "no unit": 'Depth "{depth_mm_text}" has no unit.',
    "thousands or decimals": 'Depth "{depth_mm_text}" has a comma that may mean thousands or decimals.',
}
_MEASURE: Final = Remedies(
    if_open=for_authority(
        "Measure the core: without it no materials can be ordered.", "The utility must measure the core."
    ),
    if_reinstated="Add it from the work record: without it the grout used cannot be checked.",
    if_unknown="Add it to the register, and correct the date of reinstatement.",
)
_CORRECT: Final = Remedies(
    if_open="Correct it: without it no materials can be ordered.",
    if_reinstated="Correct it: without it the grout used cannot be checked.",
    if_unknown="Correct it, and the date of reinstatement too.",
)
_DO_NOT_REUSE: Final = Remedies(
    if_open=for_authority(
        "Do not reuse the core: reinstate the opening as the road authority specifies.",
        "The utility must not reuse the core, and must reinstate the opening as you specify.",
    ),
    if_reinstated=for_authority(
        "Agree with the road authority whether the core may stay.",
        "The utility must agree with you whether the core may stay.",
    ),
    if_unknown=UNSURE_WHETHER_REUSED,
)
_ASK_THE_CREW: Final = for_authority(
    "Ask the crew what it found, and correct the register.",
    "The utility must find out what its crew found, and correct the register.",
)
_CHECK_FIGURE: Final = "Check the figure and its unit."
# by the problem of a cell that cannot be read
_REMARKS: Final = {"": "", "which gallon": " (US or imperial gallons)", "negative": " (cannot be below zero)"}


@dataclass(frozen=True)
class DiameterLimits:
    """Range of plausible diameters, both ends included."""

    min_diameter_mm: Millimetres
    max_diameter_mm: PositiveMillimetres


@dataclass(frozen=True)
class DepthLimits:
    """Range of plausible depths, both ends included."""

    min_depth_mm: Millimetres
    max_depth_mm: PositiveMillimetres


@dataclass(frozen=True)
class PavementLimits:
    """Least thickness of bound pavement for a core to be reused."""

    min_thickness_mm: Millimetres


@rule("diameter-missing", shows=["diameter_mm", "diameter_mm_problem"])
def diameter_missing(cores: pd.DataFrame) -> Findings:
    """No diameter is recorded."""
    absent = cores["diameter_mm"].isna() & cores["diameter_mm_problem"].isna()
    return find(cores[absent], "No diameter is recorded.", _MEASURE)


@rule("diameter-unreadable", needs=["diameter_mm_text"], shows=["diameter_mm_problem"])
def diameter_unreadable(cores: pd.DataFrame) -> Findings:
    """The diameter cannot be read."""
    unread = cores[cores["diameter_mm_problem"].notna()]
    return find(unread, _by_problem(unread["diameter_mm_problem"], _UNREADABLE_DIAMETER), _CORRECT)


@rule(
    "diameter-implausible", needs=["diameter_mm"], shows=["diameter_mm_text", "diameter_step_mm"], quotes_numbers=True
)
def diameter_implausible(cores: pd.DataFrame, limits: DiameterLimits) -> Findings:
    """The diameter is outside the plausible range."""
    least, most = limits.min_diameter_mm, limits.max_diameter_mm
    verdict = outside(WrittenRange.of(cores["diameter_mm"], cores["diameter_step_mm"]), least, most)
    findings = find(
        cores[verdict.sure],
        'Diameter {diameter_mm:g} mm (written "{diameter_mm_text}") is outside the plausible range of '
        "{min_diameter_mm:g} to {max_diameter_mm:g} mm and is not used.",
        _CHECK_FIGURE,
        min_diameter_mm=least,
        max_diameter_mm=most,
    )
    return verdict.on(findings)


@rule("depth-missing", shows=["depth_mm", "depth_mm_problem"])
def depth_missing(cores: pd.DataFrame) -> Findings:
    """No depth is recorded."""
    absent = cores["depth_mm"].isna() & cores["depth_mm_problem"].isna()
    return find(cores[absent], "No depth is recorded.", _MEASURE)


@rule("depth-unreadable", needs=["depth_mm_text"], shows=["depth_mm_problem"])
def depth_unreadable(cores: pd.DataFrame) -> Findings:
    """The depth cannot be read."""
    unread = cores[cores["depth_mm_problem"].notna()]
    return find(unread, _by_problem(unread["depth_mm_problem"], _UNREADABLE_DEPTH), _CORRECT)


@rule("depth-implausible", needs=["depth_mm"], shows=["depth_mm_text", "depth_step_mm"], quotes_numbers=True)
def depth_implausible(cores: pd.DataFrame, limits: DepthLimits) -> Findings:
    """The depth is outside the plausible range."""
    least, most = limits.min_depth_mm, limits.max_depth_mm
    verdict = outside(WrittenRange.of(cores["depth_mm"], cores["depth_step_mm"]), least, most)
    findings = find(
        cores[verdict.sure],
        'Depth {depth_mm:g} mm (written "{depth_mm_text}") is outside the plausible range of '
        "{min_depth_mm:g} to {max_depth_mm:g} mm and is not used.",
        _CHECK_FIGURE,
        min_depth_mm=least,
        max_depth_mm=most,
    )
    return verdict.on(findings)


def _by_problem(problems: pd.Series, templates: Mapping[str, str]) -> pd.Series:
    """The template for each of N problems of a cell; one that is not listed makes the cell unreadable."""
    return problems.map(dict(templates)).fillna(templates["unreadable"]).astype("str")


@rule("pavement-thin", needs=["depth_believed_mm"], shows=["depth_mm", "depth_step_mm"])
def pavement_thin(cores: pd.DataFrame, limits: PavementLimits) -> Findings:
    """The bound pavement is too thin for the core to be reused."""
    thin = below(WrittenRange.of(cores["depth_believed_mm"], cores["depth_step_mm"]), limits.min_thickness_mm)
    findings = find(
        cores[thin.sure],
        "The bound pavement is {depth_mm:g} mm thick (minimum {min_thickness_mm:g} mm).",
        _DO_NOT_REUSE,
        min_thickness_mm=limits.min_thickness_mm,
    )
    return thin.on(findings)


@rule("core-unsound", needs=["core_fault"])
def core_unsound(cores: pd.DataFrame) -> Findings:
    """The core was found unsound when it was inspected for reuse."""
    return find(
        cores[cores["core_fault"].ne("none")],
        "The core was recorded as {core_fault:term} when it was inspected.",
        _DO_NOT_REUSE,
    )


@rule("core-condition-unreadable", needs=["core_condition"], shows=["core_fault"])
def core_condition_unreadable(cores: pd.DataFrame) -> Findings:
    """The condition of the core is not in the catalogue."""
    strange = cores["core_fault"].isna() & ~is_missing(cores["core_condition"])
    return find(
        cores[strange],
        'Core condition "{core_condition}" is not in the catalogue.',
        Remedies(
            if_open="Inspect the core before reinstating it, and correct the register.",
            if_reinstated=_ASK_THE_CREW,
            if_unknown=_ASK_THE_CREW,
        ),
    )


@rule(
    "value-unreadable",
    needs_any=[*(f"{name}_text" for name in _OTHER_NUMBERS), "surface_recorded"],
    shows=["surface_recorded_name", "surface_says_nothing", *(f"{name}_problem" for name in _OTHER_NUMBERS)],
)
def value_unreadable(cores: pd.DataFrame) -> Findings:
    """A number or a surface in the register cannot be read."""
    unread = {name: cores[f"{name}_problem"].notna() for name in _OTHER_NUMBERS}
    strange = cores["surface_recorded_name"].isna() & ~is_missing(cores["surface_recorded"])
    unread["surface_recorded"] = strange & ~cores["surface_says_nothing"]
    cells = found_items(
        ItemKind(
            has & _reason(cores, name).eq(reason),
            f'{{label:term}} "{{text}}"{remark}',
            {"label": LABELS[name], "text": cores[_text_of(name)]},
            {"text": _text_of(name)},
        )
        for name, has in unread.items()
        if has.any()
        for reason, remark in _REMARKS.items()
    )
    return find(
        cores[pd.DataFrame(unread).any(axis="columns")],
        "Ignored as unreadable: {cells}.",
        "Correct the register.",
        {"cells": cells},
    )


def _reason(cores: pd.DataFrame, name: str) -> pd.Series:
    """Why each cell of a column is not read, where there is more to say than that it is not."""
    if name not in _OTHER_NUMBERS:
        return pd.Series("", cores.index, dtype="str")
    problems: pd.Series = cores[f"{name}_problem"]
    return problems.where(problems.isin([*_REMARKS]), "")


def _text_of(name: str) -> str:
    return f"{name}_text" if name in _OTHER_NUMBERS else name
