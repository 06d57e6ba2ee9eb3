"""Work that a team of threads shares may be done in any order: the kernels in plain Python, forwards and backwards."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

PROGRAM = """
import sys
import numpy as np
from tipmech.kernel import team
if sys.argv[1] == "backwards":
    team.dealt = team.rounds = lambda count: range(count - 1, -1, -1)
    team.in_turn = lambda turn, count: range(count - 1, -1, -1)
from dataclasses import replace
from insertion_cases import in_pocket, make_case
from tipmech.insertion.case import Move
from tipmech.insertion.lane import carry_lane, make_lane
case = make_case(5e-8, 40.0, roll=0.3)
case = in_pocket(case) if sys.argv[2] == "pocket" else case
case = replace(case, numerics=replace(case.numerics, elements=12), moves=(Move("advance", float(sys.argv[3])),))
lane = make_lane(case, 120)
carry_lane(lane)
np.savez(sys.argv[4], answer=lane.answer, x=lane.w.x, scalars=lane.hist.scalars[: lane.answer[0]])
"""


@pytest.mark.slow
@pytest.mark.parametrize(("where", "feed"), [("lumen", 5e-3), ("pocket", 2e-3)])
def test_in_any_order(tmp_path, where, feed):
    found = []
    for order in ("forwards", "backwards"):
        out = tmp_path / f"{order}.npz"
        paths = os.pathsep.join([str(Path(__file__).parents[2]), *sys.path])
        environment = os.environ | {"NUMBA_DISABLE_JIT": "1", "PYTHONPATH": paths, "PYTHONWARNINGS": "ignore"}
        command = [sys.executable, "-c", PROGRAM, order, where, str(feed), str(out)]
        subprocess.run(command, env=environment, check=True)
        found.append(np.load(out))
    ahead, back = found
    assert ahead["answer"][0] > 5
    np.testing.assert_array_equal(back["answer"], ahead["answer"])
    np.testing.assert_allclose(back["x"], ahead["x"], atol=1e-9)
    push = ahead["scalars"][:, 2]
    np.testing.assert_allclose(back["scalars"][:, 2], push, atol=1e-6 * np.max(np.abs(push)))
