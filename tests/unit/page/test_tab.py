"""A tab between the page and the process that solves: what it asks a new process for, what it makes of answers."""

import asyncio
import os
import signal
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, cast

import pytest

from tipmech.page import process as room
from tipmech.page.controls import Setting
from tipmech.page.process import Process
from tipmech.page.tab import Tab
from tipmech.page.workers import Workers


class Solver:
    """Stands for a process: what it was sent, and its words put into its mouth."""

    def __init__(self) -> None:
        self.sent: list[dict[str, Any]] = []

    def listen(self, on_message: Callable[[dict[str, Any]], None], on_end: Callable[[], None]) -> None:
        self.say, self.end = on_message, on_end

    def send(self, **command: Any) -> None:
        self.sent.append(command)

    def frame(self, number: int, made: list[list[Any]], asked: int = 0, ahead: int = 0) -> None:
        words = {"number": number, "made": made, "asked": asked, "ahead": ahead}
        self.say({"kind": "frame", "pushing": None, "lanes": [], **words})

    def last(self, do: str) -> dict[str, Any]:
        return [command for command in self.sent if command["do"] == do][-1]


class Shown:
    """Stands for the page: what it was told last, by the name of the method."""

    def __getattr__(self, name: str) -> Callable[..., None]:
        return lambda *told: self.__dict__.update({f"last_{name}": told})


@pytest.fixture
def told() -> Any:
    return Shown()


@pytest.fixture
def solvers() -> list[Solver]:
    return []


@pytest.fixture
def tab(tmp_path: Path, told: Any, solvers: list[Solver]) -> Tab:
    def take() -> Process:
        solvers.append(Solver())
        return cast(Process, solvers[-1])

    tab = Tab(told, tmp_path, take)
    tab.start()
    return tab


def restart(tab: Tab, solvers: list[Solver]) -> dict[str, Any]:
    """Of the process that solves, gone and started again: what the new one is told to restore."""
    solvers[-1].end()
    tab.restart()
    return solvers[-1].last("restore")


@pytest.mark.parametrize(
    ("made", "kept"),
    [
        ([], []),
        ([["advance", 1]], []),
        ([["advance", 20]], [["advance", 19]]),
        ([["advance", 20], ["turn_left", 1]], [["advance", 20]]),
    ],
    ids=str,
)
def test_a_new_process_goes_on_before_the_last_increment(
    tab: Tab, told: Any, solvers: list[Solver], made: list[list[Any]], kept: list[list[Any]]
) -> None:
    solvers[0].frame(1, made)
    solvers[0].end()
    assert told.last_say[0] == "crash"
    tab.restart()
    assert solvers[-1].last("restore")["made"] == kept


def test_a_process_that_ends_before_it_has_repeated_anything_loses_one_more_increment_only(
    tab: Tab, solvers: list[Solver]
) -> None:
    solvers[0].frame(1, [["advance", 20]])
    restart(tab, solvers)
    solvers[-1].frame(1, [])  # said before it was told what to restore
    asked = restart(tab, solvers)
    assert asked["made"] == [["advance", 18]]
    solvers[-1].frame(1, [])
    solvers[-1].frame(2, [], asked["asked"], ahead=18)
    asked = restart(tab, solvers)
    assert asked["made"] == [["advance", 17]]
    solvers[-1].frame(2, [["advance", 5]], asked["asked"], ahead=12)
    asked = restart(tab, solvers)
    assert asked["made"] == [["advance", 4]]
    solvers[-1].frame(2, [], asked["asked"])  # reset
    assert restart(tab, solvers)["made"] == []


def test_a_new_process_is_told_of_its_own_frames_only(tab: Tab, solvers: list[Solver]) -> None:
    solvers[0].frame(70, [["advance", 20]])
    tab.painted(70)
    restart(tab, solvers)
    solvers[-1].frame(1, [])
    tab.painted(70)  # of the one before: said late
    assert solvers[-1].last("taken")["number"] == 1


def test_settings_that_a_refused_one_overtook_are_not_waited_for(tab: Tab, told: Any, solvers: list[Solver]) -> None:
    asked = [Setting(friction=0.3), Setting(friction=0.4), Setting(friction=0.4, angle_deg=60.0)]
    for setting in asked:
        tab.set(setting, again=True)
    numbers = [command["asked"] for command in solvers[0].sent]
    solvers[0].frame(2, [], numbers[1])
    assert tab.setting == asked[2]
    solvers[0].say({"kind": "message", "level": "input", "text": "no", "asked": numbers[2]})
    assert tab.setting == asked[1]
    assert told.last_show_setting == (asked[1],)
    for angle in (55.0, 60.0):
        tab.set(tab.change(angle_deg=angle), again=True)
    solvers[0].say({"kind": "message", "level": "input", "text": "no", "asked": numbers[2] + 2})
    assert tab.setting == asked[1]


def test_what_a_process_was_saying_when_it_was_killed_is_no_word_and_its_end_is_reported(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    script = "import sys, time; print('{\"a\": 1}\\n{\"b', end='', flush=True); time.sleep(300)"
    popen = room.subprocess.Popen
    monkeypatch.setattr(room.subprocess, "Popen", lambda command, **pipes: popen([command[0], "-c", script], **pipes))

    async def talk() -> tuple[list[dict[str, Any]], int]:
        heard: list[dict[str, Any]] = []
        ends: list[int] = []
        process = Process("worker")
        process.listen(heard.append, lambda: ends.append(1))
        await until(lambda: bool(heard))
        process._process.kill()
        await until(lambda: bool(ends))
        return heard, len(ends)

    assert asyncio.run(talk()) == ([{"a": 1}], 1)


def test_a_waiting_process_that_has_ended_is_not_handed_out(tmp_path: Path) -> None:
    async def take() -> tuple[Process, Process]:
        workers = Workers(tmp_path)
        waiting = workers._ready
        assert waiting is not None
        os.kill(waiting._process.pid, signal.SIGKILL)
        await until(lambda: not waiting.alive)
        return waiting, workers.take()

    waiting, taken = asyncio.run(take())
    assert taken is not waiting and taken.alive
    taken.stop()


async def until(met: Callable[[], bool], seconds: float = 60.0) -> None:
    end = time.monotonic() + seconds
    while not met():
        assert time.monotonic() < end, "it did not happen"
        await asyncio.sleep(0.02)
