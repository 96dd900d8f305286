"""The report: one self-contained HTML file, and the same as a PDF."""
