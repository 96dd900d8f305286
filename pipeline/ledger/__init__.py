"""The ledger: findings followed from one run to the next, and who has to act on them."""

from pipeline.ledger.baseline import GONE, NEW, UNCHANGED, Baseline, nothing_gone
from pipeline.ledger.fingerprints import fingerprints, fingerprints_as_written
from pipeline.ledger.follow import follow
from pipeline.ledger.gate import cores_failing
from pipeline.ledger.owners import owner_names, refuse_unknown_rules

__all__ = [
    "GONE", "NEW", "UNCHANGED", "Baseline", "cores_failing", "fingerprints", "fingerprints_as_written", "follow",
    "nothing_gone", "owner_names", "refuse_unknown_rules",
]  # fmt: skip
