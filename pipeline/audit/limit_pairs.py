"""Limits that belong together: none of a pair may cross the other, wherever the two apply."""

from collections.abc import Iterator, Sequence
from typing import Final

from pipeline.audit.limits import Limit
from pipeline.programme.materials import Geometry
from pipeline.programme.names import folded
from pipeline.programme.thresholds import ThresholdSetting

__all__ = ["crossed_limits", "pilot_hole_without_room"]

_LEAST, _MOST = "min_", "max_"
# the lower first: at or below the datum nothing hardens, so no time can be scaled from there
_STRICT: Final = (("datum_temperature", "supplier_temperature"),)
_Settings = Sequence[tuple[ThresholdSetting, Limit]]


def crossed_limits(settings: _Settings) -> list[str]:
    """Return what is wrong with pairs of limits, such as a least diameter above the largest.

    Parameters
    ----------
    settings
        Every setting of one rule's limits, as read; of two that apply to a core, the later one is used.

    Returns
    -------
    list of str
        One text per crossed pair, without file and rule: both limits as written, where they apply, what was expected.
    """
    names = list(dict.fromkeys(setting.name for setting, _ in settings))
    lines = []
    for low, high, is_strict in _pairs(names):
        for scope, lower, upper in _together(settings, low, high):
            least, most = _number(lower[1]), _number(upper[1])
            if least > most or (is_strict and least == most):
                where = " and ".join(f"{name.replace('_', ' ')} {value}" for name, value in scope.items())
                lines.append(
                    f"found {low} = {lower[0].written!r} with {high} = {upper[0].written!r}"
                    f"{f' for {where}' if where else ''}, expected {low} {'below' if is_strict else 'at most'} {high}"
                )
    return list(dict.fromkeys(lines))


def pilot_hole_without_room(settings: _Settings, geometry: Geometry) -> str | None:
    """Return what is wrong where the smallest plausible core has no room for the pilot hole; None where it has.

    ``settings``: of one rule's limits, as read. The core is as wide as the hole without the kerf on both sides.
    """
    pilot_mm, kerf_mm = geometry.pilot_hole.value, geometry.kerf.value
    for setting, limit in settings:
        if setting.name != "min_diameter" or _in_force(settings, setting.name, setting.scope)[0] is not setting:
            continue
        core_mm = _number(limit) - 2 * kerf_mm
        if pilot_mm >= core_mm:
            return (
                f"found min_diameter = {setting.written!r}, which leaves a core of {max(core_mm, 0):g} mm within a "
                f"kerf of {kerf_mm:g} mm, expected one wider than the pilot hole of {pilot_mm:g} mm"
            )
    return None


def _pairs(names: Sequence[str]) -> Iterator[tuple[str, str, bool]]:
    """Yield each pair of limits: the lower, the higher, and whether they may not be equal."""
    for name in names:
        if name.startswith(_LEAST) and (high := _MOST + name.removeprefix(_LEAST)) in names:
            yield name, high, False
    for low, high in _STRICT:
        if low in names and high in names:
            yield low, high, True


def _together(
    settings: _Settings, low: str, high: str
) -> Iterator[tuple[dict[str, str], tuple[ThresholdSetting, Limit], tuple[ThresholdSetting, Limit]]]:
    """Yield each scope in which two settings of a pair meet, with the lower and the higher limit in force there."""
    for one, _ in settings:
        for other, _ in settings:
            if one.name != low or other.name != high:
                continue
            scope = one.scope | other.scope
            if _holds(one, scope) and _holds(other, scope):
                yield scope, _in_force(settings, low, scope), _in_force(settings, high, scope)


def _holds(setting: ThresholdSetting, scope: dict[str, str]) -> bool:
    """Return whether a setting applies everywhere in a scope."""
    return all(folded(scope.get(name, "")) == folded(value) for name, value in setting.scope.items())


def _in_force(settings: _Settings, name: str, scope: dict[str, str]) -> tuple[ThresholdSetting, Limit]:
    return [one for one in settings if one[0].name == name and _holds(one[0], scope)][-1]


def _number(limit: Limit) -> float:
    """Return a limit that can be compared; no limit of a pair depends on a width or is a day."""
    if not isinstance(limit, float):
        raise TypeError(f"{limit!r} is no number")
    return limit
