"""Score statistic of a paired difference of two shares, and its interval. Knows no physics.

Tango, Statistics in Medicine 17 (1998) 891-908 (from memory). Numbers of points need not be whole.
"""

from math import sqrt

from scipy.optimize import brentq

EDGE = 1e-12  # from -1 and 1, where nothing is left to vary


def statistic(more: float, fewer: float, n: float, difference: float, beside: float = 0.0) -> float:
    """Standard errors by which (more - fewer)/n lies above `difference`, these as that difference would have them.

    more, fewer : of n points those at which the first alone, the second alone, shows the event
    beside : variance of (more - fewer)/n that other things than these points add to it
    """
    x = min(max(difference, -1.0 + EDGE), 1.0 - EDGE)
    b = -more - fewer + (2.0 * n - more + fewer) * x
    q = (sqrt(max(b * b + 8.0 * n * fewer * x * (1.0 - x), 0.0)) - b) / (4.0 * n)  # share of the second alone, fitted
    variance = n * (2.0 * q + x * (1.0 - x)) + n * n * beside
    off = more - fewer - n * x
    if variance <= 0.0:
        return 0.0 if off == 0.0 else (1e12 if off > 0.0 else -1e12)
    return off / sqrt(variance)


def interval(more: float, fewer: float, n: float, z: float, beside: float = 0.0) -> tuple[float, float]:
    """Differences that lie within z standard errors."""

    def end(z: float) -> float:
        def beyond(x: float) -> float:
            return statistic(more, fewer, n, x, beside) - z

        low, high = -1.0 + EDGE, 1.0 - EDGE
        if beyond(low) <= 0.0:
            return -1.0
        return 1.0 if beyond(high) >= 0.0 else float(brentq(beyond, low, high, xtol=1e-10))

    return end(z), end(-z)
