"""Insertions as a program of a GPU, one a thread from its start to its end. Needs the extra `gpu`, but no GPU."""

from typing import Any

from numba import cuda

from ..gpu.kinds import lane_reader, program
from ..gpu.lanes import Slot
from .lane import carry_lane


def insertions_program(slot: Slot) -> str:
    """Program (PTX) whose entry `lanes` carries out lanes: address of the blocks, number of lanes."""
    read = lane_reader(slot)

    def lanes(address: int, count: int) -> None:
        i: Any = cuda.grid(1)
        if i < count:
            carry_lane(read(address, i))

    return program(lanes)
