"""The smallest single change that would have flipped an insertion's outcome, found by running it again. theory (96)."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from enum import IntEnum
from math import degrees, exp, inf, log, nan, pi, radians

from ..checks import FieldError
from ..insertion.case import Case
from ..insertion.record import Outcome
from ..outcome import Label
from ..vessel.build import front_strength
from ..vessel.scene import Scene

FARTHEST = 4.0  # largest factor either way: tissue and wires differ by less between patients and designs (J)
FARTHEST_ROLL = pi  # rad
RUNGS = 6  # of a ladder either way
FIRST_ROLL = pi / 36.0  # rad, first rung of the roll: 5 degrees
TOLERANCE = 0.03  # relative, of a factor that flips
ROLL_TOLERANCE = 1.0001 * pi / 180.0  # rad: two neighbouring whole degrees
MOST_BISECTIONS = 20  # a rung is narrowed to the tolerance in 3 or 4


class Kind(IntEnum):
    """What is changed."""

    TIP_LOAD = 0
    ROLL = 1
    SUPPORT = 2
    FRICTION = 3
    FRONT = 4


class Found(IntEnum):
    """How a search in one direction ended."""

    FLIPPED = 0
    NO_FLIP = 1
    DOES_NOT_APPLY = 2


@dataclass(frozen=True)
class Run:
    """One insertion of a search: the change (factor, or rad for the roll) and its label; unsolved ones have that label;
    allowed: False where the change cannot be made (there is no room for it), with no label."""

    change: float
    label: Label | None
    allowed: bool = True


@dataclass(frozen=True)
class Search:
    """Search in one direction.

    near, far : float
        bracket of the change at which the outcome flips: the same as before at `near`, flipped at `far` (nan: no flip)
    label : Label or None
        the other outcome
    runs : tuple of Run
        all insertions made; those not solved neither flip nor hold, the search goes past them
    """

    kind: Kind
    up: bool
    found: Found
    near: float
    far: float
    label: Label | None
    runs: tuple[Run, ...]
    why: str = ""

    @property
    def size(self) -> float:
        """Size of the change that flipped as a share of what was searched: |ln factor|/ln 4, |roll|/180 degrees (inf:
        no flip)."""
        if self.found is not Found.FLIPPED:
            return inf
        return abs(self.far) / FARTHEST_ROLL if self.kind is Kind.ROLL else abs(log(self.far)) / log(FARTHEST)

    @property
    def unsolved(self) -> int:
        """Insertions not solved."""
        return sum(r.label is Label.NOT_SOLVED for r in self.runs)


@dataclass(frozen=True)
class Explanation:
    """What an insertion came to and every search; searches are in the order of `Kind`, down before up."""

    case: Case
    outcome: Outcome
    searches: tuple[Search, ...]

    @property
    def smallest(self) -> Search | None:
        """The flip that takes the smallest change (None: nothing flips it)."""
        best = min(self.searches, key=lambda s: s.size)
        return best if best.found is Found.FLIPPED else None

    @property
    def runs(self) -> int:
        """Insertions made, the first included."""
        return 1 + sum(len([r for r in s.runs if r.allowed]) for s in self.searches)


def changed(case: Case, kind: Kind, change: float) -> Case:
    """The case with one thing changed: by a factor, or by an angle (rad) for the roll.

    TIP_LOAD: the wire's rigidity by the softness family, to which the bench's tip load is nearly proportional. SUPPORT:
    its distance from the tear; the first advance is as much longer or shorter. FRICTION: the wire against tissue.
    FRONT: the force that drives the front on.

    Raises
    ------
    FieldError
        where there is no room for the change
    """
    scene = case.scene
    if kind is Kind.TIP_LOAD:
        return replace(case, profile=replace(case.profile.softened(change), name=case.profile.name))
    if kind is Kind.ROLL:
        return replace(case, tip_shape=replace(case.tip_shape, roll=case.tip_shape.roll + change))
    if kind is Kind.FRICTION:
        return replace(case, friction=case.friction * change)
    if kind is Kind.FRONT:
        force = front_strength(scene, 2.0 * float(case.profile.radius[0])) * change
        return replace(case, scene=replace(scene, channel=replace(scene.channel, front_force=force)))
    return _moved_support(case, scene, change)


def applies(case: Case, kind: Kind) -> str:
    """Empty where a kind of change can be made in this case, else why not."""
    if kind is Kind.SUPPORT and case.scene.start != "lumen":
        return f"the insertion starts in the {case.scene.start}, where the support's place follows from the scene"
    if kind is Kind.SUPPORT and (not case.moves or case.moves[0].kind != "advance"):
        return "the first move is not an advance, which would have to be as much longer"
    if kind is Kind.ROLL and case.tip_shape.angle == 0.0 and case.tip_shape.second is None:
        return "the tip is straight"
    if kind is Kind.FRICTION and case.friction == 0.0:
        return "there is no friction"
    return ""


def explain(
    case: Case, evaluate: Callable[[Case], Outcome], on_progress: Callable[[int, int], None] | None = None
) -> Explanation:
    """Find the single changes that would have flipped the outcome's label.

    A ladder out from no change, then bisection between the last rung with the same outcome and the first with another
    (to 3 %, or 1 degree). A flip inside a rung that flips back before its end is not seen.

    Parameters
    ----------
    evaluate : callable
        what a case comes to
    on_progress : callable
        told (searches done, all)

    Raises
    ------
    FieldError
        where the insertion itself is not solved: there is no outcome to flip
    """
    outcome = evaluate(case)
    base = Label(outcome.label)
    if base is Label.NOT_SOLVED:
        raise FieldError("the insertion", "not solved", "one that is solved: there is no outcome to flip")
    directions = [(kind, up) for kind in Kind for up in (False, True)]
    done = []
    for k, (kind, up) in enumerate(directions):
        if on_progress is not None:
            on_progress(k, len(directions))
        done.append(_search(case, kind, up, base, evaluate))
    return Explanation(case, outcome, tuple(done))


def sayable(kind: Kind, change: float) -> float:
    """The change rounded to what is said of it: three digits of a factor, whole degrees of the roll."""
    return radians(round(degrees(change))) if kind is Kind.ROLL else float(f"{change:.3g}")


def ladder(kind: Kind, *, up: bool) -> Iterator[float]:
    """Changes of the ladder in one direction, from the smallest: factors evenly spaced in their logarithm, angles
    spaced geometrically from 5 degrees, each as it is said."""
    sign = 1.0 if up else -1.0
    for k in range(RUNGS):
        if kind is Kind.ROLL:
            yield sayable(kind, sign * FIRST_ROLL * (FARTHEST_ROLL / FIRST_ROLL) ** (k / (RUNGS - 1)))
        else:
            yield sayable(kind, exp(sign * log(FARTHEST) * (k + 1) / RUNGS))


def _search(case: Case, kind: Kind, up: bool, base: Label, evaluate: Callable[[Case], Outcome]) -> Search:
    """Search in one direction."""
    why = applies(case, kind)
    if why:
        return Search(kind, up, Found.DOES_NOT_APPLY, nan, nan, None, (), why)
    runs: list[Run] = []

    def ask(change: float) -> Label | None:
        try:
            label = Label(evaluate(changed(case, kind, change)).label)
        except FieldError:
            runs.append(Run(change, None, allowed=False))
            return None
        runs.append(Run(change, label))
        return label

    near, far, other = (0.0 if kind is Kind.ROLL else 1.0), nan, None
    for change in ladder(kind, up=up):
        label = ask(change)
        if label is None:
            why = "no room for a larger change"
            break
        if label is base:
            near = change
        elif label is not Label.NOT_SOLVED:
            far, other = change, label
            break
    if other is None:
        return Search(kind, up, Found.NO_FLIP, near, nan, None, tuple(runs), why)
    for _ in range(MOST_BISECTIONS):
        if (abs(far - near) <= ROLL_TOLERANCE) if kind is Kind.ROLL else (abs(log(far / near)) <= TOLERANCE):
            break
        middle = sayable(kind, 0.5 * (near + far) if kind is Kind.ROLL else exp(0.5 * (log(near) + log(far))))
        label = ask(middle)
        if label is None or label is Label.NOT_SOLVED:
            break  # the bracket stays as wide as it is
        if label is base:
            near = middle
        else:
            far, other = middle, label
    return Search(kind, up, Found.FLIPPED, near, far, other, tuple(runs))


def _moved_support(case: Case, scene: Scene, factor: float) -> Case:
    """The support's mouth at `factor` times its distance from the tear."""
    support = scene.support
    distance = factor * support.distance
    if not 0.0 < distance <= scene.tear.start:
        raise FieldError("support.distance", distance, f"at most {scene.tear.start:g} m, the tear's place")
    first = case.moves[0].amount + distance - support.distance
    if not first > 0.0:
        raise FieldError("support.distance", distance, "a distance that leaves something of the first advance")
    length = case.numerics.length + max(0.0, distance - support.distance)
    return replace(
        case,
        scene=replace(scene, support=replace(support, distance=distance)),
        moves=(replace(case.moves[0], amount=first), *case.moves[1:]),
        numerics=replace(case.numerics, length=length),
    )
