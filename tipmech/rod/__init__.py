"""The rod: strains, energy, band solver, structures and their paths, dynamics."""
