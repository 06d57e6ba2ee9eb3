"""Vectors, 3x3 matrices and unit quaternions as tuples of floats: the small algebra of the kernels.

A vector is (x, y, z); a matrix is its nine entries row by row; a quaternion is (w, x, y, z). Tuples live
in registers, allocate nothing and compile for a CPU and a GPU alike.
"""

from math import atan2, cos, sin, sqrt, tan

from ..kernel import kernel

V = tuple[float, float, float]
M = tuple[float, float, float, float, float, float, float, float, float]
Q = tuple[float, float, float, float]

SMALL = 1e-2  # squared angle below which series replace the closed forms (their error there is < 1e-13)


@kernel
def dot(a: V, b: V) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@kernel
def cross(a: V, b: V) -> V:
    """Vector product."""
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


@kernel
def skew(a: V) -> M:
    """Matrix [a] with [a] b = a x b."""
    return (0.0, -a[2], a[1], a[2], 0.0, -a[0], -a[1], a[0], 0.0)


@kernel
def mul(m: M, v: V) -> V:
    """Matrix times vector."""
    return (
        m[0] * v[0] + m[1] * v[1] + m[2] * v[2],
        m[3] * v[0] + m[4] * v[1] + m[5] * v[2],
        m[6] * v[0] + m[7] * v[1] + m[8] * v[2],
    )


@kernel
def tmul(m: M, v: V) -> V:
    """Transposed matrix times vector."""
    return (
        m[0] * v[0] + m[3] * v[1] + m[6] * v[2],
        m[1] * v[0] + m[4] * v[1] + m[7] * v[2],
        m[2] * v[0] + m[5] * v[1] + m[8] * v[2],
    )


@kernel
def matmul(a: M, b: M) -> M:
    """Matrix product a b."""
    return (
        a[0] * b[0] + a[1] * b[3] + a[2] * b[6],
        a[0] * b[1] + a[1] * b[4] + a[2] * b[7],
        a[0] * b[2] + a[1] * b[5] + a[2] * b[8],
        a[3] * b[0] + a[4] * b[3] + a[5] * b[6],
        a[3] * b[1] + a[4] * b[4] + a[5] * b[7],
        a[3] * b[2] + a[4] * b[5] + a[5] * b[8],
        a[6] * b[0] + a[7] * b[3] + a[8] * b[6],
        a[6] * b[1] + a[7] * b[4] + a[8] * b[7],
        a[6] * b[2] + a[7] * b[5] + a[8] * b[8],
    )


@kernel
def transpose(a: M) -> M:
    """Transpose."""
    return (a[0], a[3], a[6], a[1], a[4], a[7], a[2], a[5], a[8])


@kernel
def add(a: M, b: M, factor: float) -> M:
    """Sum a + factor b."""
    return (
        a[0] + factor * b[0],
        a[1] + factor * b[1],
        a[2] + factor * b[2],
        a[3] + factor * b[3],
        a[4] + factor * b[4],
        a[5] + factor * b[5],
        a[6] + factor * b[6],
        a[7] + factor * b[7],
        a[8] + factor * b[8],
    )


@kernel
def scale_columns(a: M, d: V) -> M:
    """Product a diag(d)."""
    return (
        a[0] * d[0],
        a[1] * d[1],
        a[2] * d[2],
        a[3] * d[0],
        a[4] * d[1],
        a[5] * d[2],
        a[6] * d[0],
        a[7] * d[1],
        a[8] * d[2],
    )


@kernel
def scale_rows(d: V, a: M) -> M:
    """Product diag(d) a."""
    return (
        d[0] * a[0],
        d[0] * a[1],
        d[0] * a[2],
        d[1] * a[3],
        d[1] * a[4],
        d[1] * a[5],
        d[2] * a[6],
        d[2] * a[7],
        d[2] * a[8],
    )


@kernel
def skew_product(a: V, b: V) -> M:
    """Product [a] [b], without the zeros of its factors."""
    x, y, z = a
    p, q, r = b
    return (-z * r - y * q, y * p, z * p, x * q, -z * r - x * p, z * q, x * r, y * r, -y * q - x * p)


@kernel
def skew_square(a: V, d: V) -> M:
    """Product [a]^T diag(d) [a], symmetric, without the zeros of its factors."""
    x, y, z = a
    xy, xz, yz = -x * (d[2] * y), -x * (d[1] * z), -y * (d[0] * z)
    xx, yy, zz = z * (d[1] * z) + y * (d[2] * y), z * (d[0] * z) + x * (d[2] * x), y * (d[0] * y) + x * (d[1] * x)
    return (xx, xy, xz, xy, yy, yz, xz, yz, zz)


@kernel
def symmetric(a: M) -> M:
    """Symmetric part."""
    p = 0.5 * (a[1] + a[3])
    q = 0.5 * (a[2] + a[6])
    r = 0.5 * (a[5] + a[7])
    return (a[0], p, q, p, a[4], r, q, r, a[8])


@kernel
def outer(a: V, b: V) -> M:
    """Dyad a b^T."""
    return (
        a[0] * b[0],
        a[0] * b[1],
        a[0] * b[2],
        a[1] * b[0],
        a[1] * b[1],
        a[1] * b[2],
        a[2] * b[0],
        a[2] * b[1],
        a[2] * b[2],
    )


@kernel
def rotation(q: Q) -> M:
    """Rotation matrix of a unit quaternion; columns are the frame's axes."""
    w, x, y, z = q
    return (
        1.0 - 2.0 * (y * y + z * z),
        2.0 * (x * y - w * z),
        2.0 * (x * z + w * y),
        2.0 * (x * y + w * z),
        1.0 - 2.0 * (x * x + z * z),
        2.0 * (y * z - w * x),
        2.0 * (x * z - w * y),
        2.0 * (y * z + w * x),
        1.0 - 2.0 * (x * x + y * y),
    )


@kernel
def quat_mul(a: Q, b: Q) -> Q:
    """Quaternion product: the rotation b in the frame a."""
    return (
        a[0] * b[0] - a[1] * b[1] - a[2] * b[2] - a[3] * b[3],
        a[0] * b[1] + a[1] * b[0] + a[2] * b[3] - a[3] * b[2],
        a[0] * b[2] - a[1] * b[3] + a[2] * b[0] + a[3] * b[1],
        a[0] * b[3] + a[1] * b[2] - a[2] * b[1] + a[3] * b[0],
    )


@kernel
def quat_relative(a: Q, b: Q) -> Q:
    """Quaternion of Ra^T Rb."""
    return quat_mul((a[0], -a[1], -a[2], -a[3]), b)


@kernel
def quat_turn(q: Q, theta: V) -> Q:
    """Quaternion of R exp(theta), renormalised; theta in the material frame, rad."""
    angle2 = dot(theta, theta)
    half = 0.5 * sqrt(angle2)
    k = 0.5 - angle2 / 48.0 if angle2 < SMALL * SMALL else sin(half) / (2.0 * half)
    p = quat_mul(q, (cos(half), k * theta[0], k * theta[1], k * theta[2]))
    norm = 1.0 / sqrt(p[0] * p[0] + p[1] * p[1] + p[2] * p[2] + p[3] * p[3])
    return (p[0] * norm, p[1] * norm, p[2] * norm, p[3] * norm)


@kernel
def quat_log(q: Q) -> V:
    """Rotation vector of a unit quaternion, angle in [0, pi], rad."""
    sign = 1.0 if q[0] >= 0.0 else -1.0
    norm = sqrt(q[1] * q[1] + q[2] * q[2] + q[3] * q[3])
    w = sign * q[0]
    k = 2.0 / w * (1.0 - norm * norm / (3.0 * w * w)) if norm < 1e-4 else 2.0 * atan2(norm, w) / norm
    k *= sign
    return (k * q[1], k * q[2], k * q[3])


@kernel
def log_coefficients(phi: V) -> tuple[float, float]:
    """Coefficient c of the inverse right Jacobian I + [phi]/2 + c [phi]^2, and dc/d(phi^2). theory (9)."""
    s = dot(phi, phi)
    if s < SMALL:
        c = 1.0 / 12.0 + s * (1.0 / 720.0 + s * (1.0 / 30240.0 + s / 1209600.0))
        return c, 1.0 / 720.0 + s * (1.0 / 15120.0 + s * (1.0 / 403200.0 + s / 11975040.0))
    angle = sqrt(s)
    half = 0.5 * angle
    cot = 1.0 / tan(half)
    c = (1.0 - half * cot) / s
    slope = -0.5 * (cot - half * (1.0 + cot * cot)) / s - 2.0 * (1.0 - half * cot) / (s * angle)
    return c, slope / (2.0 * angle)


@kernel
def inverse_right_jacobian(phi: V, c: float) -> M:
    """Inverse right Jacobian of SO(3) at rotation vector phi (coefficient c from log_coefficients)."""
    x, y, z = phi
    xx, yy, zz = c * x * x, c * y * y, c * z * z
    xy, xz, yz = c * x * y, c * x * z, c * y * z
    return (
        1.0 - yy - zz,
        xy - 0.5 * z,
        xz + 0.5 * y,
        xy + 0.5 * z,
        1.0 - xx - zz,
        yz - 0.5 * x,
        xz - 0.5 * y,
        yz + 0.5 * x,
        1.0 - xx - yy,
    )
