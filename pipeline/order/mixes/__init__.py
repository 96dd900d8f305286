"""Mixes: which cores take their grout from the same bags."""
