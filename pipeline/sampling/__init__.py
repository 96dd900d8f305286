"""Inspection samples: plans, draws and verdicts."""
