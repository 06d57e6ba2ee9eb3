"""Who is let in: our own host and origin only; keys; the folder."""

import asyncio
import os
import signal
import socket
import time
from pathlib import Path
from typing import Any, cast

import pytest
from typer.testing import CliRunner

from tipmech.checks import InputError
from tipmech.cli import app
from tipmech.page.guard import Guard, hosts_of
from tipmech.page.keys import of_key
from tipmech.page.process import Process
from tipmech.page.tab import Tab, View
from tipmech.page.workers import free_port
from tipmech.whole import whole_file

HOSTS = hosts_of("127.0.0.1", 8127)


async def served(scope: Any, receive: Any, send: Any) -> None:
    if scope["type"] == "http":
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b"page"})
    else:
        await send({"type": "websocket.accept"})


def ask(kind: str, path: str = "/", **headers: str) -> list[dict[str, Any]]:
    sent: list[dict[str, Any]] = []

    async def send(message: Any) -> None:
        sent.append(dict(message))

    async def receive() -> Any:
        return {}

    raw = [(name.encode(), value.encode()) for name, value in headers.items()]
    asyncio.run(Guard(served, HOSTS)({"type": kind, "path": path, "headers": raw}, receive, send))
    return sent


@pytest.mark.parametrize("host", ["127.0.0.1:8127", "localhost:8127", "[::1]:8127", "LOCALHOST:8127"])
def test_our_own_address_is_served(host: str) -> None:
    assert ask("http", host=host)[0]["status"] == 200
    assert ask("http", host=host, origin=f"http://{host}")[0]["status"] == 200
    assert ask("websocket", host=host, origin=f"http://{host}") == [{"type": "websocket.accept"}]
    headers = dict(ask("http", host=host)[0]["headers"])
    assert b"default-src 'self'" in headers[b"content-security-policy"]


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"host": "evil.example"},
        {"host": "evil.example:8127"},
        {"host": "127.0.0.1"},
        {"host": "127.0.0.1:8128"},
        {"host": "127.0.0.1:8127.evil.example"},
        {"host": "127.0.0.1:8127", "origin": "http://evil.example"},
        {"host": "127.0.0.1:8127", "origin": "http://evil.example:8127"},
        {"host": "127.0.0.1:8127", "origin": "https://127.0.0.1:8127"},
        {"host": "127.0.0.1:8127", "origin": "null"},
        {"host": "127.0.0.1:8127", "origin": "http://127.0.0.1:9000"},
    ],
    ids=str,
)
def test_others_are_refused(headers: dict[str, str]) -> None:
    assert ask("http", **headers)[0]["status"] == 403
    assert ask("websocket", **headers)[0]["type"] == "websocket.close"


@pytest.mark.parametrize(
    ("site", "status"), [("none", 200), ("same-origin", 200), ("cross-site", 403), ("same-site", 403)]
)
def test_what_another_page_asks_for_without_an_origin_is_refused(site: str, status: int) -> None:
    assert ask("http", host="127.0.0.1:8127", **{"sec-fetch-site": site})[0]["status"] == status


@pytest.mark.parametrize(
    ("path", "status"), [("/", 200), ("/_nicegui/1/x.js", 200), ("/docs", 404), ("/a/../etc", 404)]
)
def test_paths_that_are_no_part_of_the_page_are_not_found(path: str, status: int) -> None:
    assert ask("http", path, host="127.0.0.1:8127")[0]["status"] == status


def test_an_address_that_was_asked_for_is_ours_too() -> None:
    assert "192.0.2.7:80" in hosts_of("192.0.2.7", 80)
    assert "192.0.2.7" in hosts_of("192.0.2.7", 80)
    assert "[2001:db8::1]:8127" in hosts_of("2001:db8::1", 8127)


def test_a_port_in_use_or_a_foreign_address_is_refused_in_one_sentence(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(InputError, match="cannot be listened on"):
            free_port("127.0.0.1", port)
        done = CliRunner().invoke(app, ["lab", "--no-open", "--port", str(port), "--out", str(tmp_path / "lab")])
        assert done.exit_code == 2
        assert f"port {port}: cannot be listened on" in done.output
        assert not (tmp_path / "lab").exists()
    with pytest.raises(InputError, match="cannot be listened on"):
        free_port("192.0.2.7", 0)
    assert free_port("127.0.0.1", 0) > 0


@pytest.mark.parametrize("host", ["0.0.0.0", "0", "::", "", "::ffff:0.0.0.0"])
def test_an_address_that_stands_for_all_is_refused_in_one_sentence(tmp_path: Path, host: str) -> None:
    done = CliRunner().invoke(
        app, ["lab", "--no-open", "--host", host, "--port", "0", "--out", str(tmp_path / "lab")], env={"COLUMNS": "400"}
    )
    assert done.exit_code == 2
    assert f"--host is '{host}', which stands for all addresses; allowed: one of this machine's own" in done.output
    assert not (tmp_path / "lab").exists()


@pytest.mark.parametrize(
    ("name", "shift", "asked"),
    [
        ("a", False, "advance"), ("A", True, "advance"), ("w", False, "withdraw"), ("t", False, "turn_left"),
        ("T", True, "turn_right"), ("b", False, "back"), ("r", False, "reset"), ("s", False, "rest"),
        ("ArrowRight", False, None), ("Enter", False, None), ("x", False, None), (" ", False, None),
    ],
)  # fmt: skip
def test_keys(name: str, shift: bool, asked: str | None) -> None:
    assert of_key(name, shift=shift) == asked


def test_a_process_answers_and_its_end_is_reported_unless_it_was_asked_for(tmp_path: Path) -> None:
    async def talk(stop: bool) -> tuple[list[dict[str, Any]], int]:
        heard: list[dict[str, Any]] = []
        ends: list[int] = []
        process = Process("film", str(tmp_path), "no_such.nc")
        if stop:
            process.stop()
        process.listen(heard.append, lambda: ends.append(1))
        process.send(do="anything")
        end = time.monotonic() + 120.0
        while not stop and not ends and time.monotonic() < end:
            await asyncio.sleep(0.05)
        await asyncio.sleep(0.2)
        return heard, len(ends)

    heard, ends = asyncio.run(talk(stop=False))
    assert [message["kind"] for message in heard] == ["no_film"]
    assert ends == 1
    assert asyncio.run(talk(stop=True)) == ([], 0)


@pytest.mark.parametrize("crash", [False, True], ids=["closed", "crash"])
def test_what_a_process_had_not_finished_writing_goes_with_it(tmp_path: Path, crash: bool) -> None:
    async def end() -> None:
        process = Process("worker", folder=tmp_path)
        pid = process._process.pid
        process.listen(lambda message: None, lambda: None)
        whole = tmp_path / "insertion_001_wire_1.mp4"
        with whole_file(whole) as mine:
            mine.touch()
            left = mine.with_name(mine.name.replace(f".{os.getpid()}.", f".{pid}."))
        whole.unlink()
        left.write_bytes(b"half a film")
        if crash:
            os.kill(pid, signal.SIGKILL)
        else:
            process.stop()
        until = time.monotonic() + 60.0
        while left.exists() and time.monotonic() < until:
            await asyncio.sleep(0.05)

    other = tmp_path / ".insertion_002_wire_1.mp4.1.part"
    other.write_bytes(b"another process at work")
    asyncio.run(end())
    assert list(tmp_path.iterdir()) == [other]


def test_a_tab_that_closes_ends_its_films(tmp_path: Path) -> None:
    async def close() -> Tab:
        tab = Tab(cast(View, None), tmp_path, lambda: cast(Process, None))
        film = asyncio.create_task(tab.film(["no_such.nc"]))
        await asyncio.sleep(0.05)
        tab.close()
        with pytest.raises(asyncio.CancelledError):
            await film
        return tab

    assert not asyncio.run(close())._films
