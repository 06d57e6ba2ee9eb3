"""The floors of the house: imports of ours point downward only and siblings are blind to each other.

The rod never sees closed_forms. Only cli.py may import ours inside functions: the command line must start before
the physics is loaded.
"""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import tipmech

FLOORS = {
    "units": 0,
    "bending": 0,
    "checks": 0,
    "outcome": 0,
    "kernel": 0,
    "whole": 0,
    "profile": 1,
    "gpu": 1,
    "smooth": 1,
    "closed_forms": 1,
    "wire": 2,
    "rod": 2,
    "vessel": 2,
    "bench": 3,
    "insertion": 3,
    "regime": 3,
    "study": 4,
    "validation": 4,
    "show": 5,
    "files": 5,
    "lab": 6,
    "page": 6,
    "cli": 7,
    "__main__": 8,
}
ROOT = Path(tipmech.__file__).parent
LAZY = {"cli"}  # rooms that may import ours inside functions
CONSTANTS = {"__version__", "CAUTION"}  # names of tipmech/__init__.py, importable from everywhere
FORBIDDEN = {("rod", "closed_forms")}  # else the validation would check a formula against itself


def room_of(path: Path) -> str:
    """Room of a file of the package: its first folder, or its own name."""
    first = path.relative_to(ROOT).parts[0]
    return first.removesuffix(".py")


def imports(tree: ast.Module, package: list[str]) -> Iterator[tuple[str, int, bool]]:
    """Rooms imported by a module of `package` (its parts below tipmech), with line and whether inside a function."""
    inside = {
        id(n) for f in ast.walk(tree) if isinstance(f, ast.FunctionDef | ast.AsyncFunctionDef) for n in ast.walk(f)
    }
    for node in ast.walk(tree):
        names: list[list[str]] = []
        if isinstance(node, ast.Import):
            names = [a.name.split(".")[1:] for a in node.names if a.name.split(".")[0] == "tipmech"]
        elif isinstance(node, ast.ImportFrom):
            module = node.module.split(".") if node.module else []
            if node.level:
                base = package[: len(package) - node.level + 1]
                names = [base + module + ([] if module or base else [a.name]) for a in node.names]
            elif module[:1] == ["tipmech"]:
                names = [module[1:] or [a.name] for a in node.names]
        for name in names:
            if name and name[0] not in CONSTANTS:
                yield name[0], node.lineno, id(node) in inside


def violations(source: str, room: str, package: list[str], where: str = "file") -> list[str]:
    """What breaks the order in a source text of `room`."""
    found = []
    for target, line, hidden in imports(ast.parse(source), package):
        place = f"{where}:{line}: {room} imports {target}"
        if target not in FLOORS:
            found.append(f"{place}, which stands on no floor")
        elif target != room and FLOORS[target] >= FLOORS[room]:
            found.append(f"{place}, which is not below it")
        elif (room, target) in FORBIDDEN:
            found.append(f"{place}, which it must never do")
        if hidden and room not in LAZY:
            found.append(f"{place} inside a function")
    return found


SOURCES = sorted(p for p in ROOT.rglob("*.py") if p != ROOT / "__init__.py")


def test_every_room_has_a_floor() -> None:
    assert {room_of(p) for p in SOURCES} <= set(FLOORS)
    assert len(SOURCES) > 20


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_point_downward(path: Path) -> None:
    package = list(path.relative_to(ROOT).parts[:-1])
    assert violations(path.read_text(encoding="utf-8"), room_of(path), package, str(path.relative_to(ROOT))) == []


def test_the_package_itself_imports_nothing_of_ours() -> None:
    assert list(imports(ast.parse((ROOT / "__init__.py").read_text(encoding="utf-8")), [])) == []


@pytest.mark.parametrize(
    ("room", "package", "source", "word"),
    [
        ("rod", ["rod"], "from ..insertion.case import Case", "not below"),
        ("rod", ["rod"], "from tipmech.vessel import scene", "not below"),
        ("wire", ["wire"], "import tipmech.rod.band", "not below"),
        ("show", ["show"], "from .. import files", "not below"),
        ("files", ["files"], "from ..show.wire import wire_page", "not below"),
        ("units", [], "from .profile import Profile", "not below"),
        ("rod", ["rod"], "from ..closed_forms import euler", "never"),
        ("rod", ["rod"], "from .. import closed_forms", "never"),
        ("bench", ["bench"], "def f():\n    from ..rod.band import solve", "inside a function"),
        ("bench", ["bench"], "class A:\n    def f(self):\n        import tipmech.rod", "inside a function"),
        ("bench", ["bench"], "from ..helpers import x", "no floor"),
        ("study", ["study", "deep"], "from ...show import x", "not below"),
    ],
)
def test_a_violation_is_seen(room: str, package: list[str], source: str, word: str) -> None:
    assert any(word in v for v in violations(source, room, package))


@pytest.mark.parametrize(
    ("room", "package", "source"),
    [
        ("cli", [], "def f():\n    from .show.wire import wire_page"),
        ("bench", ["bench"], "from ..rod.band import solve\nfrom . import plate\nfrom .plate import x\nimport numpy"),
        ("show", ["show"], "from .. import CAUTION\ndef f():\n    import matplotlib.pyplot as plt"),
        ("show", ["show"], "from ..insertion.record import Record\nfrom .wire import x"),
        ("wire", ["wire"], "from ..closed_forms import euler"),
    ],
)
def test_what_is_allowed_passes(room: str, package: list[str], source: str) -> None:
    assert violations(source, room, package) == []
