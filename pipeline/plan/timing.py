"""The time model: when each stop of a crew's day begins, pours, opens to traffic and ends.

For each mix, the crew sets up and dry-fits every core that shares it, one after the other, and walks back to the first.
It mixes a bag when the one before it is poured, pours and presses each core, walks to the next, cleans all of them, and
waits until the last may be opened to traffic, unless the programme says that it does not wait. A core without a mix
takes the minutes of its task. The break is taken between two visits, or after the last, as near to the middle of the
shift as a visit ends.
"""

from typing import Final, NamedTuple

import numpy as np

from pipeline.plan.travel import Floats

__all__ = ["GroupTimes", "Steps", "begin_times", "group_times", "opened_bags"]

_NOTHING: Final = 1e-9
# a sum that misses a whole bag by a rounding error is that whole bag
_DIGITS: Final = 9


class Steps(NamedTuple):
    """Minutes of each step at each of n cores of V visits, V by n, in the order of pouring; ``mix`` is for one bag."""

    set_up: Floats
    dry_fit: Floats
    mix: Floats
    pour: Floats
    press: Floats
    clean: Floats


class GroupTimes(NamedTuple):
    """Minutes from the arrival at the first core of a mix: of each core, and of the ``end`` of all.

    ``arrival``, ``pour``, ``pressed``: V by n; ``span``: V, from the first pour to the last press without mixing;
    ``worked``: V, until all are cleaned; without the wait for traffic.
    """

    arrival: Floats
    pour: Floats
    pressed: Floats
    span: Floats
    worked: Floats


def opened_bags(net: Floats, smallest: float) -> Floats:
    """Return the bags opened at each core of a mix, V by n: a bag is opened when those before it are used up."""
    used = np.cumsum(net, axis=1)
    used[:, -1] = net.sum(axis=1)
    opened: Floats = np.diff(np.ceil(np.round(used / smallest, _DIGITS)) * smallest, axis=1, prepend=0.0)
    return opened


def group_times(steps: Steps, opened: Floats, walks: Floats, back_min: Floats) -> GroupTimes:
    """Return the times of the cores that share a mix, of V visits to n cores each.

    Parameters
    ----------
    steps
        Minutes of each step.
    opened
        V by n: bags opened at each.
    walks
        V by n - 1: minutes on foot from each to the next.
    back_min
        V: minutes on foot from the last back to the first; 0 for a core alone.
    """
    count, size = opened.shape
    prepare = steps.set_up + steps.dry_fit
    arrival = np.zeros((count, size))
    np.cumsum(prepare[:, :-1] + walks, axis=1, out=arrival[:, 1:])
    at = arrival[:, -1] + prepare[:, -1] + back_min
    pour, pressed = np.empty((count, size)), np.empty((count, size))
    mixing = np.ceil(opened - _NOTHING) * steps.mix
    for core in range(size):
        at = at + mixing[:, core]
        pour[:, core] = at
        at = at + (steps.pour[:, core] + steps.press[:, core])
        pressed[:, core] = at
        if core < size - 1:
            at = at + walks[:, core]
    span = (steps.pour + steps.press).sum(axis=1) + walks.sum(axis=1)
    return GroupTimes(arrival, pour, pressed, span, at + steps.clean.sum(axis=1))


def begin_times(hops: Floats, work: Floats, shift: tuple[float, float], pause: float) -> Floats:
    """Return when each visit of a crew's day begins, in minutes from midnight.

    Parameters
    ----------
    hops
        n minutes of travel from the start to the first visit, and from each to the next.
    work
        n minutes that each visit takes.
    shift, pause
        Start and end of the shift in minutes from midnight, and the length of the break.
    """
    ends = shift[0] + np.cumsum(hops) + np.cumsum(work)
    last_before = int(np.argmin(np.abs(ends - sum(shift) / 2)))
    begins: Floats = ends - work + np.where(np.arange(len(work)) > last_before, pause, 0.0)
    return begins
