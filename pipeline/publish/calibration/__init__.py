"""What a calibration leaves behind."""
