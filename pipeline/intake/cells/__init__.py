"""Cells as people write them, read by the column: numbers, measures, dates and positions."""
