"""Calibration and design exploration: what users do with the bench. Floor 6."""
