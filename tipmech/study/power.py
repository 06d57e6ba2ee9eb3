"""Power of paired comparisons and the points they need. Knows no physics."""

from math import ceil, inf, isfinite, nan, sqrt

from scipy import stats


def pairs_needed(difference: float, apart: float, level: float, power: float) -> float:
    """Points at which a paired risk difference is found with the power wanted (two-sided McNemar test).

    n = (z_a sqrt(psi) + z_b sqrt(psi - d^2))^2 / d^2 with psi the share of points at which the designs differ: Connor,
    Biometrics 43 (1987) 207-211 (from memory). Infinite for d = 0; not a number where |d| > psi, which cannot be.
    """
    if difference == 0.0:
        return inf
    if abs(difference) > apart:
        return nan
    za, zb = stats.norm.ppf(1.0 - level / 2.0), stats.norm.ppf(power)
    return float(ceil((za * sqrt(apart) + zb * sqrt(apart - difference**2)) ** 2 / difference**2))


def power_of(difference: float, apart: float, level: float, points: float, degrees: float = inf) -> float:
    """Power of the paired comparison with so many independent points, its error known with so many degrees of freedom.

    The statistic d sqrt(n/psi) has the standard deviation sqrt((psi - d^2)/psi): noncentral t. With infinite degrees
    the inverse of `pairs_needed`.
    """
    if apart <= 0.0 or abs(difference) > apart:
        return nan
    spread = sqrt(max(apart - difference**2, 1e-12))
    return _power(abs(difference) * sqrt(points) / spread, sqrt(apart) / spread, level, degrees)


def points_needed(difference: float, sd: float, level: float, power: float) -> float:
    """Points at which a paired difference of means is found with the power wanted (two-sided test).

    n = ((z_a + z_b) s / d)^2 with s the standard deviation of the differences between points, points independent.
    Infinite for d = 0.
    """
    if difference == 0.0:
        return inf
    z = stats.norm.ppf(1.0 - level / 2.0) + stats.norm.ppf(power)
    return float(ceil((z * sd / difference) ** 2))


def power_of_mean(difference: float, error: float, level: float, degrees: float = inf) -> float:
    """Power of a two-sided test of a mean of this standard error, known with so many degrees of freedom."""
    if not error > 0.0:
        return nan
    return _power(abs(difference) / error, 1.0, level, degrees)


def _power(shift: float, scale: float, level: float, degrees: float) -> float:
    """Chance that a statistic about `shift` standard deviations lies beyond `scale` times Student's t quantile."""
    if not isfinite(degrees):
        return float(stats.norm.sf(scale * stats.norm.ppf(1.0 - level / 2.0) - shift))
    return float(stats.nct.sf(scale * stats.t.ppf(1.0 - level / 2.0, degrees), degrees, shift))
