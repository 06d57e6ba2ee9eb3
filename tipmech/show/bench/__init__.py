"""Drawings of the bench tests: one or several wires over each other in axes handed in."""
