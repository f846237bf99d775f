"""How a rigid section comes to rest on elastic lines, and whether it stands there.

The lines pull and never push; both their ends are places in space, so that the sway
of the lift points and the slant of splayed lines are in the energy from the start:

.. math:: V = \\sum_g \\tfrac12 K_g \\max(0, e_g)^2 + W z_G

where the stretch e_g of a group is summed over the lines that share one tension, a
line by itself being a group of one. Rest is the energy's minimum reached downhill
from the true hang; many cases are solved side by side.
"""

from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from towerlift.errors import NoEquilibriumError
from towerlift.mechanics.compiled import STILL_RTOL
from towerlift.mechanics.descent import descend, scaled_stiffness
from towerlift.mechanics.energy import (
    Flags,
    Floats,
    Ints,
    LineProblem,
    Pose,
    energy_curvature,
    group_pulls,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class HungLoad:
    """A rigid load on lines, in many cases side by side, hanging true.

    Attributes
    ----------
    upper : (m, n, 3) float
        Fixed end of each line. [m]
    lower : (m, n, 3) float
        Lift points, where the true hang has them. [m]
    stiffness : (m, n) float
        Of each line. [N/m]
    weight : (m,) float
        [N]
    centre : (m, 3) float
        Centre of gravity in the true hang. [m]
    groups : (n,) int
        Lines with the same number share one tension through a floating equaliser;
        numbers from 0, none left out.
    """

    upper: Floats
    lower: Floats
    stiffness: Floats
    weight: Floats
    centre: Floats
    groups: Ints

    def __post_init__(self) -> None:
        m, n = self.stiffness.shape
        for name, shape in (
            ("upper", (m, n, 3)),
            ("lower", (m, n, 3)),
            ("weight", (m,)),
            ("centre", (m, 3)),
            ("groups", (n,)),
        ):
            array = getattr(self, name)
            if array.shape != shape or not np.all(np.isfinite(array)):
                raise ValueError(f"{name} must be finite and {shape}, got {array.shape}")
        if not (np.all(self.stiffness > 0) and np.all(self.weight > 0)):
            raise ValueError("stiffness and weight must be positive")
        if not np.all(np.isfinite(self.stiffness)):
            raise ValueError("stiffness must be finite")
        if not np.all(self.lengths > 0):
            raise ValueError("every line must have a length")
        if sorted(set(self.groups.tolist())) != list(range(int(self.groups.max()) + 1)):
            raise ValueError(f"groups must be numbered from 0, got {self.groups.tolist()}")

    @property
    def lengths(self) -> Floats:
        """Length of each line in the true hang, (m, n). [m]"""
        lengths: Floats = np.linalg.norm(self.upper - self.lower, axis=-1)
        return lengths

    @property
    def middle(self) -> Floats:
        """Mean of the lift points in the true hang, (m, 3). [m]"""
        return np.asarray(self.lower.mean(axis=1))

    @property
    def height(self) -> Floats:
        """Height of the centre of gravity above the lift points' mean, (m,). [m]"""
        return np.asarray(self.centre[:, 2] - self.middle[:, 2])


@dataclass(frozen=True, slots=True, kw_only=True)
class Hang:
    """How each case hangs at rest; where it does not, how it would set out.

    Attributes
    ----------
    rests : (m,) bool
        Whether it comes to a rest that it returns to. Where not, all else but
        `ratio`, `tilt_stiffness` and `least` is not a number, and those are taken in
        the true hang.
    shift : (m, 3) float
        Move of the mean of the lift points from the true hang. [m]
    turn : (m, 3) float
        Rotation vector from the true hang; its first two are the tilt. [rad]
    tensions, stretch : (m, n) float
        Load and stretch of each line. [N], [m]
    slack : (m, n) bool
        Lines that carry nothing; a lost line is one of them.
    tilt_stiffness : (m, 2, 2) float
        Stiffness of the lines against tilt about x and y, with heave, sway and yaw
        free, before toppling is taken off. [N m/rad]
    ratio : (m,) float
        Least of it over W h_G; infinite where the centre is below the lift points.
    least : (m,) float
        Smallest eigenvalue of the whole stiffness, turns taken at the mean reach of
        the lift points. [N/m]
    """

    rests: Flags
    shift: Floats
    turn: Floats
    tensions: Floats
    stretch: Floats
    slack: Flags
    tilt_stiffness: Floats
    ratio: Floats
    least: Floats

    def demand_rest(self) -> "Hang":
        """The same hang, if every case rests.

        Returns
        -------
        hang : Hang
            Unchanged.

        Raises
        ------
        NoEquilibriumError
            If any case does not come to rest.
        """
        if not self.rests.all():
            first = int(np.flatnonzero(~self.rests)[0])
            raise NoEquilibriumError(
                f"case {first} does not come to rest on its lines: tilting stiffness "
                f"over toppling stiffness {self.ratio[first]:.3g}, smallest eigenvalue "
                f"{self.least[first]:.3g} N/m"
            )
        return self


def settle(load: HungLoad, *, hauled: Floats | None = None, lost: Flags | None = None) -> Hang:
    """Where each case comes to rest, with tensions and stability.

    Parameters
    ----------
    load : HungLoad
        Load and lines, hanging true.
    hauled : (m, n) float, optional
        Extra haul of each line, such as a crew out of step. [m]
    lost : (m, n) bool, optional
        Lines lost after the load was hung. A group that loses one line loses all.

    Returns
    -------
    hang : Hang
        For every case, also those that do not come to rest.

    Raises
    ------
    ValueError
        If `hauled` or `lost` is not (m, n).

    Notes
    -----
    All lines are hauled alike, by as much as balances the weight in the true hang;
    offset of the centre, unequal stiffness and extra haul then tilt it. The answer is
    static: a sudden loss swings beyond it. Ropes are taken as held at the capstan.
    """
    problem = pose_problem(load, hauled, lost)
    true = Pose(
        shift=np.zeros_like(load.centre), turn=np.tile(np.eye(3), (len(load.weight), 1, 1))
    )
    pose, balanced = descend(problem, true)
    hessian = energy_curvature(problem, pose)
    spectrum: Floats = np.asarray(np.linalg.eigvalsh(scaled_stiffness(problem, hessian)))
    stiff = spectrum[:, 0] > -STILL_RTOL * spectrum[:, -1]
    lines = line_tilt_stiffness(problem, hessian)
    toppling = load.weight * load.height
    rests = balanced & stiff & (np.linalg.eigvalsh(lines)[:, 0] > toppling)
    least = spectrum[:, 0].copy()
    if not rests.all():
        fallen = problem.of(~rests)
        upright = energy_curvature(fallen, true.of(~rests))
        lines[~rests] = line_tilt_stiffness(fallen, upright)
        least[~rests] = np.linalg.eigvalsh(scaled_stiffness(fallen, upright))[:, 0]
    group_tension, _ = group_pulls(problem, pose)
    tensions = group_tension @ problem.member
    unknown = np.where(rests, 0.0, np.nan)[:, None]
    return Hang(
        rests=rests,
        shift=pose.shift + unknown,
        turn=Rotation.from_matrix(pose.turn).as_rotvec() + unknown,
        tensions=tensions + unknown,
        stretch=tensions / load.stiffness + unknown,
        slack=tensions <= 0,
        tilt_stiffness=lines,
        ratio=_ratio(lines, toppling),
        least=least,
    )


def _ratio(lines: Floats, toppling: Floats) -> Floats:
    ratio = np.full(toppling.shape, np.inf)
    softest = np.linalg.eigvalsh(lines)[:, 0]
    np.divide(softest, toppling, out=ratio, where=toppling > 0)
    return ratio


def pose_problem(load: HungLoad, hauled: Floats | None, lost: Flags | None) -> LineProblem:
    """The energy of a hung load about its true hang; arguments as of :func:`settle`."""
    shape = load.stiffness.shape
    hauled = np.zeros(shape) if hauled is None else hauled
    lost = np.zeros(shape, dtype=bool) if lost is None else lost
    if hauled.shape != shape or lost.shape != shape or not np.all(np.isfinite(hauled)):
        raise ValueError(f"hauled and lost must be {shape}, got {hauled.shape}, {lost.shape}")
    member = (np.arange(int(load.groups.max()) + 1)[:, None] == load.groups).astype(float)
    stiffness = 1 / ((1 / load.stiffness) @ member.T)
    lines = load.upper - load.lower
    rise = lines[..., 2] / load.lengths
    held = stiffness * member.sum(axis=1) * (rise @ member.T)
    lift = held.sum(axis=1)
    if not np.all(lift > 0):
        raise ValueError("the lines do not pull upward: upper ends are below lift points")
    haul = (load.weight / lift)[:, None] + hauled
    arms = load.lower - load.middle[:, None]
    reach = np.sqrt((arms**2).sum(axis=-1).mean(axis=-1))
    return LineProblem(
        anchors=load.upper - load.middle[:, None],
        arms=arms,
        centre=load.centre - load.middle,
        weight=load.weight,
        member=member,
        stiffness=np.where((lost.astype(float) @ member.T) > 0, 0.0, stiffness),
        rest=(load.lengths - haul) @ member.T,
        reach=np.where(reach > 0, reach, 1.0),
    )


def line_tilt_stiffness(problem: LineProblem, hessian: Floats) -> Floats:
    """Tilting stiffness with all other freedoms free, toppling added back, (m, 2, 2)."""
    tilt, others = [3, 4], [0, 1, 2, 5]
    coupled = hessian[:, others][:, :, tilt]
    free = hessian[:, others][:, :, others]
    # A freedom without stiffness (yaw on one line) takes no part.
    left = np.swapaxes(coupled, 1, 2) @ np.linalg.pinv(free, rcond=1e-10, hermitian=True)
    net = hessian[:, tilt][:, :, tilt] - left @ coupled
    toppling = problem.weight * problem.centre[:, 2]
    return np.asarray((net + np.swapaxes(net, 1, 2)) / 2 + toppling[:, None, None] * np.eye(2))
