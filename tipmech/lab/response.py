"""A simulated bench figure as a smooth function of the wire's scale and the free length, from a few simulations.

The figure is nearly proportional to the scale of EI and GJ and nearly a power of the free length, so low polynomials
in their logarithms suffice: measured against direct simulation in tests and docs/wire/calibration.md.
"""

from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

from ..bench.measured import LENGTH_CUT, Datum, Kind, Setup, frictions_of, simulate
from ..profile import Profile

Array = NDArray[np.float64]

SCALE_NODES = 4  # simulated scales: a cubic in ln scale
LENGTH_NODES = 3  # simulated free lengths: a quadratic in ln length
JUMP_LENGTH, JUMP_LOG = 0.05e-3, 0.05  # m and of ln EI: a part's end is a ramp of a few micrometres
WIDE, WIDE_NODES = 0.1, 7  # of ln length: a span wider than this may hold a kink of the taper and gets more nodes
SCALE_REACH = 3.0  # prior sd of ln scale on either side that the nodes span
LEAST_LENGTHS = 13  # lengths of the quadrature over the free length
LENGTH_SPACING = 1.0  # measurement sd between its neighbours: a sum over Gaussians this close is smooth to 1e-8


@dataclass(frozen=True)
class Response:
    """ln figure = x + polynomial of x = ln scale and of ln free length, for each simulated end of the bench.

    edges : ndarray, shape (pieces + 1,), ln free lengths (m) between which one polynomial holds (equal: one length)
    coefficients : ndarray, shape (pieces, ends, SCALE_NODES, lengths), in ln length counted -1..1 over its piece
    """

    edges: Array
    coefficients: Array

    def at_length(self, free_length: float) -> Array:
        """Coefficients of the polynomial in x at a free length (m), shape (ends, SCALE_NODES)."""
        piece = int(np.searchsorted(self.edges[1:-1], log(free_length)))
        low, high = self.edges[piece : piece + 2]
        way = (2.0 * log(free_length) - low - high) / (high - low) if high > low else 0.0
        return np.asarray(self.coefficients[piece] @ way ** np.arange(self.coefficients.shape[3]))

    def log_value(self, x: Array, end: Array | float, free_length: float) -> Array:
        """Logarithm of the figure (N or N/m) at ln scale `x` and end condition `end` (0 free, 1 pinned), broadcast."""
        parts = [np.polynomial.polynomial.polyval(x, c) for c in self.at_length(free_length)]
        rest = parts[0] if len(parts) == 1 else (1.0 - end) * parts[0] + end * parts[1]
        return np.asarray(x + rest)


def respond(
    profile: Profile,
    kind: Kind,
    free_length: float,
    length_sd: float,
    setup: Setup,
    scale_sd: float,
    scale_nodes: int = SCALE_NODES,
) -> Response:
    """Simulate a figure at Chebyshev nodes of scale and free length, and interpolate.

    Parameters
    ----------
    profile : Profile
        the wire as drawn
    kind, free_length, length_sd, setup
        the measurement, as in `Datum` and `Setup`
    scale_sd : float
        prior sd of ln scale
    """
    xs = SCALE_REACH * scale_sd * _nodes(scale_nodes)
    low, high = (free_length + sign * LENGTH_CUT * length_sd for sign in (-1.0, 1.0))
    edges = np.log([low, *(d for d in jumps(profile) if low < d < high), high])
    wide = edges[-1] - edges[0] > 2.0 * WIDE
    ways = np.zeros(1) if length_sd == 0.0 else _nodes(WIDE_NODES if wide else LENGTH_NODES)
    frictions = frictions_of(kind, setup)
    table = np.empty((len(edges) - 1, len(frictions), len(xs), len(ways)))
    for i, x in enumerate(xs):
        wire = profile.softened(float(np.exp(x)))
        for p, j in np.ndindex(len(edges) - 1, len(ways)):
            length = float(np.exp(0.5 * (edges[p] + edges[p + 1] + ways[j] * (edges[p + 1] - edges[p]))))
            for e, mu in enumerate(frictions):
                table[p, e, i, j] = log(simulate(wire, kind, length, mu, setup.travel)) - x
    in_scale = np.linalg.inv(np.vander(xs, increasing=True))
    in_length = np.linalg.inv(np.vander(ways, increasing=True)) if len(ways) > 1 else np.ones((1, 1))
    return Response(edges, np.einsum("ai,peij,bj->peab", in_scale, table, in_length))


def jumps(profile: Profile) -> Array:
    """Distances from the tip (m) at which a bending rigidity jumps: a part ends, and figures have a kink in length."""
    changes = [np.abs(np.diff(np.log(bend))) for bend in (profile.EI1, profile.EI2)]
    steep = (np.diff(profile.distance) < JUMP_LENGTH) & (np.maximum(*changes) > JUMP_LOG)
    return np.asarray(0.5 * (profile.distance[1:] + profile.distance[:-1])[steep])


def respond_to(profile: Profile, datum: Datum, setup: Setup, scale_sd: float) -> Response:
    """Response of one of the user's measurements."""
    return respond(profile, datum.kind, datum.free_length, datum.length_sd, setup, scale_sd)


def lengths_of(kind: Kind, free_length: float, length_sd: float, log_sd: float) -> tuple[Array, Array]:
    """Free lengths (m) and weights of a quadrature over their cut normal distribution, as fine as the error asks.

    Returns
    -------
    tuple of ndarray, shape (n,)
        equidistant lengths and weights that sum to 1
    """
    if length_sd == 0.0:
        return np.array([free_length]), np.ones(1)
    power = 2.0 if kind == "tip_load" else 3.0  # the figure goes as 1/L^2 or 1/L^3
    span = 2.0 * LENGTH_CUT * length_sd / free_length * power
    n = max(LEAST_LENGTHS, int(np.ceil(span / (LENGTH_SPACING * log_sd))) + 1)
    way = np.linspace(-LENGTH_CUT, LENGTH_CUT, n)
    weight = np.exp(-0.5 * way**2)
    weight[[0, -1]] *= 0.5
    return free_length + length_sd * way, weight / np.sum(weight)


def _nodes(n: int) -> Array:
    """Chebyshev nodes on (-1, 1)."""
    return np.asarray(np.cos(np.pi * (np.arange(n) + 0.5) / n))
