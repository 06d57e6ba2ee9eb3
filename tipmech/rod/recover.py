"""Internal forces, moments and strain energy of a state (kernels), the results of a structure."""

from ..kernel import kernel
from .elastic import Array, _joint, element_strain
from .model import Model, Pose
from .moving import row3, row4
from .small import quat_mul, rotation


@kernel
def internal(model: Model, pose: Pose, forces: Array, moments: Array) -> float:
    """Fill forces (N, 3) of the elements and moments (N + 1, 2, 3) before and behind the nodes; the energy, J.

    In the axes of elements and sections, N and N m. Moments are those of the joints: of a whole joint on both sides, of
    half a joint on its own.
    """
    rod, x = model.rod, pose.x
    n = rod.length.shape[0]
    energy = 0.0
    for j in range(n):
        d = (x[j + 1, 0] - x[j, 0], x[j + 1, 1] - x[j, 1], x[j + 1, 2] - x[j, 2])
        g = element_strain(d, rotation(row4(pose.q, j)), rod.length[j])
        c = row3(rod.stretch, j)
        for a in range(3):
            forces[j, a] = c[a] * g[a]
            energy += 0.5 * rod.length[j] * c[a] * g[a] * g[a]
    moments[:] = 0.0
    for k in range(model.sides.shape[0]):
        a, b = model.sides[k, 0], model.sides[k, 1]
        qa = row4(pose.q, a)
        if model.turned[k] == 1:
            qa = quat_mul(qa, row4(model.offset, k))
        _, m, stored, _ = _joint(rod, k, qa, row4(pose.q, b))
        energy += stored
        node = b if b < n else a + 1
        for c3 in range(3):
            if a < n:
                moments[node, 0, c3] = m[c3]
            if b < n:
                moments[node, 1, c3] = m[c3]
    return energy
