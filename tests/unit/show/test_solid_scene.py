"""Scenes in three dimensions: what is drawn, where the names point, the page without a network, the glTF file."""

import base64
import importlib
import io
import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from dataclasses import replace

import numpy as np
import pytest
import trimesh
from PIL import Image
from synthetic import make_outcome, make_record
from typer.testing import CliRunner
from unit.insertion.test_opened import opening

from tipmech import CAUTION
from tipmech.cli import app
from tipmech.files.scene import read_case
from tipmech.insertion.imaging import Imaging
from tipmech.insertion.record_file import save
from tipmech.show.solid import gltf, page, picture, scene
from tipmech.show.solid.labels import APART, PER_CHARACTER, labels_of, spread
from tipmech.show.solid.look import strain_most, travel_most
from tipmech.show.solid.parts import moving_parts, vessel_parts
from tipmech.show.solid.picture import note_words, solid_figure, state_words
from tipmech.show.solid.scene import CannotDraw, build, drawn, near_view, whole_view

run = CliRunner()
command = importlib.import_module("tipmech.cli.solid")
SMALL = (360, 216)


@pytest.fixture(scope="module")
def shown():
    """A record in which front and a margin were opened, its meshes, its scales."""
    record, _ = opening()
    row = len(record.feed) - 1
    most = strain_most(record, row), travel_most(record, row)
    parts = vessel_parts(record.case) | moving_parts(record, row, strain=most[0], travel=most[1])
    return record, row, parts, most


def page_of(shown):
    record, row, parts, most = shown
    words = "; ".join(state_words(record, make_outcome(), row))
    return page.page_text(
        parts, whole_view(record, row, 5 / 3), title="made up <b>", words=words,
        note=note_words(parts, False), layered=False, most=most,
    )  # fmt: skip


def test_places_in_the_picture_are_where_the_camera_puts_them(shown):
    from vtkmodules.vtkRenderingCore import vtkCoordinate

    record, row, parts, _ = shown
    for eye in (whole_view(record, row, SMALL[0] / SMALL[1]), near_view(record, row, SMALL[0] / SMALL[1])):
        np.testing.assert_allclose(
            np.stack([eye.right, eye.up, eye.toward]) @ np.stack([eye.right, eye.up, eye.toward]).T,
            np.eye(3),
            atol=1e-12,
        )
        plotter = build({"wire": parts["wire"]}, eye, SMALL)
        place = vtkCoordinate()
        place.SetCoordinateSystemToWorld()
        points = record.positions[row][-8:]
        for point, (x, y) in zip(points, eye.pixels(points, SMALL), strict=True):
            place.SetValue(*point)
            across, up = place.GetComputedDoubleViewportValue(plotter.renderer)
            assert (across, SMALL[1] - up) == pytest.approx((x, y), abs=0.51)  # between corners or middles of pixels
        plotter.close()


def test_one_millimetre_is_one_millimetre_in_the_picture(shown):
    record, row, parts, _ = shown
    eye = near_view(record, row, SMALL[0] / SMALL[1])
    plotter = build({"wire": parts["wire"]}, eye, SMALL)
    image = drawn(plotter, eye, SMALL)
    plotter.close()
    dark = np.argwhere((image < 250).any(axis=2))
    rows = dark[:, 0]
    flat = eye.pixels(np.asarray(parts["wire"].points, dtype=float), SMALL)
    inside = (flat > 0).all(axis=1) & (flat < np.array(SMALL)).all(axis=1)
    assert rows.max() == pytest.approx(min(flat[inside, 1].max(), SMALL[1] - 1), abs=2.0)
    assert rows.min() == pytest.approx(max(flat[inside, 1].min(), 0.0), abs=2.0)


def test_the_whole_view_holds_tear_front_and_tip(shown):
    record, row, _, _ = shown
    eye = whole_view(record, row, 5 / 3)
    axis = [scene.axes_at(record, s)[0] for s in (record.case.scene.tear.start, float(record.front[row]))]
    places = eye.pixels(np.array([*axis, record.positions[row, -1]]), (1000, 600))
    assert np.all((places > 0) & (places < [1000, 600]))
    _, _, depth, _ = scene.axes_at(record, record.case.scene.tear.end)
    assert eye.toward @ depth < -0.3  # from the lumen's side


@pytest.mark.slow
def test_the_figure_names_the_parts_and_carries_the_caution(shown):
    record, row, parts, most = shown
    figure = solid_figure(record, make_outcome(), row, parts, most, Imaging(), "made up", layered=False)
    texts = [t.get_text() for ax in figure.axes for t in ax.texts] + [t.get_text() for t in figure.texts]
    for name in ("true lumen", "flap", "false lumen", "front", "tear (window)", "tip, in the false lumen"):
        assert name in texts
    joined = " ".join(texts).replace("\n", " ")
    assert CAUTION in joined and "invented" in joined and "tip in the false lumen" in joined
    images = [np.asarray(image.get_array()) for ax in figure.axes[:2] for image in ax.images]
    assert len(images) == 2
    for image in images:
        assert np.mean(image < 250) > 0.3
    legend = [t.get_text() for t in figure.legends[0].get_texts()]
    assert "room of the wire, not paid for" in legend and "rim of the wire in the false lumen" in legend


def test_the_longest_sentence_on_what_decided_stays_in_the_picture(shown, monkeypatch):
    record, row, parts, most = shown
    said = "decided by: the wire folded, the front was not touched: fold took 20.7 of the largest push, 26.6 mN; " * 3
    monkeypatch.setattr(picture, "state_words", lambda *_: ("feed 1 mm", said))
    figure = solid_figure(record, make_outcome(), row, parts, most, Imaging(), "made up", layered=False)
    over = [text for text in figure.texts if text.get_text() and text.get_text() in f"feed 1 mm {said}"]
    boxes = [text.get_window_extent() for text in over]
    assert len(boxes) > 2 and max(box.x1 for box in boxes) < figure.bbox.x1
    lowest = min(box.y0 for box in boxes)
    assert all(ax.get_window_extent().y1 < lowest for ax in figure.axes)


def test_names_lie_side_by_side():
    texts = ["true lumen", "tip, in the false lumen", "support"]
    out = spread([100.0, 104.0, 996.0], texts, 1000.0)
    wide = np.array([PER_CHARACTER * len(t) + APART for t in texts])
    assert np.all(np.diff(out) >= 0.5 * (wide[1:] + wide[:-1]) - 1e-9)
    assert out[-1] + 0.5 * wide[-1] <= 1000.0


def test_names_point_at_their_parts(shown):
    record, row, parts, _ = shown
    found = {label.text: label.point for label in labels_of(record, row, parts)}
    for name, part, within in (("flap", "flap", 1e-6), ("front", "front", 0.1e-3), ("false lumen", "plane", 0.1e-3)):
        away = np.linalg.norm(np.asarray(parts[part].points) - found[name], axis=1).min()
        assert away < within
    np.testing.assert_array_equal(found["tip, in the false lumen"], record.positions[row, -1])


def test_the_page_asks_for_nothing_and_says_what_it_is(shown):
    text = page_of(shown)
    assert len(text.encode()) <= page.LARGEST
    assert page.ALLOWED in text and text.index("Content-Security-Policy") < text.index("<script")
    for asks in (r'(?:src|href)\s*=\s*["\']?\s*(?:https?:)?//', r"url\(\s*[\"']?(?:https?:)?//", r"@import"):
        assert not re.search(asks, text)
    assert "kitware.github.io/vtk-js/icon" not in text
    assert CAUTION in text and "invented" in text and "made up &lt;b&gt;" in text and "<title>made up &lt;b&gt;" in text
    assert "made up <b>" not in text


def test_the_page_holds_the_meshes_and_the_camera(shown):
    record, row, parts, _ = shown
    text = page_of(shown)
    packed = re.search(r'const base64Str = "([^"]+)"', text)
    assert packed is not None
    with zipfile.ZipFile(io.BytesIO(base64.b64decode(packed.group(1)))) as archive:
        content = json.loads(archive.read("index.json"))
    numbers = {
        entry["hash"]: np.frombuffer(base64.b64decode(entry["content"]), dtype=np.float32)
        for entry in content["hashes"].values()
        if entry.get("type") == "Float32Array" or entry.get("dataType") == "Float32Array"
    }
    for name in ("wire", "flap", "plane"):
        wanted = np.asarray(parts[name].points).ravel()
        assert any(v.shape == wanted.shape and np.array_equal(v, wanted) for v in numbers.values())
    assert '"parallelProjection": 1' in json.dumps(content["scene"])


def test_the_gltf_file_reads_back_in_metres_with_names_colours_and_the_caution(shown, tmp_path):
    record, row, parts, _ = shown
    path = gltf.save_glb(gltf.glb_bytes(parts, "made up"), tmp_path / "x.glb")
    back = trimesh.load(path)
    assert set(back.geometry) == set(parts)
    for name, part in parts.items():
        there = back.geometry[name]
        np.testing.assert_allclose(there.bounds, np.asarray(part.bounds).reshape(3, 2).T, atol=1e-9)
        assert len(there.faces) == 2 * part.n_cells
        alpha = there.visual.material.baseColorFactor[3] / 255
        assert alpha == pytest.approx(scene.SEE_THROUGH.get(name, 1.0), abs=0.003)
        assert there.visual.material.alphaMode == ("BLEND" if name in scene.SEE_THROUGH else "OPAQUE")
    colours = np.asarray(back.geometry["wire"].visual.vertex_attributes["color"])[:, :3]
    np.testing.assert_array_equal(colours, np.asarray(parts["wire"].point_data["colour"]))
    raw = path.read_bytes()
    head = json.loads(raw[20 : 20 + int.from_bytes(raw[12:16], "little")])
    assert head["asset"]["version"] == "2.0" and head["asset"]["copyright"] == CAUTION
    assert "invented" in head["asset"]["extras"]["data"]


def test_without_a_drawing_machine_there_is_one_sentence(monkeypatch, tmp_path):
    path = save(make_record(), tmp_path / "record.nc")
    monkeypatch.setattr(scene, "_has_context", lambda: False)
    with pytest.raises(CannotDraw, match="no picture"):
        scene.check_can_draw()
    result = run.invoke(app, ["solid", str(path), "--out", str(tmp_path / "out")])
    assert result.exit_code == 2 and "no picture of a scene" in result.stderr and "--no-picture" in result.stderr
    assert result.stderr.count("\n") == 1 and not (tmp_path / "out").exists()
    result = run.invoke(app, ["solid", str(path), "--no-picture", "--out", str(tmp_path / "out")])
    assert result.exit_code == 0, result.output
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["solid.glb", "solid.html"]


@pytest.mark.slow
def test_where_opengl_is_missing_the_command_ends_in_order(tmp_path):
    path = save(make_record(), tmp_path / "record.nc")
    hidden = {k: v for k, v in os.environ.items() if k != "DISPLAY"} | {"__EGL_VENDOR_LIBRARY_FILENAMES": "/none"}
    words = [sys.executable, "-m", "tipmech", "solid", str(path), "--out", str(tmp_path / "out")]
    ended = subprocess.run(words, env=hidden, capture_output=True, text=True, timeout=300, check=False)
    assert ended.returncode in (0, 2), ended.stderr  # 0: there is a software renderer beside EGL; never a crash
    if ended.returncode == 2:
        assert "no picture of a scene" in ended.stderr and not (tmp_path / "out").exists()


@pytest.mark.slow
def test_the_command_writes_all_of_it_once(tmp_path):
    path = save(make_record(), tmp_path / "record.nc")
    out = tmp_path / "out"
    result = run.invoke(app, ["solid", str(path), "--increment", "20", "--out", str(out), "--json"])
    assert result.exit_code == 0, result.output
    facts = json.loads(result.stdout)
    assert facts["increment"] == 20 and facts["increments"] == 24 and not facts["coil"]
    assert facts["feed_m"] == pytest.approx(make_record().feed[19])
    assert sorted(p.name for p in out.iterdir()) == ["solid.glb", "solid.html", "solid.png"]
    with Image.open(out / "solid.png") as image:
        assert image.text["Comment"] == CAUTION
    result = run.invoke(app, ["solid", str(path), "--out", str(out)])
    assert result.exit_code == 2 and "already holds solid.png" in result.stderr


def test_wrong_input_is_one_sentence(tmp_path):
    path = save(make_record(), tmp_path / "record.nc")
    (tmp_path / "no.nc").write_bytes(b"no record")
    case = tmp_path / "case.toml"
    case.write_text(
        'start = "lumen"\n[wire]\npreset = "workhorse"\n[tip_shape]\nbend_deg = 30\n[vessel]\nlumen_diameter_mm = 3\n'
        "[tear]\nstart_mm = 20\n[false_channel]\nroom_mm = 2\n[support]\ndistance_mm = 8\n[[moves]]\nadvance_mm = 20\n"
    )
    for words, said in (
        ([str(tmp_path / "none.nc")], "there is no such record"),
        ([str(tmp_path / "no.nc")], "cannot be read"),
        ([str(path), "--increment", "25"], "--increment: 25 given; allowed: 1 to 24"),
        ([str(path), "--increment", "0"], "--increment: 0 given"),
        ([str(path), "--case", str(case)], "another vessel, tear or support"),
    ):
        result = run.invoke(app, ["solid", *words, "--out", str(tmp_path / "out")])
        assert result.exit_code == 2, words
        assert said in result.stderr and "allowed" in result.stderr and result.stderr.count("\n") == 1
    assert not (tmp_path / "out").exists()


def test_a_case_file_adds_coil_layers_and_views(tmp_path):
    case = "experiments/scenes/balloon_tear.toml"
    asked = read_case(case)
    record = make_record()
    record = replace(record, case=replace(asked.case, numerics=record.case.numerics))
    path = save(record, tmp_path / "record.nc")
    found = command.read_solid(path, None, case)
    assert found.design.name == asked.design.name and found.layers == asked.layers and found.layers is not None
    assert found.title == asked.title
    thick = replace(record.case.profile, radius=record.case.profile.radius * 1.1)
    path = save(replace(record, case=replace(record.case, profile=thick)), tmp_path / "thick.nc")
    with pytest.raises(ValueError, match="not as thick"):
        command.read_solid(path, None, case)


NO_NETWORK = (
    "--headless", "--no-sandbox", "--disable-gpu", "--enable-unsafe-swiftshader", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync", "--window-size=1000,700",
    "--virtual-time-budget=20000", "--host-resolver-rules=MAP * ~NOTFOUND",
)  # fmt: skip


def asked_by_page(path, folder):
    """Picture of a page in a browser without a network, and the addresses that the page itself asked for."""
    browser = shutil.which("chromium")
    assert browser is not None, "install Debian's chromium"
    log, picture = folder / "net.json", folder / "seen.png"
    own = [f"--log-net-log={log}", f"--screenshot={picture}", f"--user-data-dir={folder / 'user'}"]
    subprocess.run([browser, *NO_NETWORK, *own, path.as_uri()], check=True, capture_output=True, timeout=300)
    events = json.loads(log.read_text(encoding="utf-8", errors="replace"))["events"]
    asked = [event["params"] for event in events if "url" in event.get("params", {})]
    outside = {p["url"] for p in asked if p["url"].startswith("http") and p.get("initiator", "not an origin") in OURS}
    with Image.open(picture) as image:
        return np.asarray(image.convert("RGB")).astype(int), outside


OURS = ("file://", "null")  # how the browser names a page that comes from a file


@pytest.mark.browser
def test_a_browser_without_a_network_draws_the_page(shown, tmp_path):
    text = page_of(shown)
    seen, asked = asked_by_page(page.save_page(text, tmp_path / "solid.html"), tmp_path)
    assert asked == set()
    assert np.mean((seen < 235).any(axis=2)) > 0.1
    body = seen[150:600]
    violet = (body[..., 2] > body[..., 1] + 25) & (body[..., 0] < 130)
    assert violet.sum() > 50  # the wire


@pytest.mark.browser
def test_a_page_that_asks_is_found_out(tmp_path):
    path = tmp_path / "asks.html"
    path.write_text('<html><body><img src="http://example.invalid/x.png"></body></html>')
    assert asked_by_page(path, tmp_path)[1] == {"http://example.invalid/x.png"}
