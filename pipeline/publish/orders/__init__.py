"""Orders as people use them: the workbook."""
