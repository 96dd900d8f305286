"""The map: one self-contained HTML file."""
