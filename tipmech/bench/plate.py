"""A flat stiff plate that meets one node of the rod, with Coulomb friction: an incremental potential.

theory, section "Bench tests". The tip is the rod's last node: the dome's rolling on the plate is left out.
"""

from dataclasses import dataclass, replace
from math import inf, isinf

import numpy as np

from ..rod.elastic import Array
from ..rod.loads import Potential


@dataclass(frozen=True)
class Plate:
    """Plate and the state of its friction.

    point : ndarray, shape (3,), a point of the surface, m
    normal : ndarray, shape (3,), unit normal, toward the wire
    stiffness : normal stiffness, N/m
    stick_stiffness : tangential stiffness while the tip sticks, N/m
    friction : Coulomb coefficient (inf: never slips)
    traction : ndarray, shape (3,), friction force on the tip at the end of the last increment, N
    anchor : ndarray, shape (3,), tip position then, m
    """

    point: Array
    normal: Array
    stiffness: float
    stick_stiffness: float
    friction: float
    traction: Array
    anchor: Array

    def penetration(self, tip: Array) -> float:
        """Depth of the tip below the surface, m (0 when it does not touch)."""
        return max(0.0, float((self.point - tip) @ self.normal))

    def normal_force(self, tip: Array) -> float:
        """Normal force on the tip, N."""
        return self.stiffness * self.penetration(tip)

    def trial(self, tip: Array) -> Array:
        """Friction force if the tip had stuck throughout the increment, shape (3,), N."""
        step = tip - self.anchor
        return self.traction - self.stick_stiffness * (step - (step @ self.normal) * self.normal)

    def friction_force(self, tip: Array, pressed: float) -> tuple[Array, bool]:
        """Friction force on the tip (3,) under normal force `pressed` (N), and whether it slips (return mapping)."""
        force = self.trial(tip)
        size, limit = float(np.linalg.norm(force)), self.limit(pressed)
        if size <= limit:
            return force, False
        return force * (limit / size), True

    def limit(self, pressed: float) -> float:
        """Largest friction force, N; without bound for a pinned tip."""
        return inf if isinf(self.friction) else self.friction * pressed

    def advanced(self, tip: Array, pressed: float) -> "Plate":
        """Plate after a converged increment: the friction force and tip position become the next one's start."""
        force, _ = self.friction_force(tip, pressed)
        return replace(self, traction=force, anchor=tip.copy())

    def potential(self, pressed: float) -> Potential:
        """Incremental potential of the last node's contact under the lagged normal force `pressed` (N).

        Penalty for the normal part; for friction t^2/2k while |t| <= mu N, else mu N (|t| - mu N/2)/k with t the
        trial force: its gradient is minus the friction force of the return mapping.
        """
        limit, k = self.limit(pressed), self.stick_stiffness
        flat = np.eye(3) - np.outer(self.normal, self.normal)

        def energy(x: Array) -> tuple[float, Array, Array]:
            g, h = np.zeros_like(x), np.zeros((x.shape[0], 3, 3))
            depth = self.penetration(x[-1])
            value = 0.5 * self.stiffness * depth**2
            g[-1] = -self.stiffness * depth * self.normal
            if depth > 0.0:
                h[-1] = self.stiffness * np.outer(self.normal, self.normal)
            if limit == 0.0:
                return value, g, h
            force = self.trial(x[-1])
            size = float(np.linalg.norm(force))
            if size <= limit:
                g[-1] -= force
                h[-1] += k * flat
                return value + 0.5 * size**2 / k, g, h
            way = force / size
            g[-1] -= limit * way
            h[-1] += k * limit / size * (flat - np.outer(way, way))
            return value + limit * (size - 0.5 * limit) / k, g, h

        return energy
