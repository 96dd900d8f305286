"""The programme file and the shipped configuration, read and validated."""
