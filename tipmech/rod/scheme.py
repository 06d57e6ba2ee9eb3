"""Parameters of the generalised-alpha method. theory (41).

Chung & Hulbert 1993, J. Appl. Mech. 60:371; from memory, checked against the amplification matrix in the tests.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Scheme:
    """Parameters of the generalised-alpha method from its spectral radius at infinite frequency. theory (41).

    rho : 1 keeps all modes, 0 takes out an infinitely fast one in one step
    """

    rho: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.rho <= 1.0:
            message = f"the spectral radius is {self.rho}; it must lie between 0 and 1"
            raise ValueError(message)

    @property
    def alpha_m(self) -> float:
        """Weight of the old auxiliary acceleration."""
        return (2.0 * self.rho - 1.0) / (self.rho + 1.0)

    @property
    def alpha_f(self) -> float:
        """Weight of the old acceleration."""
        return self.rho / (self.rho + 1.0)

    @property
    def gamma(self) -> float:
        """Weight of the new auxiliary acceleration in the velocity: second order."""
        return 0.5 + self.alpha_f - self.alpha_m

    @property
    def beta(self) -> float:
        """Its weight in the increment: largest damping of fast modes."""
        return 0.25 * (self.gamma + 0.5) ** 2

    @property
    def error_constant(self) -> float:
        """C in the local error C h^2 (w_new - w_old) of the increment. theory (45)."""
        return 1.0 / 12.0 + 0.25 * (self.alpha_m - self.alpha_f) ** 2

    def rates(self, h: float) -> tuple[float, float]:
        """Derivatives of accelerations (1/s2) and velocities (1/s) by the increments of a step of h (s)."""
        by_velocity = self.gamma / (h * self.beta)
        return (1.0 - self.alpha_m) / (h * h * self.beta * (1.0 - self.alpha_f)), by_velocity
