"""Factors and solution of a band by the 32 threads of a warp, in plain Python: threads that wait for one another."""

import os
import subprocess
import sys

import pytest

PROGRAM = """
import sys
import threading
import numpy as np
from tipmech.rod import band, on_gpu
from tipmech.gpu.team import STANDS_FOR

size, sides, shift = (int(a) for a in sys.argv[1:])
barrier, own, told = threading.Barrier(32), threading.local(), [0.0] * 32
arrays = {}

class Shared:
    def array(self, shape, kind):
        own.count += 1
        return arrays.setdefault(own.count, np.full(shape, np.nan))

class Cuda:
    shared = Shared()
    def shfl_sync(self, mask, value, source):
        told[own.number] = value
        barrier.wait()
        value = told[source % 32]
        barrier.wait()
        return value

on_gpu.cuda, on_gpu.lane, on_gpu.together = Cuda(), lambda: own.number, barrier.wait

rng = np.random.default_rng(size + sides)
matrix = np.full((size, 9), np.nan)
for i in range(size):
    matrix[i, max(0, 8 - i) :] = rng.normal(size=min(9, i + 1))
    matrix[i, 8] += 20.0 - 2.0 * shift * (i % 7)
right = rng.normal(size=(sides, size))
fac, b, answers = np.zeros((size, 9)), right.copy(), [None] * 32

def run(number):
    own.number, own.count = number, 0
    answers[number] = STANDS_FOR[band.factor_and_solve](matrix, fac, b)

threads = [threading.Thread(target=run, args=(k,)) for k in range(32)]
for t in threads:
    t.start()
for t in threads:
    t.join()
theirs, known = np.zeros((size, 9)), right.copy()
negative = band.factor_and_solve(matrix, theirs, known)
assert answers == [negative] * 32, answers
for i in range(size):
    np.testing.assert_allclose(fac[i, max(0, 8 - i) :], theirs[i, max(0, 8 - i) :], rtol=1e-8, atol=1e-11)
np.testing.assert_allclose(b, known, rtol=1e-7, atol=1e-9)
print(negative)
"""


@pytest.mark.slow
@pytest.mark.parametrize(("size", "sides", "shift"), [(51, 1, 0), (48, 4, 3), (27, 3, 2), (9, 2, 0)])
def test_a_warp_and_one_thread_find_the_same(size, sides, shift):
    environment = os.environ | {"NUMBA_DISABLE_JIT": "1", "PYTHONPATH": os.pathsep.join(sys.path)}
    command = [sys.executable, "-c", PROGRAM, str(size), str(sides), str(shift)]
    found = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=300)
    assert found.returncode == 0, found.stderr
    assert (int(found.stdout) > 0) == (shift > 0)
