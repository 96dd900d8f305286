"""The ledger: findings followed from one run to the next, and who has to act on them."""

from pipeline.ledger.fingerprints import fingerprints, fingerprints_as_written, with_fingerprints

__all__ = ["fingerprints", "fingerprints_as_written", "with_fingerprints"]
