"""The disk cache of kernels: only callers of what was edited compile again, and nothing stale is ever served.

A small package of kernels is written, run, edited and run again, each time in a fresh process.
"""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

LAW = '''
from typing import NamedTuple
from tipmech.kernel import bundle, kernel, inlined

STIFF = 2.0
UNUSED = 5.0
TABLE = (1.0, 3.0)


class Spring(NamedTuple):
    length: float
    force: float


class Inner(NamedTuple):
    length: float
    force: float


class Outer(NamedTuple):
    inner: Inner
    scale: float


@bundle
class Load(NamedTuple):
    inner: Inner
    size: float
    place: float


@bundle
class Structure(NamedTuple):
    scale: float
    load: Load


@inlined
def square(x: float) -> float:
    """Square."""
    return x * x


@kernel
def energy(x: float) -> float:
    return STIFF * square(x)


@kernel
def other(x: float) -> float:
    return x + TABLE[1]


@kernel
def stretch(s: Spring) -> float:
    return s.length


@kernel
def nested(o: Outer) -> float:
    return o.inner.length * o.scale


@kernel
def moment(a: Load) -> float:
    return a.size * a.place * a.inner.length


@kernel
def bundled(s: Structure) -> float:
    return moment(s.load) * s.scale - s.load.place
'''

LOOP = """
from tipmech.kernel import kernel
from .law import Spring, energy, other


@kernel
def twice(x: float, fast: bool) -> float:
    return 2.0 * energy(x) if fast else energy(x)


@kernel
def spring(x: float) -> Spring:
    return Spring(x, 10.0 * x)


@kernel
def total(x: float) -> float:
    return twice(x, True) + twice(x, False) + other(x) + spring(x).length
"""

RUN = """
import json, sys
from springs import law, loop
from tipmech.kernel import Kernel
values = [
    loop.total(3.0), law.other(3.0), law.stretch(law.Spring(3.0, 30.0)),
    law.nested(law.Outer(law.Inner(3.0, 30.0), 2.0)),
    law.bundled(law.Structure(2.0, law.Load(law.Inner(3.0, 30.0), 5.0, 7.0))),
]
kernels = {n: k for m in (law, loop) for n, k in vars(m).items() if isinstance(k, Kernel)}
faces = {f"{n}.{face}": getattr(k, face).stats for n, k in kernels.items() for face in ("whole", "part")}
missed = sorted(n for n, s in faces.items() if sum(s.cache_misses.values()))
hit = sorted(n for n, s in faces.items() if sum(s.cache_hits.values()))
copies = {n: len(k.part.signatures) for n, k in kernels.items()}
print(json.dumps([values, missed, hit, copies]))
"""

EVERYTHING = [
    "bundled.whole",
    "energy.part",
    "moment.part",
    "nested.whole",
    "other.part",
    "other.whole",
    "spring.part",
    "square.part",
    "stretch.whole",
    "total.whole",
    "twice.part",
]
VALUES = [63.0, 6.0, 3.0, 6.0, 203.0]  # 18 (2 + 1) + 3 + 3 + 3; 3 + 3; 3; 3 x 2; 5 x 7 x 3 x 2 - 7
FIELDS = "    length: float\n    force: float\n"
SWAPPED = "    force: float\n    length: float\n"
ENTRIES = ["bundled.whole", "nested.whole", "other.whole", "stretch.whole", "total.whole"]


class House:
    """A package of kernels in a folder, its cache in another."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.package = folder / "springs"
        self.package.mkdir()
        for name, text in (("__init__", ""), ("law", LAW), ("loop", LOOP)):
            (self.package / f"{name}.py").write_text(text)

    def edit(self, name: str, old: str, new: str) -> None:
        path = self.package / f"{name}.py"
        text = path.read_text()
        assert text.count(old) == 1
        path.write_text(text.replace(old, new))

    def run(self) -> tuple[list[float], list[str], list[str], dict[str, int]]:
        """Values, faces that were compiled, faces that came from the cache, copies of each part."""
        root = str(Path(__file__).resolve().parents[2])
        environment = {
            **os.environ,
            "NUMBA_CACHE_DIR": str(self.folder / "cache"),
            "PYTHONPATH": os.pathsep.join((str(self.folder), root)),
            "PYTHONDONTWRITEBYTECODE": "1",
        }
        done = subprocess.run([sys.executable, "-c", RUN], env=environment, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        values, missed, hit, copies = json.loads(done.stdout)
        return values, missed, hit, copies


@pytest.fixture(scope="module")
def compiled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A package whose kernels are all in the cache."""
    folder = tmp_path_factory.mktemp("springs")
    values, missed, hit, copies = House(folder).run()
    assert values == VALUES
    assert (missed, hit) == (EVERYTHING, [])
    assert copies["twice"] == 1  # handed True and False
    shutil.copytree(folder / "cache", folder / "kept")
    return folder


@pytest.fixture
def house(compiled: Path) -> House:
    """That package and its cache as they were (in the same folder: it is part of the cache's name)."""
    for name in ("cache", "springs"):
        shutil.rmtree(compiled / name)
    shutil.copytree(compiled / "kept", compiled / "cache")
    return House(compiled)


def test_a_second_process_compiles_nothing(house: House) -> None:
    values, missed, hit, _ = house.run()
    assert values == VALUES
    assert missed == []
    assert hit == ENTRIES  # machine code is whole: no part is looked at


@pytest.mark.parametrize(
    ("file", "old", "new", "values", "missed"),
    [
        pytest.param(
            "law", "return x * x", "return x * x * x", [171.0, 6.0, 3.0, 6.0, 203.0],
            ["energy.part", "square.part", "total.whole", "twice.part"], id="a callee's callee in another module",
        ),
        pytest.param(
            "loop", "return 2.0 * energy(x)", "return 3.0 * energy(x)", [81.0, 6.0, 3.0, 6.0, 203.0],
            ["total.whole", "twice.part"], id="a callee",
        ),
        pytest.param(
            "law", "STIFF = 2.0", "STIFF = 4.0", [117.0, 6.0, 3.0, 6.0, 203.0],
            ["energy.part", "total.whole", "twice.part"], id="a constant of a callee's module",
        ),
        pytest.param(
            "law", "TABLE = (1.0, 3.0)", "TABLE = (1.0, 4.0)", [64.0, 7.0, 3.0, 6.0, 203.0],
            ["other.part", "other.whole", "total.whole"], id="an entry of a table",
        ),
        pytest.param(
            "law", f"Spring(NamedTuple):\n{FIELDS}", f"Spring(NamedTuple):\n{SWAPPED}",
            [90.0, 6.0, 30.0, 6.0, 203.0],
            ["spring.part", "stretch.whole", "total.whole"], id="the order of a named tuple's fields",
        ),
        pytest.param(
            "law", f"Inner(NamedTuple):\n{FIELDS}", f"Inner(NamedTuple):\n{SWAPPED}",
            [63.0, 6.0, 3.0, 60.0, 2093.0],
            ["bundled.whole", "moment.part", "nested.whole"], id="the fields of a named tuple within one",
        ),
        pytest.param(
            "law", "    size: float\n    place: float\n", "    place: float\n    size: float\n",
            [63.0, 6.0, 3.0, 6.0, 205.0],
            ["bundled.whole", "moment.part"], id="the order of a bundle's fields",
        ),
        pytest.param(
            "law", "@inlined\n", "@kernel\n", VALUES,
            ["energy.part", "square.part", "total.whole", "twice.part"], id="the decorator",
        ),
        pytest.param("law", "UNUSED = 5.0", "UNUSED = 6.0", VALUES, [], id="a constant that no kernel reads"),
        pytest.param("law", '"""Square."""', '"""The square."""', VALUES, [], id="a docstring"),
        pytest.param("law", "@inlined\n", "# a line that moves all below it\n@inlined\n", VALUES, [], id="a comment"),
    ],
)  # fmt: skip
def test_only_callers_of_what_was_edited_compile_again(
    house: House, file: str, old: str, new: str, values: list[float], missed: list[str]
) -> None:
    house.edit(file, old, new)
    assert house.run()[:2] == (values, missed)
    assert house.run()[:2] == (values, [])


def test_an_edit_taken_back_serves_the_first_code_never_the_second(house: House) -> None:
    house.edit("law", "STIFF = 2.0", "STIFF = 4.0")
    assert house.run()[0] == [117.0, 6.0, 3.0, 6.0, 203.0]
    house.edit("law", "STIFF = 4.0", "STIFF = 2.0")
    assert house.run()[0] == VALUES


def test_the_decorators_own_sources_are_in_the_key() -> None:
    from tipmech.kernel import digest

    package = Path(digest.__file__).parent
    assert {p.name for p in package.glob("*.py")} >= {"__init__.py", "bundle.py", "cache.py", "digest.py", "parts.py"}
    for path in package.glob("*.py"):
        assert path.read_bytes() in digest.HERE


@pytest.mark.parametrize("edit", ["SETTINGS = {'a': 1.0}", "import springs.law as SETTINGS", "SETTINGS = lambda: 1.0"])
def test_what_the_key_cannot_cover_is_refused(tmp_path: Path, edit: str) -> None:
    house = House(tmp_path)
    house.edit("law", "UNUSED = 5.0", edit)
    house.edit("law", "return x * x", "return x * x + SETTINGS.UNUSED")
    with pytest.raises(AssertionError, match=r"kernel springs.law.square reads SETTINGS, a \w+; it may read"):
        house.run()
