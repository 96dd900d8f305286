"""The time model: when each stop of a crew's day begins, pours, opens to traffic and ends.

For each mix, the crew sets up and dry-fits every core that shares it, one after the other, and walks back to the first.
It mixes a bag when the one before it is poured, pours and presses each core, walks to the next, cleans all of them, and
waits until the last may be opened to traffic, unless the programme says that it does not wait. A core without a mix
takes the minutes of its task. The break is taken between two visits, or after the last, as near to the middle of the
shift as a visit ends.
"""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.plan.travel import Floats

__all__ = ["GroupTimes", "begin_times", "group_times", "opened_bags"]

_NOTHING: Final = 1e-9


class GroupTimes(NamedTuple):
    """Minutes from the arrival at the first core of a mix: of each core, and of the ``end`` of all.

    ``arrival``, ``pour``, ``pressed``: n each; ``span``: from the first pour to the last press without mixing;
    ``worked``: until all are cleaned; without the wait for traffic.
    """

    arrival: Floats
    pour: Floats
    pressed: Floats
    span: float
    worked: float


def opened_bags(net: Floats, bags: float, smallest: float) -> Floats:
    """Return the bags opened at each core of a mix: a bag is opened when those before it are used up."""
    used = np.ceil(np.round(np.cumsum(net) / smallest, 9)) * smallest
    used[-1] = bags
    return np.diff(np.concatenate([[0.0], used]))


def group_times(steps: pd.DataFrame, opened: Floats, walks: Floats, back_min: float) -> GroupTimes:
    """Return the times of the cores that share a mix.

    Parameters
    ----------
    steps
        n rows in the order of pouring: ``set_up_min``, ``dry_fit_min``, ``mix_min``, ``pour_min``, ``press_min``,
        ``clean_min``.
    opened
        Bags opened at each.
    walks
        n - 1 minutes on foot from each to the next.
    back_min
        Minutes on foot from the last back to the first.
    """
    minutes: dict[str, npt.NDArray[np.float64]] = {str(name): steps[name].to_numpy(float) for name in steps}
    prepare = minutes["set_up_min"] + minutes["dry_fit_min"]
    arrival = np.concatenate([[0.0], np.cumsum(prepare[:-1] + walks)])
    at = arrival[-1] + prepare[-1] + (back_min if len(prepare) > 1 else 0.0)
    pour, pressed = np.empty(len(prepare)), np.empty(len(prepare))
    mixing = np.ceil(opened - _NOTHING) * minutes["mix_min"]
    for core in range(len(prepare)):
        at += mixing[core]
        pour[core] = at
        at += minutes["pour_min"][core] + minutes["press_min"][core]
        pressed[core] = at
        at += walks[core] if core < len(walks) else 0.0
    span = float((minutes["pour_min"] + minutes["press_min"]).sum() + walks.sum())
    return GroupTimes(arrival, pour, pressed, span, float(at + minutes["clean_min"].sum()))


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
