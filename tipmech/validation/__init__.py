"""The table of checks: computed value, reference, error, tolerance, source. Floor 4."""
