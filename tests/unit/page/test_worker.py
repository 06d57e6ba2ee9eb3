"""The process that solves, as an object: commands in, frames out; mistakes and failures become messages."""

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tipmech import CAUTION
from tipmech.insertion.record_file import load
from tipmech.insertion.run import advance
from tipmech.page import worker as room
from tipmech.page.controls import Setting, Wire
from tipmech.page.film import main as film
from tipmech.page.looks import ENERGIES, NUMBERS
from tipmech.page.worker import BACK, MOST_STROKE, Worker


class Heard(list[dict[str, Any]]):
    """What a worker has emitted; everything must go through JSON."""

    def take(self, message: dict[str, Any]) -> None:
        self.append(json.loads(json.dumps(message, allow_nan=False)))

    def of(self, kind: str) -> list[dict[str, Any]]:
        return [message for message in self if message["kind"] == kind]


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Worker, Heard]:
    monkeypatch.setattr(room, "PACE", 0.0)
    heard = Heard()
    worker = Worker(heard.take, tmp_path)
    worker.show(force=True)
    return worker, heard


def run(worker: Worker) -> None:
    while worker.pushing is not None or worker.bench.ahead:
        worker.turn()


def push(worker: Worker, step: str, count: int) -> None:
    worker.take({"do": "push", "step": step, "count": count})
    run(worker)


def test_a_stroke_ends_in_a_frame_with_the_numbers_of_the_library(bench: tuple[Worker, Heard]) -> None:
    worker, heard = bench
    push(worker, "advance", 60)
    frame = heard.of("frame")[-1]
    record = advance(worker.bench.lanes[0].record().case)
    shown = frame["lanes"][0]["numbers"]
    assert set(shown) == {name for name, *_ in NUMBERS}
    assert shown["push"] == record.push[-1] * 1e3
    assert shown["front"] == record.force_front[-1] * 1e3
    assert shown["lip"] == record.force_lip[-1] * 1e3
    assert shown["along"] == record.force_lip_along[-1] * 1e3
    assert shown["floor"] == record.force_floor[-1] * 1e3
    assert shown["tip"] == record.tip_force[-1] * 1e3
    assert frame["feed_mm"] == pytest.approx(6.0)
    assert frame["pushing"] is None
    assert frame["made"] == [["advance", 60]]


def test_a_stroke_asked_for_while_one_is_under_way_is_added_to_it(bench: tuple[Worker, Heard]) -> None:
    worker, heard = bench
    for _ in range(3):
        worker.take({"do": "push", "step": "turn_left", "count": 5})
        worker.turn()
    run(worker)
    assert heard.of("frame")[-1]["turn_deg"] == pytest.approx(45.0)
    worker.take({"do": "push", "step": "advance", "count": 5})
    worker.take({"do": "push", "step": "turn_right", "count": 5})
    run(worker)
    assert heard.of("frame")[-1]["made"] == [["turn_left", 15], ["turn_right", 5]]
    for _ in range(3):
        worker.take({"do": "push", "step": "turn_right", "count": MOST_STROKE})
    assert worker.left == MOST_STROKE


def test_energies_add_up_to_the_work_of_the_hand(bench: tuple[Worker, Heard]) -> None:
    worker, heard = bench
    push(worker, "advance", 110)
    found = heard.of("frame")[-1]["lanes"][0]["energies"]
    assert list(found) == [name for name, _ in ENERGIES]
    assert sum(found.values()) - found["hand"] == pytest.approx(found["hand"], rel=0.02)


def test_only_what_changed_is_sent(bench: tuple[Worker, Heard]) -> None:
    worker, heard = bench
    first = heard.of("frame")[0]["lanes"][0]["section"]
    assert {"lumen", "wall", "flap", "side_true_0"} <= set(first)
    push(worker, "advance", 3)
    second = heard.of("frame")[-1]["lanes"][0]["section"]
    assert "lumen" not in second
    assert len(second) < len(first)
    shown = worker._shown[0].drawn["section"]
    assert shown["lumen"] == first["lumen"]


def test_wires_side_by_side_have_one_scale_of_forces(bench: tuple[Worker, Heard]) -> None:
    worker, heard = bench
    two = Setting(wires=(Wire("workhorse", 0.4), Wire("workhorse", 4.0)))
    worker.take({"do": "set", "setting": two.plain(), "again": False, "asked": 4})
    push(worker, "advance", 20)
    drawn = [shown.drawn["chart"] for shown in worker._shown]
    assert len(heard.of("frame")[-1]["lanes"]) == 2
    assert [drawn[0][f"y{k}"] for k in range(6)] == [drawn[1][f"y{k}"] for k in range(6)]
    assert heard.of("frame")[-1]["asked"] == 4


def test_a_change_makes_the_same_moves_again(bench: tuple[Worker, Heard]) -> None:
    worker, heard = bench
    push(worker, "advance", 25)
    worker.take({"do": "set", "setting": Setting(friction=0.4).plain(), "again": True, "asked": 7})
    assert heard.of("frame")[-1]["asked"] == 7
    run(worker)
    assert heard.of("frame")[-1]["feed_mm"] == pytest.approx(2.5)
    worker.take({"do": "back"})
    run(worker)
    assert heard.of("frame")[-1]["made"] == [["advance", 25 - BACK]]
    worker.take({"do": "reset"})
    assert heard.of("frame")[-1]["made"] == []


@pytest.mark.parametrize(
    "command",
    [
        {"do": "nothing such"},
        {"do": "set", "setting": {}},
        {"do": "set", "setting": Setting().plain() | {"friction": 9.0}},
        {"do": "set", "setting": Setting().plain() | {"angle_deg": 60.0, "support_mm": 7.0}},
        {"do": "push", "step": "sideways"},
        {"do": "push", "step": "advance", "count": -1},
        {"do": "push", "step": "advance", "count": 10**9},
        {"do": "view", "lao_deg": 1e9},
        {"do": "restore", "setting": Setting().plain(), "made": [["sideways", 3]]},
        {"do": "save"},
    ],
    ids=lambda c: f"{c['do']} {str(c)[-24:]}",
)
def test_a_mistake_is_a_message_and_changes_nothing(bench: tuple[Worker, Heard], command: dict[str, Any]) -> None:
    worker, heard = bench
    before = worker.bench.setting
    worker.take(command)
    assert heard[-1]["kind"] == "message"
    assert heard[-1]["level"] == "input"
    assert heard[-1]["text"].startswith("the page: ")
    assert worker.bench.setting == before
    assert worker.pushing is None


def test_an_error_of_the_solver_is_a_message_with_ways_on(
    bench: tuple[Worker, Heard], monkeypatch: pytest.MonkeyPatch
) -> None:
    worker, heard = bench
    push(worker, "advance", 12)

    def breaks(*_: object) -> None:
        raise FloatingPointError("made up")

    with monkeypatch.context() as broken:
        broken.setattr(worker.bench.lanes[0].insertion, "carry_rows", breaks)
        push(worker, "advance", 5)
    failure = heard.of("message")[-1]
    assert failure["level"] == "failure"
    assert "made up" in failure["text"]
    assert "back 1 mm, or reset" in failure["text"]
    push(worker, "advance", 5)
    assert "Ways on" in heard.of("message")[-1]["text"]
    worker.take({"do": "back"})
    run(worker)
    push(worker, "advance", 2)
    assert heard.of("frame")[-1]["made"] == [["advance", 12 - BACK + 1 + 2]]  # the broken increment was counted


def test_a_new_process_takes_over_where_the_old_one_was(bench: tuple[Worker, Heard]) -> None:
    worker, heard = bench
    setting = Setting(friction=0.3)
    worker.take({"do": "restore", "setting": setting.plain(), "made": [["advance", 8], ["withdraw", 2]]})
    run(worker)
    assert worker.bench.setting == setting
    assert heard.of("frame")[-1]["feed_mm"] == pytest.approx(0.6)


def test_a_refused_setting_names_its_control(bench: tuple[Worker, Heard]) -> None:
    worker, heard = bench
    worker.take({"do": "set", "setting": Setting(angle_deg=60.0).plain(), "again": True, "asked": 3})
    told = heard.of("message")[-1]
    assert told["level"] == "input" and told["asked"] == 3
    assert told["text"] == "the page: approach angle is 60; allowed: 5 to 52 °, beside the other numbers"


def test_where_the_last_of_many_settings_is_refused_the_one_before_it_stands(bench: tuple[Worker, Heard]) -> None:
    worker, heard = bench
    sets = [Setting(friction=0.3), Setting(friction=0.4), Setting(friction=0.4, angle_deg=60.0)]
    first, second, last = ({"do": "set", "setting": s.plain(), "asked": k} for k, s in enumerate(sets, start=1))
    worker.take(last | {"overtaken": [first, second]})
    assert worker.bench.setting == sets[1]
    assert heard.of("frame")[-1]["asked"] == 2
    assert [(m["level"], m["asked"]) for m in heard.of("message")] == [("input", 3)]


def test_a_wire_drawn_out_again_is_no_longer_buckled(bench: tuple[Worker, Heard]) -> None:
    worker, heard = bench
    lane = worker.bench.lanes[0]
    push(worker, "advance", 3)
    lane.buckled = lane.entered = True
    push(worker, "withdraw", 1)
    assert not lane.buckled and "uckled" not in heard.of("frame")[-1]["lanes"][0]["regime"]


def test_the_hands_end_is_said(bench: tuple[Worker, Heard]) -> None:
    worker, heard = bench
    worker.take({"do": "push", "step": "withdraw"})
    run(worker)
    assert "as at the start" in heard.of("message")[-1]["text"]


def test_what_folds_the_wire_comes_later(bench: tuple[Worker, Heard], monkeypatch: pytest.MonkeyPatch) -> None:
    worker, heard = bench
    assert "In the pocket" not in heard.of("frame")[0]["lanes"][0]["limits"]
    monkeypatch.setattr(worker, "_settled", 0.0)
    for _ in range(600):
        worker.turn()
        if worker._limits[0].asked:
            break
        worker._folds[0].result(timeout=120)
    assert "the wire folds" in heard.of("frame")[-1]["lanes"][0]["limits"]


def test_records_and_tables_are_saved_and_never_replaced(bench: tuple[Worker, Heard], tmp_path: Path) -> None:
    worker, heard = bench
    push(worker, "advance", 12)
    worker.take({"do": "save"})
    worker.take({"do": "save"})
    names = [message["names"] for message in heard.of("saved")]
    assert names == [[f"insertion_00{k}_wire_1.nc", f"insertion_00{k}_wire_1.csv"] for k in (1, 2)]
    record = load(tmp_path / names[0][0])
    assert np.array_equal(record.push, advance(record.case).push)
    text = (tmp_path / names[0][1]).read_text(encoding="utf-8").splitlines()
    assert CAUTION in text[1]
    rows = list(csv.DictReader(text[2:]))
    assert len(rows) == len(record.push)
    assert float(rows[-1]["push_mN"]) == pytest.approx(record.push[-1] * 1e3, rel=1e-12)
    assert float(rows[-1]["feed_mm"]) == pytest.approx(1.2)


def test_a_film_of_what_is_no_record_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "other.nc").write_text("no record")
    assert film([str(tmp_path), "other.nc"]) == 0
    assert json.loads(capsys.readouterr().out)["kind"] == "no_film"
    assert list(tmp_path.iterdir()) == [tmp_path / "other.nc"]


def test_settings_that_came_one_after_the_other_count_as_the_last() -> None:
    queue: room.Queue[dict[str, Any] | None] = room.Queue()
    for k in range(3):
        queue.put({"do": "set", "asked": k})
    queue.put({"do": "reset"})
    last = room.latest({"do": "set", "asked": -1}, queue)
    assert last["asked"] == 2
    assert [command["asked"] for command in last["overtaken"]] == [-1, 0, 1]
    assert queue.get() == {"do": "reset"}
