"""The outputs of a calibration."""
