"""Smooth elementary functions shared by the contact of a wire with walls and with itself. Floor 1."""

from .kernel import inlined


@inlined
def ramp(pen: float, eps: float) -> tuple[float, float, float]:
    """Half square of the penetration with its onset smoothed over +-eps: value, slope, curvature (<= 1)."""
    if pen <= -eps:
        return 0.0, 0.0, 0.0
    if pen >= eps:
        return 0.5 * pen * pen + eps * eps / 6.0, pen, 1.0
    p = pen + eps
    return p * p * p / (12.0 * eps), p * p / (4.0 * eps), p / (2.0 * eps)
