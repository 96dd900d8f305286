"""What a run leaves to act on: failures and checks that nobody has accepted, and the most urgent of each core."""

from dataclasses import dataclass
from typing import Final

import pandas as pd

from pipeline.audit.overdue import OVERDUE_DAYS, overdue_days
from pipeline.audit.ranking import urgency_rank
from pipeline.contracts import URGENCIES
from pipeline.decide import is_accepted
from pipeline.results import RunResult

__all__ = ["Actions", "actions_of"]

# urgencies for which somebody goes out; the last is put right at a desk
_ON_THE_ROAD: Final = URGENCIES[:-1]


@dataclass(frozen=True)
class Actions:
    """What is to be acted on.

    ``findings``: failures and checks on counted cores that nobody has accepted, in the order of the tables, with
    ``overdue_days`` (missing for a rule without a time). ``urgency``: by row of a core, the most urgent of them.
    ``accepted``: the number of accepted failures and checks, which are in neither, and ``accepted_hazards`` of them.
    ``repair``, ``correct``: flagged cores whose most urgent is about the road, and those for which it is about the
    register; ``settled``: flagged cores of which every failure and check is accepted. The three add up to the flagged
    cores.
    """

    findings: pd.DataFrame
    urgency: pd.Series
    accepted: int
    accepted_hazards: int
    repair: int
    correct: int
    settled: int


def actions_of(result: RunResult) -> Actions:
    """Return what is to be acted on after a run."""
    found = result.counted_findings
    grave = found[found["severity"].ne("note")]
    # a programme without decisions has none accepted
    accepted = is_accepted(grave) if "decision" in grave else pd.Series(data=False, index=grave.index)
    left = grave[~accepted]
    left = left.assign(**{OVERDUE_DAYS: overdue_days(left, result.audit.wordings)})
    rank = urgency_rank(left["urgency"]).groupby(left["row"]).min()
    urgency = rank.map(dict(enumerate(URGENCIES))).astype("str")
    cores = result.counted_cores
    of_flagged = cores.loc[cores["status"].eq("flagged"), "row"].map(urgency)
    repair, settled = int(of_flagged.isin(_ON_THE_ROAD).sum()), int(of_flagged.isna().sum())
    hazards = int((accepted & grave["urgency"].eq(URGENCIES[0])).sum())
    return Actions(left, urgency, int(accepted.sum()), hazards, repair, len(of_flagged) - repair - settled, settled)
