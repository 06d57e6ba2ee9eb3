"""Tasks on the workers of Dask's distributed scheduler, which may stand on other machines (extra `tipmech[scale]`).

The same tasks give the same chunks: workers only compute, this process writes what comes back into the store. A task
whose worker dies runs again on another one. Scheduler and workers must have the same code and packages as this process,
workers one thread each; this is asked before work is sent, and of every worker that comes later when it comes.
"""

import asyncio
import logging
import pickle
import re
from collections.abc import Iterator, Sequence
from concurrent.futures import CancelledError, ThreadPoolExecutor
from contextlib import contextmanager
from importlib.metadata import version
from itertools import islice
from typing import Any, Self
from uuid import uuid4

from distributed import Client, Future, KilledWorker, LocalCluster, Reschedule, WorkerPlugin, as_completed, get_worker
from distributed.comm.core import connect

from ..checks import FieldError, InputError, shown
from .task import Piece, Results, Stopped, Work
from .version import code_version, environment

LOCAL = "local"
ADDRESS = re.compile(r"tcp://(\[[0-9a-fA-F:.]+\]|[^\s:/@\[\]]+):(\d{1,5})")
LAST_PORT = 65535
TIMEOUT = 10  # s, for a scheduler to answer: far longer than a connection takes, short enough to be waited for
AHEAD = 2000  # tasks given to the scheduler before the first has ended: bounds its memory and the rows on their way
AHEAD_OF_EACH = 4  # or so many for each worker, if that is more
LEAVE = 1.0  # s after which an unfit worker leaves: while it still starts it cannot
RESTART = "scheduler and workers with the code and packages of this machine, started after their last change"
KEPT = "finished parts are kept; allowed: the same command again"


class DaskWorkers(int):
    """A number of workers, and the scheduler that they stand behind; made by `connected`.

    It is a number so that it goes wherever a number of workers goes: into `run_map` and its like, and the manifest.
    """

    client: Client

    def __new__(cls, client: Client, count: int) -> Self:
        """Workers of a client, `count` of them at the start; more may come, and go."""
        self = super().__new__(cls, count)
        self.client = client
        return self

    def results(self, tasks: Sequence[Piece], work: Work) -> Results:
        """Yield (task, rows) as they end."""
        run, waiting = uuid4().hex, iter(tasks)
        running: dict[Any, tuple[Future[bytes], Piece]] = {}
        study = _Study(f"tipmech-{run}", work)

        def send(task: Piece) -> Future[bytes]:
            future = self.client.submit(_work_on, study.name, task, key=f"{run}-{task.key}")
            running[future.key] = future, task
            return future

        try:
            with _lost_told():
                self.client.register_plugin(study)
                first = [send(t) for t in islice(waiting, max(AHEAD, AHEAD_OF_EACH * self))]
                ended = as_completed(first, self.client.loop, with_results=True, raise_errors=False)
            for future, rows in ended:
                task = running.pop(future.key)[1]
                if future.status != "finished":
                    raise _failure(task, rows)
                yield task, pickle.loads(rows)
                with _lost_told():
                    for following in islice(waiting, 1):
                        ended.add(send(following))
        finally:
            if self.client.status == "running":
                self.client.cancel([future for future, _ in running.values()])
                self.client.unregister_worker_plugin(study.name)


def check_address(address: str) -> str:
    """Address of a scheduler, or `local`; nothing is connected.

    Raises
    ------
    InputError
        if it is neither
    """
    found = ADDRESS.fullmatch(address)
    if address != LOCAL and (found is None or not 0 < int(found[2]) <= LAST_PORT):
        raise InputError(str(FieldError("--scheduler", address, f"tcp://HOST:PORT, or {LOCAL}")))
    return address


@contextmanager
def connected(address: str, processes: int) -> Iterator[DaskWorkers]:
    """Workers behind a scheduler at tcp://HOST:PORT, or so many `processes` of this machine behind one of its own.

    Raises
    ------
    InputError
        if the address is malformed, nobody answers within `TIMEOUT` s, or there are no workers, or workers with other
        code, other packages or several threads
    """
    if check_address(address) == LOCAL:
        options: dict[str, Any] = {"threads_per_worker": 1, "processes": True, "memory_limit": 0}
        options |= {"dashboard_address": "127.0.0.1:0", "silence_logs": logging.ERROR}
        with LocalCluster(n_workers=processes, **options) as cluster, Client(cluster, set_as_default=False) as client:
            yield DaskWorkers(client, _checked(client, LOCAL))
        return
    logging.getLogger("distributed.client").setLevel(logging.CRITICAL)  # that a scheduler is lost is said here
    try:
        with ThreadPoolExecutor(1) as thread:  # of its own: the caller's may run an event loop already
            thread.submit(asyncio.run, asyncio.wait_for(_greet(address), TIMEOUT)).result()
        client = Client(address, timeout=TIMEOUT, set_as_default=False)
    except Exception:  # refused, silent, unknown name, or an answer that is not Dask's
        why = f"no Dask scheduler answered at {address} within {TIMEOUT} s"
        raise InputError(f"--scheduler: {why}; allowed: the address that `dask scheduler` prints") from None
    with client:
        yield DaskWorkers(client, _checked(client, address))


async def _greet(address: str) -> None:
    """Exchange greetings with a scheduler: `Client` alone would wait for ever on a port that is open and silent."""
    await (await connect(address, timeout=TIMEOUT)).close()


def identity() -> dict[str, str]:
    """What must be the same here and on every worker: the code, Python and the packages, the kind of machine."""
    return {"tipmech": code_version(), **environment(), "distributed": version("distributed")}


def differences(ours: dict[str, str], theirs: dict[str, str]) -> str:
    """What a worker has otherwise than this process, in words; empty: nothing."""
    names = [name for name in ours if theirs.get(name) != ours[name]]
    return ", ".join(f"{name} {theirs.get(name)} (here {ours[name]})" for name in names)


def _checked(client: Client, address: str) -> int:
    """Number of workers, all of them fit for work."""
    threads: dict[str, int] = client.nthreads()
    if not threads:
        start = f"some, started by `dask worker {address} --nworkers N --nthreads 1`"
        raise InputError(f"--scheduler: there are no workers at {address}; allowed: {start}")
    several = [worker for worker, count in threads.items() if count != 1]
    if several:
        what = f"worker {several[0]} has {threads[several[0]]} threads"
        raise InputError(f"--scheduler: {what}; allowed: 1 for each worker (`dask worker --nthreads 1`)")
    try:
        found = {"the scheduler": client.run_on_scheduler(identity)}
        found |= {f"worker {worker}": theirs for worker, theirs in client.run(identity).items()}
    except Exception as error:
        why = f"scheduler or workers cannot load tipmech ({type(error).__name__}: {shown(str(error))})"
        raise InputError(f"--scheduler: {why}; allowed: {RESTART}") from None
    for where, theirs in found.items():
        if other := differences(identity(), theirs):
            raise InputError(f"--scheduler: {where} has {other}; allowed: {RESTART}")
    return len(threads)


class _Study(WorkerPlugin):
    """The work of a study on each worker: sent once, also to workers that come later.

    One that is unlike the process that sent the study takes no part: it hands its tasks back, and leaves.
    """

    def __init__(self, name: str, work: Work) -> None:
        self.name, self.work, self.ours, self.other = name, work, identity(), ""

    def setup(self, worker: Any) -> None:
        """Compare this worker with the process that sent the study."""
        self.other = differences(self.ours, identity())
        if self.other:
            logging.getLogger("distributed.worker").error(
                "leaving: this worker has %s; allowed: %s", self.other, RESTART
            )
            worker.loop.call_later(LEAVE, worker.close)


def _work_on(name: str, task: Piece) -> bytes:
    """Rows of a task, on a worker; as one piece, for Dask handles every array by itself (measured 4.0 -> 2.5 ms)."""
    study: Any = get_worker().plugins[name]
    if study.other:
        raise Reschedule
    return pickle.dumps(study.work(task), pickle.HIGHEST_PROTOCOL)


@contextmanager
def _lost_told() -> Iterator[None]:
    """Turn the loss of the scheduler into one sentence."""
    try:
        yield
    except (CancelledError, OSError) as error:
        raise _lost(error) from None


def _lost(error: BaseException) -> Stopped:
    return Stopped(f"--scheduler: the scheduler was lost ({type(error).__name__}), {KEPT}")


def _failure(task: Piece, result: Any) -> BaseException:
    """Why a task gave no rows: its own exception, or its workers or the scheduler were lost."""
    error = result[1] if isinstance(result, tuple) else result
    if isinstance(error, KilledWorker):
        return Stopped(f"--scheduler: part {task.key} was lost with its workers again and again, {KEPT}")
    if isinstance(error, CancelledError):
        return _lost(error)
    return error if isinstance(error, BaseException) else _lost(CancelledError())
