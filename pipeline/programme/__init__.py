"""What a programme file and the shipped configuration hold, read and validated."""
