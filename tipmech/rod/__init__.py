"""The rod: strains, energy, band solver, statics, stability, dynamics."""
