"""Parts of insertions, and whole ones, timed on a GPU from what `pack.py` wrote.

    python measure.py FOLDER [--lanes 1,1024,16384,32768] [--parts elastic,contact,factorisation,iteration]
                      [--increments 10] [--registers 255]

Needs NumPy, CuPy and ptxas, and nothing of this package: FOLDER and this file may be taken to another machine. Parts
in lockstep: every lane repeats the part on its own data, us a launch and a lane. Insertions: each lane carries out so
many increments of its own (0: all), beside what the CPU made of them.
"""

import argparse
import re
import subprocess
from pathlib import Path

import cupy as cp
import numpy as np

WARP = 32


def blocks(path):
    """Blocks (n, words, WARP) of the lanes of a file, and the file's arrays."""
    file = dict(np.load(path))
    n = len(file["counts"]) // WARP * WARP
    image, at = np.tile(file["base"], (n, 1)), np.concatenate([[0], np.cumsum(file["counts"])])
    for k in range(n):
        image[k, file["at"][at[k] : at[k + 1]]] = file["words"][at[k] : at[k + 1]]
    return image.reshape(n // WARP, WARP, -1).transpose(0, 2, 1).copy(), file


def load(folder, name, registers):
    """Entry of a program."""
    source, code = folder / f"{name}.ptx", folder / f"{name}-{registers}.cubin"
    if not code.exists():
        subprocess.run(["ptxas", "-arch=sm_90", f"-maxrregcount={registers}", source, "-o", code], check=True)
    entry = re.search(r"\.entry (\w+)", source.read_text()).group(1)
    return cp.RawModule(path=str(code)).get_function(entry)


def spread(made, lanes):
    """Device memory with `lanes` lanes: the blocks over and over."""
    count = -(-lanes // made.shape[2])
    memory, source = cp.empty((count, *made.shape[1:]), dtype=np.int64), cp.asarray(made)
    for k in range(0, count, len(made)):
        memory[k : k + len(made)] = source[: count - k]
    return memory


def timed(entry, memory, lanes, *numbers, threads=64):
    """Seconds of a launch."""
    begin, end = cp.cuda.Event(), cp.cuda.Event()
    begin.record()
    entry((-(-lanes // threads),), (threads,), (np.int64(memory.data.ptr), np.int64(lanes), *map(np.int64, numbers)))
    end.record()
    end.synchronize()
    return cp.cuda.get_elapsed_time(begin, end) * 1e-3


def words(memory, first, count):
    """Words of all lanes (lanes, count)."""
    return memory[:, first : first + count].get().transpose(0, 2, 1).reshape(-1, count)


def measure_part(folder, name, sizes, registers):
    """Print the time of a part for numbers of lanes."""
    entry, made, said = load(folder, name, registers), blocks(folder / "middle.npz")[0], []
    by_warp = name.endswith("by_warp")  # a block of threads each, lanes one after another
    if by_warp:
        made = made.transpose(0, 2, 1).reshape(-1, made.shape[1], 1)
    for lanes in sizes:
        memory = spread(made, lanes)
        spent = []
        for repeats in (1, 1, 5, 5):
            threads = lanes * WARP if by_warp else lanes
            spent.append(timed(entry, memory, threads, repeats, threads=WARP if by_warp else 64))
        each = (min(spent[2:]) - spent[1]) / 4
        said.append(f"{lanes} lanes {each * 1e6:.0f} us ({each / lanes * 1e6:.4f} a lane)")
    print(f"{name}: {entry.num_regs} registers, {entry.local_size_bytes} B local; {'; '.join(said)}", flush=True)


def measure_insertions(folder, sizes, registers, increments):
    """Print time and agreement of whole insertions for numbers of lanes."""
    entry, (made, file) = load(folder, "insertions", registers), blocks(folder / "start.npz")
    if increments:
        made[:, file["moves"], :] = np.minimum(made[:, file["moves"], :], increments)
    for lanes in sizes:
        memory = spread(made, lanes)
        spent = timed(entry, memory, lanes)
        n = min(lanes, made.shape[0] * WARP)
        memory = memory[: -(-n // WARP)]
        answers, cpu = words(memory, int(file["answer"]), 2)[:n], file["answers"][:n]
        width, rows = int(file["width"]), file["cpu_scalars"].shape[1]
        scalars = words(memory, int(file["scalars"]), width * rows)[:n].view(np.float64).reshape(n, rows, width)
        done = np.minimum(answers[:, 0], cpu[:, 0])
        mine = [scalars[k, : done[k], file["columns"][0]] for k in range(n)]
        theirs = [file["cpu_scalars"][k, : done[k], 0] for k in range(n)]
        apart = [np.max(np.abs(a - b)) / np.max(np.abs(b)) for a, b in zip(mine, theirs, strict=True)]
        ends = f", ends as on the CPU {np.mean(np.all(answers == cpu, axis=1)):.3f}" if not increments else ""
        print(f"insertions: {lanes} lanes {spent:.2f} s, {lanes / spent:.1f} a second{ends}; push apart")
        print(
            f"    from the CPU's, of its largest: median {np.median(apart):.1e}, most {np.max(apart):.1e}", flush=True
        )
    print(f"CPU: {float(file['cpu_seconds']):.3f} s an insertion, processor time")


def main():
    """Read the command line and measure."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--lanes", default="1,1024,16384,32768")
    parser.add_argument("--parts", default="elastic,contact,factorisation,iteration")
    parser.add_argument("--increments", type=int, default=10)
    parser.add_argument("--insertions", default="", help="numbers of lanes that carry out whole insertions")
    parser.add_argument("--registers", type=int, default=255)
    args = parser.parse_args()
    for name in filter(None, args.parts.split(",")):
        measure_part(args.folder, name, [int(n) for n in args.lanes.split(",")], args.registers)
    if args.insertions:
        sizes = [int(n) for n in args.insertions.split(",")]
        measure_insertions(args.folder, sizes, args.registers, args.increments)


if __name__ == "__main__":
    main()
