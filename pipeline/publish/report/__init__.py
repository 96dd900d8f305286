"""The report: one self-contained HTML file, also as a PDF."""
