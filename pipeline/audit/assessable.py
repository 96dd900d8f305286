"""Which rules the inputs allow to be assessed, and what the others lack."""

from collections.abc import Collection
from typing import Final

from pipeline.audit.registry import Rule
from pipeline.contracts import MADE_FROM, REGISTER_COLUMNS

__all__ = ["lacking_inputs"]

_SURFACE: Final = ("surfaces", "roads.surface", "surface_recorded")
# columns that a stage finds, with the inputs of which any one gives them
_GIVEN_BY: Final = {
    "joint_m": ("joints",),
    "resurfaced_known": ("resurfaced", "protected"),
    "planned_works_known": ("planned_works",),
    "slope_percent": ("roads.slope",),
    "name_match": ("street",),
    "district_how": ("districts",),
    "district_confidence": ("districts",),
    "surface_on_map": ("surfaces", "roads.surface"),
    "surface": _SURFACE,
    "surface_confidence": _SURFACE,
    "shade": _SURFACE,
}
_RECORDED: Final = frozenset(column.name for column in REGISTER_COLUMNS)
# the cells of a column as they were written are there where the column is kept
_CELLS: Final = {column.text_name: column.name for column in REGISTER_COLUMNS}


def lacking_inputs(rule: Rule, kept: Collection[str]) -> tuple[tuple[str, ...], ...]:
    """Return the inputs without which a rule cannot be assessed for any core; none where it can for some.

    Parameters
    ----------
    rule
        The rule.
    kept
        What there is: names of contract columns that a register keeps, of layers such as ``joints``, and of columns of
        the roads such as ``roads.slope``. Every register has positions and every programme has roads.

    Returns
    -------
    tuple of tuples
        Names of the same kinds: any one of each tuple is enough.
    """
    lacking = [choices for need in rule.needs for choices in _without(need, kept)]
    if rule.applies_to == "reinstated":
        lacking = [*_without("reinstated_at", kept), *lacking]
    absent = [choices for need in rule.needs_any for choices in _without(need, kept)]
    if len(rule.needs_any) - len(absent) < min(rule.at_least, len(rule.needs_any)):
        lacking.append(tuple(name for choices in absent for name in choices))
    return tuple(dict.fromkeys(lacking))


def _without(need: str, kept: Collection[str]) -> list[tuple[str, ...]]:
    """Return what is missing for a column that a rule needs."""
    own = _CELLS.get(need, need)
    choices = _GIVEN_BY.get(need) or ((own,) if own in _RECORDED else ())
    if choices:
        return [] if any(choice in kept for choice in choices) else [choices]
    # what no input gives is worked out from the position and the roads
    return [found for source in MADE_FROM.get(need) or () if source != need for found in _without(source, kept)]
