"""Learn: the errors of positions that nobody stated, from how the cores of a register lie about the roads."""

from pipeline.locate.learning.learn import (
    LEAST_BATCH,
    LEAST_REGISTER,
    Learnt,
    Outcome,
    Question,
    applied,
    outcomes_of,
)
from pipeline.locate.learning.sample import Subjects, learnt_from

__all__ = [
    "LEAST_BATCH", "LEAST_REGISTER", "Learnt", "Outcome", "Question", "Subjects", "applied", "learnt_from",
    "outcomes_of",
]  # fmt: skip
