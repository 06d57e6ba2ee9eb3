"""Drawings of bench tests into given axes, one or several wires over each other. They draw finished results."""
