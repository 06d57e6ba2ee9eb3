"""Animations of finished results: insertions, two side by side, procedures, bench tests. Draws, never computes."""
