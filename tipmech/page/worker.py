"""The process in which the solver of one tab runs: commands in, frames out, one JSON document a line.

`python -m tipmech.page.worker FOLDER` reads commands from standard input and writes to standard output; FOLDER is where
it may write. It ends with its input. What it is told it checks as if it came from anyone.
"""

import json
import os
import sys
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from queue import Empty, Queue
from typing import Any

from ..checks import FieldError, InputError
from ..insertion.record_file import case_to_json
from ..outcome import STOP_WORDS, Stop
from ..regime.fold import Fold
from .bench import Bench, own_tip_load
from .contest import fold_of, limits
from .controls import FEED_MM, SOURCE, TURN, Setting, in_words, setting_of
from .frame import Shown, frame_data, limits_of
from .row import row_data
from .save import save_bench
from .screen import Screen
from .steps import STEPS, Step

PACE = 1.0 / 25.0  # s between increments on average, at least: 2.5 mm/s of feed at most
LATE = 4 * PACE  # s by which increments that took longer are caught up
SHOW = 1.0 / 25.0  # s between frames while increments are repeated as fast as they are solved
MOST_AHEAD = 3  # frames that the page has not taken yet: then the solver goes on without drawing
IDLE = 0.25  # s
BACK = 10  # increments that a step back takes back
MOST_STROKE = 300  # increments of a stroke
WAYS_ON = "Ways on: back 1 mm, or reset."

Emit = Callable[[dict[str, Any]], None]


class Worker:
    """Carries out commands on one bench and emits what the page is to show.

    Parameters
    ----------
    emit : callable
        takes each message, a dictionary for JSON
    folder : path
        where records go
    """

    def __init__(self, emit: Emit, folder: Path) -> None:
        self._emit, self._folder = emit, folder
        self.bench = Bench(Setting())
        self.screen = Screen(TURN.start)
        self.pushing: Step | None = None
        self.left: int | None = None
        self.failed = False
        self._taken = self._number = self._asked = 0
        self._solid = self._new_cases = False
        self._next, self._shown_at = 0.0, 0.0
        self._pool = ThreadPoolExecutor(1)
        self._folds: list[Future[Fold]] = []
        self._fresh()

    def _fresh(self) -> None:
        """Forget what the page shows."""
        self._shown = [Shown() for _ in self.bench.lanes]
        self._limits = limits_of(self.bench)
        self._new_cases = True
        for fold in self._folds:
            fold.cancel()
        self._folds, self._settled = [], time.monotonic() + IDLE

    def take(self, command: dict[str, Any]) -> None:
        """Carry out one command; a mistake in it or a failure of the solver becomes a message."""
        try:
            handler = getattr(self, f"_do_{command.get('do')}", None)
            if handler is None:
                raise InputError(f"{SOURCE}: there is no command {command.get('do')!r}")
            handler(command)
        except (InputError, FieldError) as error:
            text = str(error) if isinstance(error, InputError) else f"{SOURCE}: {error}"
            self._emit({"kind": "message", "level": "input", "text": in_words(text), "asked": command.get("asked", 0)})
        except Exception as error:  # whatever happens in the solver, the page says it and goes on
            self._fail(error)

    def _fail(self, error: Exception) -> None:
        self.failed, self.pushing, self.left = True, None, None
        self.bench.ahead.clear()
        text = f"The solver stopped with an error ({type(error).__name__}: {error}). {WAYS_ON}"
        self._emit({"kind": "message", "level": "failure", "text": text[:400]})

    def _do_set(self, command: dict[str, Any]) -> None:
        """Put a setting in place; where it is refused, the last that does go of those it overtook."""
        try:
            self._put(command)
        except (InputError, FieldError):
            for before in reversed(command.get("overtaken", [])):
                with suppress(InputError, FieldError):
                    self._put(before)
                    break
            raise

    def _put(self, command: dict[str, Any]) -> None:
        setting = setting_of(command.get("setting", {}))
        self.bench.change(setting, again=bool(command.get("again", False)))
        self.failed, self._asked = False, int(command.get("asked", 0))
        self._fresh()
        self.show(force=True)

    def _do_restore(self, command: dict[str, Any]) -> None:
        """A new process takes over: setting and increments of the one before."""
        self.bench.change(setting_of(command.get("setting", {})), again=False)
        for step, count in command.get("made", []):
            if step not in STEPS or not 0 < int(count) <= 100000:
                raise InputError(f"{SOURCE}: made has {step!r}, {count!r}; allowed: kinds of increments and how many")
            self.bench.ahead.extend([step] * int(count))
        self._asked = int(command.get("asked", 0))
        self._fresh()
        self.show(force=True)

    def _do_push(self, command: dict[str, Any]) -> None:
        """Push until told otherwise (no step: rest), or for `count` increments; more of a stroke under way is added to
        what is left of it."""
        step, count = command.get("step"), command.get("count")
        if step is not None and step not in STEPS:
            raise InputError(f"{SOURCE}: step is {step!r}; allowed: {', '.join(STEPS)}")
        if count is not None and not (isinstance(count, int) and 0 < count <= MOST_STROKE):
            raise InputError(f"{SOURCE}: count is {count!r}; allowed: 1 to {MOST_STROKE}")
        if count is not None and step == self.pushing and self.left is not None:
            count = min(self.left + count, MOST_STROKE)
        self.pushing, self.left = step, count
        if step is not None and self.failed:
            self._emit({"kind": "message", "level": "failure", "text": f"The solver has stopped. {WAYS_ON}"})
            self.pushing = None
        self.show(force=True)

    def _do_reset(self, command: dict[str, Any]) -> None:
        self._return_to(lambda: self.bench.reset())

    def _do_back(self, command: dict[str, Any]) -> None:
        self._return_to(lambda: self.bench.back(BACK))

    def _return_to(self, go: Callable[[], None]) -> None:
        self.pushing, self.left, self.failed = None, None, False
        go()
        self._fresh()
        self.show(force=True)

    def _do_view(self, command: dict[str, Any]) -> None:
        self.screen = Screen(TURN.check(command.get("lao_deg")))
        self._asked = int(command.get("asked", self._asked))
        self.show(force=True)

    def _do_solid(self, command: dict[str, Any]) -> None:
        self._solid = self._new_cases = bool(command.get("on", False))
        self.show(force=True)

    def _do_taken(self, command: dict[str, Any]) -> None:
        self._taken = int(command.get("number", 0))

    def _do_save(self, command: dict[str, Any]) -> None:
        if not self.bench.made:
            raise InputError(f"{SOURCE}: nothing has been carried out yet; allowed: a record after the first increment")
        paths = save_bench(self.bench, self._folder)
        self._emit({"kind": "saved", "names": [path.name for path in paths], "film": bool(command.get("film", False))})

    def _do_own_loads(self, command: dict[str, Any]) -> None:
        """Tip loads of presets as designed, gf."""
        loads = {name: own_tip_load(name) for name in command.get("presets", [])}
        self._emit({"kind": "own_loads", "loads": loads})

    def turn(self) -> bool:
        """Do what is next: repeat an increment, push by one, or look whether a fold is known; False: nothing to do."""
        try:
            if self.bench.ahead:
                self.bench.replay()
                self.show(force=not self.bench.ahead)
                return True
            if self.pushing is not None:
                self._push()
                return True
            return self._know_folds()
        except Exception as error:
            self._fail(error)
            return True

    def _push(self) -> None:
        wait = self._next - time.monotonic()
        if wait > 0.0:
            time.sleep(wait)
        self._next = max(self._next, time.monotonic() - LATE) + PACE
        before = [lane.open for lane in self.bench.lanes]
        step = self.pushing
        assert step is not None
        moved = self.bench.step(step)
        if self.left is not None:
            self.left -= 1
        if not moved or self.left == 0:
            self.pushing, self.left = None, None
        self._say_ends(step, before, moved)
        self._know_folds()
        self.show(force=self.pushing is None)

    def _say_ends(self, step: Step, before: list[bool], moved: bool) -> None:
        """Say which wire has come to its end, and why, and that the hand has."""
        for k, (lane, was) in enumerate(zip(self.bench.lanes, before, strict=True), start=1):
            if was and not lane.open:
                failed = lane.stop is Stop.NOT_CONVERGED
                text = f"Wire {k} ended: {STOP_WORDS[lane.stop]}. {WAYS_ON}"
                self._emit({"kind": "message", "level": "failure" if failed else "end", "text": text})
        if not moved and any(lane.open for lane in self.bench.lanes):
            end = f"{FEED_MM:g} mm are fed out" if step == "advance" else "the wire lies as at the start"
            self._emit({"kind": "message", "level": "end", "text": f"The hand is at its end: {end}."})

    def _know_folds(self) -> bool:
        """Have the reduced model find what folds each wire, beside the solver; take over what is found."""
        if self.pushing is None and time.monotonic() < self._settled:
            return False
        if not self._folds:
            self._folds = [self._pool.submit(fold_of, lane.case) for lane in self.bench.lanes]
        news = False
        for k, (lane, fold) in enumerate(zip(self.bench.lanes, self._folds, strict=True)):
            if fold.done() and not self._limits[k].asked:
                self._limits[k] = limits(lane.case, fold.result())
                news = True
        if news:
            self.show(force=True)
        return news

    def show(self, *, force: bool = False) -> None:
        """Emit a frame, unless one has just been or the page has not taken the last ones."""
        now = time.monotonic()
        behind = self._number - self._taken >= MOST_AHEAD
        soon = bool(self.bench.ahead) and now - self._shown_at < SHOW
        if not force and (behind or soon):
            return
        self._shown_at = now
        self._number += 1
        data = frame_data(self.bench, self._limits, self.screen, self._shown)
        data |= {
            "kind": "frame",
            "number": self._number,
            "asked": self._asked,
            "pushing": self.pushing,
            "failed": self.failed,
        }
        if self._solid:
            data["rows"] = [row_data(lane.last) for lane in self.bench.lanes]
            data["cases"] = [case_to_json(lane.case) for lane in self.bench.lanes] if self._new_cases else None
            self._new_cases = False
        self._emit(data)


def latest(command: dict[str, Any], queue: "Queue[dict[str, Any] | None]") -> dict[str, Any]:
    """The last of the settings that have come one after the other, with those that it overtook: a slider that is drawn
    sends many."""
    sets = [command]
    with queue.mutex:
        while queue.queue and (following := queue.queue[0]) is not None and following.get("do") == "set":
            sets.append(following)
            queue.queue.popleft()
    return sets[-1] | {"overtaken": sets[:-1]}


def read_commands(stream: Any, queue: "Queue[dict[str, Any] | None]") -> None:
    """Put commands, one JSON document a line, into the queue; None at the end."""
    for text in stream:
        try:
            command = json.loads(text)
        except json.JSONDecodeError:
            continue
        if isinstance(command, dict):
            queue.put(command)
    queue.put(None)


def main(arguments: list[str]) -> int:
    """Run until standard input ends."""
    out = sys.stdout
    sys.stdout = sys.stderr  # nothing else may get among the frames

    def emit(message: dict[str, Any]) -> None:
        try:
            out.write(json.dumps(message) + "\n")
            out.flush()
        except BrokenPipeError:
            os._exit(0)  # whoever listened is gone

    queue: Queue[dict[str, Any] | None] = Queue()
    threading.Thread(target=read_commands, args=(sys.stdin, queue), daemon=True).start()
    worker = Worker(emit, Path(arguments[0]))
    worker.show(force=True)
    busy = True
    while True:
        try:
            command = queue.get(timeout=0.0 if busy else IDLE)
        except Empty:
            busy = worker.turn()
            continue
        if command is None:
            return 0
        if command.get("do") == "set":
            command = latest(command, queue)
        worker.take(command)
        busy = True


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
