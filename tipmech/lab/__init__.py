"""Work with a user's own measurements: calibration. Floor 6."""
