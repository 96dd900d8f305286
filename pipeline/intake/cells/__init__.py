"""What people write in a cell, as whole columns of numbers, measures, dates and positions."""
