"""How every hauled section hangs from its lift, at every height it passes."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.mechanics.hang import Hang, HungLoad, settle
from towerlift.mechanics.tackle import pull_after_leads, raising_advantage, tackle_stiffness
from towerlift.motion.masses import moving_mass
from towerlift.motion.passages import Passage
from towerlift.motion.raises import Raise
from towerlift.plan.bodies import Section
from towerlift.plan.model import Plan
from towerlift.plan.rigging import Lift, Line, Tackle
from towerlift.rig.curves import Floats, HangCurve
from towerlift.shapes.solids import MassProperties, Shapes

HEEL_STEP = 0.05
# A lift point farther from the middle than this share of the farthest is on that side.
SIDE_SHARE = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class RiggedLift:
    """A lift as it stands along one passage: both ends of every line, and its rope.

    Attributes
    ----------
    lift : Lift
        As planned.
    pattern : Tackle
        Blocks and reeving.
    heels : (k,) float
        Heel heights of the hauled section. [m]
    upper, lower : (k, n, 3) float
        Top block and lift point of each line, shaft frame, hanging true. [m]
    axial_stiffness : (n,) float
        EA of the rope of each line. [N]
    """

    lift: Lift
    pattern: Tackle
    heels: Floats
    upper: Floats
    lower: Floats
    axial_stiffness: Floats

    @property
    def lengths(self) -> Floats:
        """Distance from top block to lift point, (k, n). [m]"""
        lengths: Floats = np.linalg.norm(self.upper - self.lower, axis=-1)
        return lengths

    @property
    def hangs(self) -> NDArray[np.bool_]:
        """Heels at which every top block is above its lift point, (k,)."""
        above: NDArray[np.bool_] = (self.upper - self.lower)[..., 2] > 0
        return np.asarray(above.all(axis=1))

    @property
    def stiffness(self) -> Floats:
        """Of each line at its length, (k, n). [N/m]"""
        return self._stiffness(self.lengths)

    def stiffness_at(self, row: int) -> Floats:
        """Of each line at one sample, (n,). [N/m]"""
        return self._stiffness(np.linalg.norm(self.upper[row] - self.lower[row], axis=-1))

    def _stiffness(self, lengths: Floats) -> Floats:
        return tackle_stiffness(
            lengths,
            self.pattern.fall_length,
            parts=self.pattern.parts,
            axial_stiffness=self.axial_stiffness,
        )

    @property
    def spacing(self) -> float:
        """Least distance between opposite sides; infinite for one point. [m]

        Sides hauled unequally lean a section by their difference over this: with arms a
        about the middle, lines alike, it is twice the sum of a squared over that of a.
        """
        arms = self.lower[0, :, :2] - self.lower[0, :, :2].mean(axis=0)
        out = np.abs(arms).sum(axis=0)
        apart = 2.0 * (arms**2).sum(axis=0)[out > 0] / out[out > 0]
        return float(apart.min(initial=np.inf))


def heel_samples(passage: Passage) -> Floats:
    """Heel heights of the hauled section, both ends and no farther apart than 50 mm.

    Parameters
    ----------
    passage : Passage
        One in which something moves.

    Returns
    -------
    heels : (k,) float
        In the order travelled; two at least. [m]
    """
    place = passage.standing[passage.moving[0]]
    steps = max(1, int(np.ceil(abs(passage.travel) / HEEL_STEP - 1e-9)))
    return np.linspace(place.heel_from, place.heel_to, steps + 1)


def rigged_lift(plan: Plan, raise_: Raise, passage: Passage) -> RiggedLift:
    """The lift of a passage with both ends of every line at every sample.

    Parameters
    ----------
    plan : Plan
        Its names have been checked.
    raise_ : Raise
        Says where the sections hang.
    passage : Passage
        One in which something is hauled by a lift.

    Returns
    -------
    rigged : RiggedLift
        Upper ends that sit on a section go where that section goes.
    """
    lift = next(lift for lift in plan.lifts if lift.name == passage.lift)
    pattern = next(tackle for tackle in plan.tackles if tackle.name == lift.pattern)
    stiffness = {coil.tag: coil.axial_stiffness for coil in plan.coils}
    section = next(each for each in plan.sections if each.name == passage.moving[0])
    heels = heel_samples(passage)
    lower = np.array([moving_block(section, line) for line in lift.lines])
    return RiggedLift(
        lift=lift,
        pattern=pattern,
        heels=heels,
        upper=_top_blocks(plan, raise_, passage, heels),
        lower=_carried(raise_, lower, heels),
        axial_stiffness=np.array([stiffness[line.coil] for line in lift.lines]),
    )


def moving_block(section: Section, line: Line) -> tuple[float, float, float]:
    """Where a line pulls at a section.

    Parameters
    ----------
    section : Section
        What is hauled.
    line : Line
        One of its lines.

    Returns
    -------
    at : tuple of float
        Centre of the moving block, frame of the section; not a number where a lift rigged
        for another section has no lift point here, and so no rest to find. [m]
    """
    points = {point.mark: point.at for point in section.lift_points}
    if line.lift_point not in points:
        return (np.nan, np.nan, np.nan)
    return points[line.lift_point] if line.moving_block is None else line.moving_block


def _top_blocks(plan: Plan, raise_: Raise, passage: Passage, heels: Floats) -> Floats:
    lift = next(lift for lift in plan.lifts if lift.name == passage.lift)
    upper = np.array([line.upper for line in lift.lines])
    if lift.hung_from not in {section.name for section in plan.sections}:
        return np.repeat(upper[None], len(heels), axis=0)
    if lift.hung_from not in passage.standing:
        # It is not on the site: no place to say, and no rest to find.
        return np.full((len(heels), *upper.shape), np.nan)
    shares = np.linspace(0, 1, len(heels))
    carrier = np.array([passage.heel(lift.hung_from, share) for share in shares])
    return _carried(raise_, upper, carrier)


def _carried(raise_: Raise, points: Floats, heels: Floats) -> Floats:
    shaft_from_section = raise_.shaft_from_section(0.0)
    at_foot = points @ shaft_from_section[:3, :3].T + shaft_from_section[:3, 3]
    return np.asarray(at_foot[None] + heels[:, None, None] * np.array([0.0, 0.0, 1.0]))


def hang_curves(plan: Plan, shapes: Shapes, raise_: Raise) -> tuple[HangCurve, ...]:
    """Loads, tilt and stability of every hauled passage, at heels 50 mm apart.

    Parameters
    ----------
    plan : Plan
        Lifts, tackles, coils and lift points.
    shapes : Shapes
        Masses and centres of gravity.
    raise_ : Raise
        Passages, cut at every pick-up.

    Returns
    -------
    curves : tuple of HangCurve
        One for each passage that a lift hauls, in order.

    Notes
    -----
    Masses are as reckoned or weighed; their tolerance is for the checks to add. Shoes
    and guides are left out: what they would hold, the lines hold here alone.
    """
    return tuple(
        hang_curve(plan, shapes, raise_, passage)
        for passage in raise_.moving_passages
        if passage.lift is not None
    )


def hang_curve(plan: Plan, shapes: Shapes, raise_: Raise, passage: Passage) -> HangCurve:
    """Loads, tilt and stability along one passage.

    Parameters
    ----------
    plan : Plan
        Lifts, tackles, coils and lift points.
    shapes : Shapes
        Masses and centres of gravity.
    raise_ : Raise
        Where the sections hang.
    passage : Passage
        One that a lift hauls.

    Returns
    -------
    curve : HangCurve
        At heels 50 mm apart and at both ends.
    """
    rigged = rigged_lift(plan, raise_, passage)
    mass = moving_mass(shapes, passage)
    k = len(rigged.heels)
    rest = _at_rest(raise_, rigged, mass)
    advantage = raising_advantage(rigged.pattern.parts, rigged.pattern.sheave_ratio)
    per_load = pull_after_leads(
        rigged.lift.worst_corner * (1 + rigged.lift.friction) / advantage,
        rigged.pattern.leads,
        rigged.pattern.sheave_ratio,
    )
    return HangCurve(
        stage=passage.stage,
        lift=rigged.lift.name,
        passage=passage.index,
        hauled=passage.moving,
        heels=rigged.heels,
        weight=np.full(k, mass.mass * STANDARD_GRAVITY),
        centre=np.repeat(mass.centre[None], k, axis=0),
        height=rest.height,
        lengths=rigged.lengths,
        tilt_stiffness=rest.tilt_stiffness,
        ratio=rest.ratio,
        rests=rest.rests,
        tilt=rest.tilt,
        tensions=rest.tensions,
        stretch=rest.stretch,
        pull=rest.tensions * per_load,
        lost_ratio=rest.lost_ratio,
        lost_line=rest.lost_line,
        lost_tension=rest.lost_tensions.max(axis=1),
        lost_tensions=rest.lost_tensions,
        spacing=rigged.spacing,
        lines=tuple(line.tackle for line in rigged.lift.lines),
        upper=rigged.upper,
        lower=rigged.lower,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rest:
    height: Floats
    tilt_stiffness: Floats
    ratio: Floats
    rests: NDArray[np.bool_]
    tilt: Floats
    tensions: Floats
    stretch: Floats
    lost_ratio: Floats
    lost_line: NDArray[np.int64]
    lost_tensions: Floats


def _at_rest(raise_: Raise, rigged: RiggedLift, mass: MassProperties) -> _Rest:
    """The worst way of hanging that the lift's equalisers leave open, at every sample."""
    k, n = rigged.lengths.shape
    centre = _carried(raise_, mass.centre[None], rigged.heels)[:, 0]
    rest = _nothing(k, n, centre[:, 2] - rigged.lower[:, :, 2].mean(axis=1))
    ok = rigged.hangs
    if not ok.any():
        return rest
    rest.ratio[ok] = rest.lost_ratio[ok] = np.inf
    rest.lost_tensions[ok] = 0.0
    for groups in groupings(rigged.lift, rigged.lower[0]):
        load = HungLoad(
            upper=rigged.upper[ok],
            lower=rigged.lower[ok],
            stiffness=rigged.stiffness[ok],
            weight=np.full(int(ok.sum()), mass.mass * STANDARD_GRAVITY),
            centre=centre[ok],
            groups=groups,
        )
        _take_worse(rest, np.flatnonzero(ok), settle(load))
        _lose_each_line(rest, np.flatnonzero(ok), load)
    if rigged.lift.paced == "feel":
        # Crews that push by feel pay out what is pulled: held ropes alone have stiffness.
        rest.ratio[:] = np.where(rest.height > 0, 0.0, np.inf)
    return rest


def _nothing(k: int, n: int, height: Floats) -> _Rest:
    return _Rest(
        height=height,
        tilt_stiffness=np.zeros(k),
        ratio=np.zeros(k),
        rests=np.zeros(k, dtype=bool),
        tilt=np.full((k, 2), np.nan),
        tensions=np.full((k, n), np.nan),
        stretch=np.full((k, n), np.nan),
        lost_ratio=np.zeros(k),
        lost_line=np.zeros(k, dtype=np.int64),
        lost_tensions=np.full((k, n), np.inf),
    )


def _take_worse(rest: _Rest, rows: NDArray[np.int64], hang: Hang) -> None:
    # A section that finds no rest is no better than one with no stiffness.
    ratio = np.where(hang.rests | (hang.ratio < 1), hang.ratio, 0.0)
    worse = ratio <= rest.ratio[rows]
    at = rows[worse]
    rest.ratio[at] = ratio[worse]
    rest.rests[at] = hang.rests[worse]
    rest.tilt[at] = hang.turn[worse, :2]
    rest.tensions[at] = hang.tensions[worse]
    rest.stretch[at] = hang.stretch[worse]
    rest.tilt_stiffness[at] = np.linalg.eigvalsh(hang.tilt_stiffness)[worse, 0]


def _lose_each_line(rest: _Rest, rows: NDArray[np.int64], load: HungLoad) -> None:
    k, n = load.stiffness.shape
    cases = HungLoad(
        upper=np.repeat(load.upper, n, axis=0),
        lower=np.repeat(load.lower, n, axis=0),
        stiffness=np.repeat(load.stiffness, n, axis=0),
        weight=np.repeat(load.weight, n),
        centre=np.repeat(load.centre, n, axis=0),
        groups=load.groups,
    )
    hang = settle(cases, lost=np.tile(np.eye(n, dtype=bool), (k, 1)))
    ratio = np.where(hang.rests, hang.ratio, 0.0).reshape(k, n)
    fullest = np.where(hang.rests[:, None], hang.tensions, np.inf).reshape(k, n, n).max(axis=1)
    worst = ratio.argmin(axis=1)
    least = ratio[np.arange(k), worst]
    worse = least <= rest.lost_ratio[rows]
    rest.lost_ratio[rows[worse]] = least[worse]
    rest.lost_line[rows[worse]] = worst[worse]
    rest.lost_tensions[rows] = np.maximum(rest.lost_tensions[rows], fullest)


def groupings(lift: Lift, lower: Floats) -> Iterator[NDArray[np.int64]]:
    """Which lines share a tension; each side in turn where the plan does not say which.

    Parameters
    ----------
    lift : Lift
        Says whether falls share their tension.
    lower : (n, 3) float
        Lift point of each line. [m]

    Yields
    ------
    groups : (n,) int
        Lines with the same number share one tension.
    """
    n = len(lower)
    if lift.equalised == "all":
        yield np.zeros(n, dtype=np.int64)
    elif lift.equalised == "one side":
        arms = lower - lower.mean(axis=0)
        sides = [
            sign * arms[:, axis] > SIDE_SHARE * np.abs(arms[:, axis]).max()
            for axis in (0, 1)
            for sign in (1, -1)
        ]
        for side in sides:
            groups = np.where(side, 0, np.cumsum(~side))
            yield np.unique(groups, return_inverse=True)[1].astype(np.int64)
    else:
        yield np.arange(n)
