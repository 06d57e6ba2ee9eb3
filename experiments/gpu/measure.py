"""Insertions carried out by a GPU, timed, beside what the CPU made of them (see `pack.py`).

    python measure.py FOLDER [--insertions 1,1056,4224] [--registers 128] [--crowd 0] [--increments 0] [--device FILE]

Needs NumPy, cuda-bindings and ptxas, and of this package only tipmech/gpu/device.py and errors.py (--device: where the
first lies): FOLDER and this file may be taken to another machine. crowd: teams that share a multiprocessor at most
(0: as many as there is room for); increments: of each insertion (0: all). Each number of insertions is one launch.
"""

import argparse
import importlib.util
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

WORD, TEAM = 8, 32
COMPARED = 512  # insertions of a launch
HERE = Path(__file__).resolve().parents[2] / "tipmech" / "gpu" / "device.py"


def package(path):
    """The module of GPUs, without the package that it is in."""
    for name in ("errors", "device"):
        spec = importlib.util.spec_from_file_location(f"gpu.{name}", path.with_name(f"{name}.py"))
        module = sys.modules[f"gpu.{name}"] = importlib.util.module_from_spec(spec)
        sys.modules.setdefault("gpu", module)
        spec.loader.exec_module(module)
    return module


def assembled(folder, registers):
    """Machine code."""
    code = folder / f"insertions-{registers}.cubin"
    if not code.exists():
        command = ["ptxas", "-arch=sm_90", f"-maxrregcount={registers}", folder / "insertions.ptx", "-o", code]
        subprocess.run(command, check=True)
    return code.read_bytes()


def handed(gpu, stream, array):
    """Address of an array on the GPU."""
    address = gpu.memory(array.nbytes)
    gpu.put(address, np.ascontiguousarray(array), stream)
    return address


def measure(gpu, entry, file, lanes, crowd):
    """Carry out so many insertions, those of the file over and over; print time and agreement."""
    stream, size, n = gpu.stream(), int(file["size"]), len(file["answers"])
    which = np.arange(lanes) % n
    own = [np.arange(file["starts"][k], file["starts"][k + 1]) for k in range(n)]
    starts, at = np.concatenate([[0], np.cumsum([len(own[k]) for k in which])]), np.concatenate([own[k] for k in which])
    given = [file["common_at"], file["common"], starts, file["own_at"][at], file["own"][at]]
    places = [handed(gpu, stream, array) for array in given]
    memory = gpu.memory(lanes * size * WORD)
    gpu.clear(memory, lanes * size * WORD, stream)
    shared = gpu.crowd(entry, crowd) if crowd else 0
    begin = time.perf_counter()
    gpu.launch(entry, lanes, TEAM, [memory, *places[:2], len(file["common"]), *places[2:]], stream, shared)
    while not gpu.idle(stream):
        time.sleep(0.001)
    spent = time.perf_counter() - begin
    compared = min(lanes, COMPARED)
    answers, history = np.empty((compared, 2)), np.empty((compared, file["history"][0].size))
    gpu.get_rows(memory + int(file["answer"]) * WORD, size * WORD, answers, stream)
    gpu.get_rows(memory + int(file["scalars"]) * WORD, size * WORD, history, stream)
    answers, history = answers.view(np.int64), history.reshape(compared, *file["history"][0].shape)
    same, apart, together = 0, [], []
    for k in range(compared):
        cpu, theirs = file["history"][k % n], file["answers"][k % n]
        rows = min(answers[k, 0], theirs[0])
        same += np.array_equal(answers[k], theirs)
        push, known = history[k, :rows, int(file["push"])], cpu[:rows, int(file["push"])]
        off = np.abs(push - known) / np.max(np.abs(known))
        apart.append(off.max())
        together.append(np.append(np.flatnonzero(off > 1e-6), rows)[0] / rows)
    for address in (*places, memory):
        gpu.release(address)
    print(f"{lanes} insertions: {spent:.2f} s, {lanes / spent:.1f} a second; ends as on the CPU {same} of {compared}")
    print(f"    push apart, of its largest: median {np.median(apart):.1e}, most {np.max(apart):.1e};", end=" ")
    print(f"within 1e-6 for {np.median(together):.0%} of the increments (median), {np.min(together):.0%} (least)")


def main():
    """Read the command line and measure."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--insertions", default="1,1056,4224")
    parser.add_argument("--registers", type=int, default=128)
    parser.add_argument("--crowd", type=int, default=0)
    parser.add_argument("--increments", type=int, default=0)
    parser.add_argument("--device", type=Path, default=HERE)
    args = parser.parse_args()
    gpu = package(args.device).Gpu()
    file = dict(np.load(args.folder / "lanes.npz"))
    if args.increments:
        file["common"][np.searchsorted(file["common_at"], file["moves"])] = args.increments
        file["own"][file["own_at"] == file["moves"]] = args.increments
    entry = gpu.program(assembled(args.folder, args.registers), "insertions")
    teams = gpu.resident(entry, TEAM)
    print(f"{gpu.name}: {gpu.registers(entry)} registers, room for {teams} teams at once")
    print(f"CPU where the lanes were laid out: {float(file['seconds']):.3f} s an insertion, processor time")
    for lanes in map(int, args.insertions.split(",")):
        measure(gpu, entry, file, lanes, args.crowd)


if __name__ == "__main__":
    main()
