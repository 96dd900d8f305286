"""The orders as files for people: the workbook."""
