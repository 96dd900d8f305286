"""Shared mixes: which cores take their grout from the same mixes, so that the fewest bags are opened."""
