"""What one insertion left behind: one array per quantity, one row per recorded increment."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .case import Case

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Record:
    """History of an insertion, n recorded increments, N elements. SI units.

    Attributes
    ----------
    case : Case
        what was run
    feed : ndarray, shape (n,)
        displacement of the hand, m
    turn : ndarray, shape (n,)
        rotation of the hand, rad
    positions : ndarray, shape (n, N + 1, 3)
        node positions, m; the last node is the centre of the tip dome
    quaternions : ndarray, shape (n, N, 4)
        element frames (w, x, y, z)
    push, torque : ndarray, shape (n,)
        reaction at the hand, N and N m
    tip_force : ndarray, shape (n,)
        largest normal contact force on the tip dome, N
    tip_angle : ndarray, shape (n,)
        angle between tip tangent and local vessel axis, rad
    tip_s, lead_s : ndarray, shape (n,)
        axial position of the tip's end and of the wire's leading point, m
    lead_false_s : ndarray, shape (n,)
        axial position of the leading point among those in the false channel, m (nan: none there)
    lead_back_s : ndarray, shape (n,)
        the same behind the upstream lip: the smallest there, m (nan: none there)
    side : ndarray of int, shape (n, N + 1)
        channel of each node: 0 true lumen, 1 window, 2 false channel, 3 hole in the flap, 4 false channel behind the
        upstream lip
    force_true, force_false : ndarray, shape (n,)
        summed normal contact forces in the true lumen and in the false channel, N
    force_lip, force_floor, force_hole : ndarray, shape (n,)
        the same of what lies in the tear's window, on the edges of the lips and on all else there (the floor, and the
        wall at the window's sides), and of what lies in holes of the flap, N
    force_lip_along : ndarray, shape (n,)
        axial force of the edges of the lips on the wire, against the advance positive, N: without friction; in the
        window, from their rounding on either side of the flap, and where the wire goes round an edge beside it
    force_front, force_plug, force_front_back : ndarray, shape (n,)
        axial forces of front, plug and the front behind the upstream lip on the wire, N: the first two against the
        advance positive, the third against the withdrawal
    front, front_back, plug : ndarray, shape (n,)
        axial positions of the delamination front, of that behind the upstream lip (nan: none) and of the plug in the
        true lumen (inf: none), m
    front_centre : ndarray, shape (n,)
        sigma at which the notch is seated: the middle of what the front opens there, m (nan: it is not; then 0 is)
    opened_area : ndarray, shape (n,)
        area of plane newly opened since the start (front and margins), m2
    margins : ndarray, shape (n, 2, m), or (n, 4, m) with a plane behind the upstream lip
        opening of the margins beyond W/2 at stations along the plane (rows 0 and 2: sigma < 0; rows 2 and 3 behind the
        upstream lip, stations counted away from it), m
    holes : ndarray, shape (k, 4)
        s, sigma and radius (m) of the tip each time it pierced the flap, and the increment at whose end
    lip : ndarray, shape (n,)
        lift of the downstream lip, free or not, m (positive into the lumen)
    energy_elastic, energy_contact, energy_drive : ndarray, shape (n,)
        stored energies, J
    work_hand, diss_friction, diss_front, diss_margin, diss_plug, diss_viscous : ndarray, shape (n,)
        cumulative works and dissipations by trapezoid from reactions and tractions, J
    released_at_snaps : ndarray, shape (n,)
        part of diss_viscous spent while the feed was held, J
    audit_error : ndarray, shape (n,)
        cumulative energy imbalance over the sum of |dW|, -
    count_stuck, count_released : ndarray of int, shape (n,)
        negative eigenvalues of the static tangent with friction stuck and released
    count_met : ndarray of int, shape (n,)
        largest such count (stuck) met within the increment before the wire was let relax: not 0 is buckling
    iterations : ndarray of int, shape (n,)
        Newton iterations of the increment
    held : ndarray of int, shape (n,)
        relaxation steps with the feed held
    limb_approach : ndarray, shape (n,)
        nearest approach of two limbs of the wire in any step since the last record, over the sum of their radii (inf:
        none near; 1 and less: they touch)
    stop : int
        code of outcome.Stop
    contact_angle : float
        angle between tip tangent and local vessel axis in the first row with contact in the tear's window, its floor
        included, or in a hole, rad (nan: none)
    """

    case: Case
    feed: Array
    turn: Array
    positions: Array
    quaternions: Array
    push: Array
    torque: Array
    tip_force: Array
    tip_angle: Array
    tip_s: Array
    lead_s: Array
    lead_false_s: Array
    lead_back_s: Array
    side: IntArray
    force_true: Array
    force_false: Array
    force_lip: Array
    force_floor: Array
    force_hole: Array
    force_lip_along: Array
    force_front: Array
    force_plug: Array
    force_front_back: Array
    front: Array
    front_back: Array
    plug: Array
    front_centre: Array
    opened_area: Array
    margins: Array
    holes: Array
    lip: Array
    energy_elastic: Array
    energy_contact: Array
    energy_drive: Array
    work_hand: Array
    diss_friction: Array
    diss_front: Array
    diss_margin: Array
    diss_plug: Array
    diss_viscous: Array
    released_at_snaps: Array
    audit_error: Array
    count_stuck: IntArray
    count_released: IntArray
    count_met: IntArray
    iterations: IntArray
    held: IntArray
    limb_approach: Array
    stop: int
    contact_angle: float

    @property
    def force_window(self) -> Array:
        """Summed normal force of all that lies in the tear's window and in holes of the flap, N."""
        return self.force_lip + self.force_floor + self.force_hole


@dataclass(frozen=True)
class Outcome:
    """Where x shape x extension of an insertion, and the events on the way. Made by insertion.classify.

    reached, entered, curled, extended: travel (m; feed and withdrawal both count) since the tip reached the tear at
    which that happened first (nan: never; `reached` is counted from the start of the run), as is feed_past_tear.
    extended: plane extended > 0.5 mm.
    """

    where: int
    shape: int
    label: int
    stop: int
    reached: float
    entered: float
    curled: float
    extended: float
    entered_before_curl: bool
    extension: float
    opened_area: float
    feed_past_tear: float
    max_push: float
    max_tip_force: float
    contact_angle: float
    tip_angle_change: float
    jammed: bool
    audit_error: float
    increments: int
    iterations: int
