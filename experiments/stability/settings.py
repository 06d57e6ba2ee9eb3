"""What is changed, one at a time, to see whether an insertion's outcome hangs on it."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from tipmech.insertion.case import Case


@dataclass(frozen=True)
class Setting:
    """One change of a case. numeric: a setting of the solver, which must not matter (False: a tissue value)."""

    key: str
    words: str
    change: Callable[[Case], Case]
    numeric: bool = True


def _numerics(name: str, factor: float) -> Callable[[Case], Case]:
    def change(case: Case) -> Case:
        old = getattr(case.numerics, name)
        new = round(old * factor) if name == "elements" else old * factor
        return replace(case, numerics=replace(case.numerics, **{name: new}))

    return change


def _wall(factor: float) -> Callable[[Case], Case]:
    def change(case: Case) -> Case:
        wall = replace(case.scene.wall, youngs_modulus=case.scene.wall.youngs_modulus * factor)
        return replace(case, scene=replace(case.scene, wall=wall))

    return change


def _front(factor: float) -> Callable[[Case], Case]:
    def change(case: Case) -> Case:
        channel = replace(case.scene.channel, front_stiffness=case.scene.channel.front_stiffness * factor)
        return replace(case, scene=replace(case.scene, channel=channel))

    return change


SETTINGS: tuple[Setting, ...] = (
    Setting("floor", "imperfection x 1.001 (the floor)", _numerics("imperfection", 1.001)),
    Setting("increment", "increment / 2", _numerics("increment", 0.5)),
    Setting("elements", "elements x 2", _numerics("elements", 2.0)),
    Setting("spacing", "point spacing / 2", _numerics("spacing", 0.5)),
    Setting("smoothing", "smoothing / 2", _numerics("smoothing", 0.5)),
    Setting("slip", "slip length / 2", _numerics("slip_length", 0.5)),
    Setting("viscosity_low", "viscosity / 4", _numerics("viscosity", 0.25)),
    Setting("viscosity_high", "viscosity x 4", _numerics("viscosity", 4.0)),
    Setting("imperfection_low", "imperfection x 0.3", _numerics("imperfection", 0.3)),
    Setting("imperfection_high", "imperfection x 3", _numerics("imperfection", 3.0)),
    Setting("wall", "wall modulus x 1.25", _wall(1.25), numeric=False),
    Setting("front", "front stiffness x 3", _front(3.0), numeric=False),
)
