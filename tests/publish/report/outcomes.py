"""What was learnt of registers, written by hand, for the tests of what is said of it."""

import dataclasses

import numpy as np
import pandas as pd

from pipeline.locate.learning import Outcome
from pipeline.locate.learning.accept import Gain
from pipeline.locate.learning.fit import START
from pipeline.locate.learning.masses import Side
from pipeline.locate.learning.reliability import RELIABILITY_COLUMNS
from pipeline.locate.learning.shift import NO_SHIFT, Reading, Shift

NO_TABLE = pd.DataFrame(columns=list(RELIABILITY_COLUMNS))
# 2.4 m to the east, with a standard error of 0.25 m that way and 2 m the other
EAST = Shift(2.4, 0.0, np.array([[0.0625, 0.0], [0.0, 4.0]]))
NORTH = Side(0.0, 1.0)


def outcome(register="cores", **changed):
    """Return an accepted outcome without batches or a shift, but for what is given."""
    plain = Outcome(register, 300, True, "learnt", Gain(0.1, 0.01), START, NO_SHIFT, "", {}, NO_TABLE)
    return plain._replace(**changed)


def reading(says, shift=EAST, side=NORTH):
    """Return what a register's positions say of a shift, and of a side of the road that its cores keep to."""
    return Reading(says, shift, None if says == "shift" else side, says)


def reliability(*rows):
    """Rows of batch, when, group, cores, stated, agreed."""
    return pd.DataFrame(rows, columns=list(RELIABILITY_COLUMNS))


def with_learnt(result, learning, names=("Quay", "Mast")):
    """Return a run in which all positions have a learnt error, those of two crews in turn, and the fifth changed all."""
    crew = pd.Series(np.resize(np.array(names, dtype=object), len(result.cores)), result.cores.index, dtype="str")
    errors = result.reasons.errors
    changed = pd.DataFrame(
        {
            "street": False, "surface": False, "shade": False, "segment_before": 0.5, "surface_before": 0.75,
        },
        index=result.cores.index[result.cores["x_m"].notna()],
    )  # fmt: skip
    changed.loc[changed.index[4], ["street", "surface", "shade"]] = True
    reasons = result.reasons._replace(
        errors=errors.assign(accuracy_from=pd.Series("learnt", errors.index, dtype="str")),
        learning=learning,
        changed=changed,
    )
    return dataclasses.replace(result, cores=result.cores.assign(crew=crew), reasons=reasons)
