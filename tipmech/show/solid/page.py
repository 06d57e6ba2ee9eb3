"""A scene as one page that turns in any browser: no server, no network, nothing loaded from elsewhere."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Mapping
from dataclasses import replace
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ... import CAUTION, __version__
from ...whole import whole_file
from .key import entries, scales
from .scene import Eye, build

if TYPE_CHECKING:
    from pyvista import Plotter, PolyData

PAGE = "solid.html"
SIZE = (1200, 720)  # pixels the scene is put together for; the page takes the window's
LARGEST = 8_000_000  # bytes
ALLOWED = (  # what the page may load: nothing that is not in it
    "default-src 'none'; script-src 'unsafe-inline' 'unsafe-eval' blob:; style-src 'unsafe-inline'; "
    "img-src data: blob:; connect-src data: blob:; worker-src blob:"
)
OUTSIDE = "https://kitware.github.io/vtk-js/icon/favicon-${t}x${t}.png"  # the one address that the viewer would ask
NARROW = 1.25  # width over height of a window that still holds what the picture does
LOOK = """
.content { position: fixed; inset: 0; }
.words { position: fixed; left: 0; right: 0; z-index: 5; padding: 8px 14px; font: 14px/1.35 sans-serif;
  color: #22272e; background: rgba(255, 255, 255, 0.86); pointer-events: none; }
.words.over { top: 0; } .words.under { bottom: 0; font-size: 12px; }
.words h1 { font-size: 18px; font-weight: 600; margin: 0 0 2px; } .words p { margin: 2px 0; }
.words .key span { white-space: nowrap; margin-right: 14px; }
.words .key i { display: inline-block; width: 22px; height: 10px; margin-right: 5px; border: 1px solid #22272e; }
.words .key i.scale { width: 90px; }
"""


def page_text(
    parts: Mapping[str, PolyData], eye: Eye, *, title: str, words: str, note: str, layered: bool,
    most: tuple[float, float],
) -> str:  # fmt: skip
    """Page of a scene, first seen from `eye`.

    Parameters
    ----------
    parts : dict of PolyData
        of `parts.vessel_parts` and `parts.moving_parts`
    title, words, note : str
        heading, state of the insertion, what is drawn and what is computed
    layered : bool
        whether the wall's layers are among the parts
    most : (float, float)
        dark ends of the two scales: bending strain (-), travel of the hand (m)
    """
    from trame_vtk.tools.vtksz2html import write_html

    plotter = build(parts, replace(eye, half=eye.half * max(1.0, SIZE[0] / SIZE[1] / NARROW)), SIZE)
    try:
        data = packed(plotter)
    finally:
        plotter.close()
    buffer = io.StringIO()
    write_html(data, buffer)
    page = buffer.getvalue()
    page = page.replace(OUTSIDE, "data:,")
    head = (
        f'<meta http-equiv="Content-Security-Policy" content="{ALLOWED}" />\n'
        f'<meta name="description" content="{escape(CAUTION)}" />\n<style>{LOOK}</style>\n'
    )
    start, end = page.index("<title>"), page.index("</title>")
    page = f"{page[:start]}{head}<title>{escape(title)}{page[end:]}"
    keys = [
        f'<span><i style="background:{colour}"></i>{escape(name)}</span>' for name, colour in entries(parts, layered)
    ]
    for name, shades, top in scales(most):
        bar = f'<i class="scale" style="background:linear-gradient(to right,{",".join(shades)})"></i>'
        keys.append(f"<span>{escape(name)}: 0 {bar}{top:.3g}</span>")
    body = (
        f'<div class="content"></div>\n<div class="words over"><h1>{escape(title)}</h1><p>{escape(words)}</p>'
        f'<p class="key">{" ".join(keys)}</p></div>\n'
        f'<div class="words under"><p>Drag: turn. Wheel or two fingers: nearer, farther. Shift and drag: shift. '
        "Keys, after a press on the scene: R all in view, W edges, V points, S surfaces. "
        f"{escape(note)}</p><p><b>{escape(CAUTION)}</b> tipmech {__version__}</p></div>\n"
    )
    at = page.index("<body>") + len("<body>")
    return f"{page[:at]}\n{body}{page[at:]}"


def packed(plotter: Plotter) -> bytes:
    """A scene with its arrays as the archive that the viewer in the page reads."""
    from trame_vtk.modules.vtk.serializers import (
        SynchronizationContext,
        extract_array_hash,
        initialize_serializers,
        reference_id,
        serialize,
    )

    window: Any = plotter.render_window
    initialize_serializers()
    context = SynchronizationContext()
    context.set_ignore_last_dependencies(True)
    for actor in plotter.actors.values():
        actor.mapper.Update()
    camera = window.GetRenderers().GetFirstRenderer().GetActiveCamera()
    scene = serialize(None, window, reference_id(window), context, 1)
    _parallel(scene, reference_id(camera), float(camera.GetParallelScale()))
    scene["extra"] = {
        "vtkRefId": reference_id(window), "centerOfRotation": camera.GetFocalPoint(), "camera": reference_id(camera),
    }  # fmt: skip
    arrays = {
        entry["hash"]: {**entry, "content": context.get_cached_data_array(entry["hash"], False)}
        for entry in extract_array_hash(scene)
    }
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as file:
        file.writestr("index.json", json.dumps({"hashes": arrays, "scene": scene}))
    return archive.getvalue()


def _parallel(instance: dict[str, Any], name: str, half: float) -> None:
    """Set the parallel projection of a scene's camera, which its description leaves out."""
    if instance["id"] == name:
        instance["properties"] |= {"parallelProjection": 1, "parallelScale": half}
    for part in instance.get("dependencies", []):
        _parallel(part, name, half)


def save_page(text: str, path: Path | str) -> Path:
    """Write a page under a temporary name first."""
    path = Path(path)
    with whole_file(path) as temporary:
        temporary.write_text(text, encoding="utf-8")
    return path
