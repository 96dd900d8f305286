"""Our own outputs, read again: finished runs, filled-in samples, handover packs."""
