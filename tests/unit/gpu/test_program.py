"""Kernels as programs of a GPU, compiled where there is none (extra `gpu`)."""

from typing import NamedTuple

import numpy as np
import pytest

from tipmech.gpu.lanes import Slot
from tipmech.kernel import bundle
from tipmech.rod.band import WIDTH, factor_and_solve

pytest.importorskip("numba_cuda")


@bundle
class System(NamedTuple):
    band: np.ndarray
    fac: np.ndarray
    rhs: np.ndarray
    negative: np.ndarray


def test_a_program_of_kernels():
    from numba import cuda

    import tipmech.rod.on_gpu  # noqa: F401
    from tipmech.gpu.kinds import lane_reader, program

    size = 51
    system = System(*np.zeros((2, size, WIDTH)), np.zeros((1, size)), np.zeros(1, dtype=np.int64))
    read = lane_reader(Slot(system))

    def lanes(address, count):
        i = cuda.blockIdx.x
        if i < count:
            s = read(address, i)
            s.negative[0] = factor_and_solve(s.band, s.fac, s.rhs)

    text = program(lanes, name="systems")
    assert ".visible .entry systems" in text and ".target sm_90" in text
    assert "fma.rn.f64" in text and ".shared" in text and "shfl.sync" in text  # by a warp, see rod/on_gpu.py
