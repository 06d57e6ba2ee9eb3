"""Studies: sample, evaluate side by side, store, estimate. Floor 4."""
