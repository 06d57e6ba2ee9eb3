"""What the drawings of the page look like: their shapes in drawing order, colours from show/style.py.

Knows neither web nor solver.
"""

from ..show import style
from .paths import Shape

BINS = 6  # colours of the wire
STRAIN = 0.2  # bending strain of the outer fibre (beyond the shaped form) at the end of the colours, by its square root
STRAIN_COLOURS = ("#481f70", "#3b528b", "#287c8e", "#20a486", "#5ec962", "#c8e020")
"""Middles of equal parts of the map `style.WIRE_CMAP`; a test compares."""
RIM = 0.09  # mm by which the wire's outline is wider than the wire
GROUND = "#f4ece6"
SCREEN = "#d7dadd"
AXIS = {"stroke": style.MUTED, "stroke-width": 1, "fill": "none"}
FORCES: tuple[tuple[str, str, str, str], ...] = (
    ("push", "push at the hand", style.SERIES[0], ""),
    ("front", "on the front", style.INK, "7 3"),
    ("lip", "on the lips, along the vessel", style.SERIES[2], "2 3"),
    ("fold", "fold: bent into the wire, over travel", style.SERIES[4], "9 2"),
    ("friction", "friction: rubbed off, over travel", style.SERIES[3], "7 3 2 3"),
)
"""Name in show/contest.py (or push), words, colour, dashes: lines of the chart, told apart in grey too."""
LIMITS: tuple[tuple[str, str, str], ...] = (
    ("front_limit", "opens the front", style.INK),
    ("fold_limit", "folds the wire", style.SERIES[4]),
)
TICKS = 6  # of an axis, at most
CHART_WIDTH, CHART_HEIGHT = 460.0, 240.0
CHART_BOX = f"0 0 {CHART_WIDTH:g} {CHART_HEIGHT:g}"
SCREEN_HALF = (9.0, 5.5)  # mm, of what is shown about the tear's middle
SCREEN_BOX = f"{-SCREEN_HALF[0]:g} {-SCREEN_HALF[1]:g} {2 * SCREEN_HALF[0]:g} {2 * SCREEN_HALF[1]:g}"
SPACE_SIZE = (800, 500)  # pixels of the view in three dimensions
NUMBERS: tuple[tuple[str, str, str], ...] = (
    ("push", "push at the hand", "mN"),
    ("front", "force on the front", "mN"),
    ("lip", "edges of the lips, in the window", "mN"),
    ("along", "lips along the vessel, in all", "mN"),
    ("floor", "on the window's floor", "mN"),
    ("tip", "tip force", "mN"),
    ("fold", "fold", "mN"),
    ("friction", "friction", "mN"),
    ("opened", "plane opened by", "mm"),
)
ENERGIES: tuple[tuple[str, str], ...] = (
    ("hand", "work of the hand"),
    ("elastic", "bent into the wire"),
    ("walls", "pressed into walls"),
    ("drive", "in the hand's spring"),
    ("friction", "rubbed off"),
    ("opened", "opened: front and margins"),
    ("viscous", "lost in snaps and viscosity"),
)


def _words(size: float, colour: str, anchor: str = "start", **more: object) -> dict[str, object]:
    """Look of a text."""
    return {"font-size": size, "fill": colour, "text-anchor": anchor, **more}


def _wire(view: str, side: str, width: float, rim: str) -> list[Shape]:
    """Outline and coloured pieces of a wire (mm wide) in a view; one side of the flap."""
    tube = {"fill": "none", "stroke-linecap": "round", "stroke-linejoin": "round"}
    wide = width + RIM * (2.0 if side == "false" else 1.0)
    shapes = [Shape(f"{view}_{side}_rim", "path", {**tube, "stroke": rim, "stroke-width": wide})]
    for k, colour in enumerate(STRAIN_COLOURS):
        shapes.append(Shape(f"{view}_{side}_{k}", "path", {**tube, "stroke": colour, "stroke-width": width}))
    return shapes


def section_shapes(width: float) -> list[Shape]:
    """Shapes of section and plan, from the back to the front; width : the wire's diameter, mm."""
    edge = {"stroke": style.INK, "stroke-width": 0.04}
    small = 0.42
    return [
        Shape("wall", "path", {"fill": style.WALL}),
        Shape("attached", "path", {"fill": style.ATTACHED}),
        Shape("lumen", "path", {"fill": style.TRUE_LUMEN}),
        Shape("window", "path", {"fill": style.TRUE_LUMEN}),
        Shape("channel", "path", {"fill": style.FALSE_LUMEN, "stroke": style.FALSE_OUTLINE, "stroke-width": 0.05}),
        Shape("ground", "path", {"fill": style.ATTACHED}),
        Shape("plan_channel", "path", {"fill": style.FALSE_LUMEN, "stroke": style.FALSE_OUTLINE, "stroke-width": 0.05}),
        Shape("plan_opened", "path", {"fill": style.FALSE_LUMEN, "stroke": style.FALSE_OUTLINE, "stroke-width": 0.03}),
        Shape("plan_window", "path", {"fill": style.TRUE_LUMEN}),
        Shape("plan_lip", "path", {"stroke": style.FLAP, "stroke-width": 0.1}),
        *_wire("side", "false", width, style.FALSE_OUTLINE),
        Shape("flap", "path", {"fill": style.FLAP, **edge}),
        Shape("support", "path", {"fill": style.SUPPORT, **edge}),
        *_wire("side", "true", width, style.INK),
        Shape("break_ground", "path", {"fill": "none", "stroke": "#ffffff", "stroke-width": 0.14}),
        Shape("break", "path", {"fill": "none", "stroke": style.INK, "stroke-width": 0.04}),
        Shape("front", "path", {"stroke": style.INK, "stroke-width": 0.12}),
        *_wire("plan", "true", width, style.INK),
        *_wire("plan", "false", width, style.FALSE_OUTLINE),
        Shape("plan_front", "path", {"stroke": style.INK, "stroke-width": 0.12}),
        Shape("scale", "path", {"stroke": style.INK, "stroke-width": 0.08}),
        Shape("label_lumen", "text", {**_words(small, "#31658f", "end"), "text": "true lumen"}),
        Shape("label_false", "text", {**_words(small, style.FALSE_OUTLINE, "end"), "text": "false lumen (orange)"}),
        Shape("label_tear", "text", {**_words(small, style.INK, "middle"), "text": "tear"}),
        Shape("label_front", "text", {**_words(small, style.INK), "text": "front"}),
        Shape("label_section", "text", {**_words(small, style.INK), "text": "section along the vessel"}),
        Shape("label_plan", "text", {**_words(small, style.INK), "text": "pocket seen from the lumen"}),
        Shape("label_scale", "text", {**_words(small, style.INK), "text": "1 mm"}),
    ]


def chart_shapes() -> list[Shape]:
    """Shapes of the chart of forces."""
    shapes = [
        Shape("grid", "path", {"stroke": "#e5e7eb", "stroke-width": 1, "fill": "none"}),
        Shape("axes", "path", AXIS),
    ]
    for name, _, colour in LIMITS:
        look = {"stroke": colour, "stroke-width": 1.2, "stroke-dasharray": "1 3", "fill": "none"}
        shapes += [Shape(name, "path", look), Shape(f"{name}_words", "text", _words(12, colour))]
    for name, _, colour, dashes in FORCES:
        look = {"stroke": colour, "stroke-width": 2, "fill": "none", "stroke-dasharray": dashes}
        shapes.append(Shape(name, "path", {**look, "stroke-linejoin": "round"}))
    shapes += [Shape(f"x{k}", "text", _words(12, style.INK, "middle")) for k in range(TICKS)]
    shapes += [Shape(f"y{k}", "text", _words(12, style.INK, "end")) for k in range(TICKS)]
    shapes.append(Shape("x_words", "text", {**_words(12, style.INK, "middle"), "text": "travel of the hand (mm)"}))
    shapes.append(Shape("y_words", "text", {**_words(12, style.INK), "text": "force (mN)"}))
    return shapes


def screen_shapes(width: float) -> list[Shape]:
    """Shapes of the projected view; width : the wire's diameter, mm."""
    tube = {"fill": "none", "stroke": "#202428", "stroke-linecap": "round", "stroke-linejoin": "round"}
    return [
        Shape("ground", "path", {"fill": SCREEN}),
        Shape("wire", "path", {**tube, "stroke-width": width}),
        Shape("scale", "path", {"stroke": style.INK, "stroke-width": 0.12}),
        Shape("label_scale", "text", {**_words(0.8, style.INK), "text": "5 mm"}),
    ]
