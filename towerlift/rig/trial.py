"""One lift at one height with something going wrong: where the section goes."""

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial.transform import Rotation

from towerlift.gaps import pose_gap
from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.mechanics.guided import Disturbance, GuidedHang, Way, settle_guided
from towerlift.mechanics.hang import HungLoad
from towerlift.mechanics.shoes import Guides, Wind
from towerlift.motion.masses import moving_mass
from towerlift.motion.passages import Passage, PoseChange
from towerlift.nesting.guides import Guide, bearing_stretch, section_guides
from towerlift.nesting.pairs import Pair, Workshop, hidden_pairs, passing_pairs
from towerlift.plan.bodies import Face
from towerlift.plan.model import Plan
from towerlift.rig.curves import Floats
from towerlift.rig.hanging import RiggedLift, rigged_lift
from towerlift.rig.losses import guide_swelling
from towerlift.rig.out_of_true import Outlines, outlines_of, wind_on

_OUTWARD = {
    Face.NORTH: (0.0, 1.0, 0.0),
    Face.SOUTH: (0.0, -1.0, 0.0),
    Face.EAST: (1.0, 0.0, 0.0),
    Face.WEST: (-1.0, 0.0, 0.0),
}
# Gap of each pair found before, and the pose at which it was.
Known = dict[int, tuple[float, Floats]]
# Shoes are taken in pairs on each face, so far to either side of its middle.
ASIDE = 0.7


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """What goes wrong while a section is hauled.

    Attributes
    ----------
    behind : str
        Mark of the capstan that lags; empty for none.
    by : float
        How far its tackle lags, at the section; less than nothing is ahead. [m]
    lost : str
        Tackle that is lost; empty for none.
    friction : float
        Of shoe on rail.
    gust : float
        Wind on what stands above the wall head. [m/s]
    towards : float
        Way the wind blows, anticlockwise from east. [rad]
    """

    behind: str = ""
    by: float = 0.0
    lost: str = ""
    friction: float = 0.2
    gust: float = 0.0
    towards: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Astray:
    """Where a section goes in trouble.

    Attributes
    ----------
    hang : GuidedHang
        One case; a section without shoes has none.
    change : PoseChange or None
        How it hangs away from true; None where it finds no rest.
    heel : float
        Heel height then. [m]
    corners : (n,) float
        Height of each lift point above where true has it. [m]
    """

    hang: GuidedHang
    change: PoseChange | None
    heel: float
    corners: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Near:
    """The nearest that a section in trouble comes to something.

    Attributes
    ----------
    gap : float
        Below nothing where they overlap. [m]
    member, other : str
        Members of either side.
    against : str
        What the other is of.
    """

    gap: float
    member: str
    other: str
    against: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftTrial:
    """A passage made ready, so that trouble after trouble can be tried at once.

    Attributes
    ----------
    plan : Plan
        As written.
    shop : Workshop
        Shapes and raise.
    passage : Passage
        What moves.
    rigged : RiggedLift
        Lines at every sample.
    weight : float
        Of all that moves. [N]
    centre : (3,) float
        Its centre of gravity, frame of the hauled section. [m]
    guides : tuple of Guide
        Shoes; none where it hangs free.
    half : float
        Half width at the shoes. [m]
    swelling : float
        Of one side of the section and of what carries its rails, together. [m]
    pairs : tuple of Pair
        What it passes.
    """

    plan: Plan
    shop: Workshop
    passage: Passage
    rigged: RiggedLift
    weight: float
    centre: Floats
    guides: tuple[Guide, ...]
    half: float
    swelling: float
    pairs: tuple[Pair, ...]

    @property
    def outlines(self) -> Outlines:
        """Of all that moves, for the wind."""
        key = ("outlines of what moves", self.passage.index)
        return self.shop.kept(key, lambda: outlines_of(self.shop.shapes, self.passage))

    def at(self, heel: float, trouble: Trouble, way: Way = "at rest") -> Astray:
        """Where the section goes at a height.

        Parameters
        ----------
        heel : float
            Heel height; the nearest sample is taken. [m]
        trouble : Trouble
            What goes wrong.
        way : str
            Whether it stands, is hauled up or is let down.

        Returns
        -------
        astray : Astray
            Lift points, tensions and shoes.

        Raises
        ------
        ValueError
            If the passage has no tackle or capstan of that name.
        """
        row = int(np.abs(self.rigged.heels - heel).argmin())
        load = self.load_at(row)
        hang = settle_guided(
            load,
            self.shoes_at(row, trouble.friction),
            disturbed=self.wrong_at(row, trouble),
            way=way,
        )
        place = float(self.rigged.heels[row])
        if not hang.rests[0]:
            nothing = np.full(load.lower.shape[1], np.nan)
            return Astray(hang=hang, change=None, heel=place, corners=nothing)
        return self.placed(load, hang, place)

    def load_at(self, row: int) -> HungLoad:
        """Load and lines hanging true, each line by itself.

        Parameters
        ----------
        row : int
            Sample of the travel.

        Returns
        -------
        load : HungLoad
            One case.

        Raises
        ------
        ValueError
            If a top block or a lift point has no place there.
        """
        pose = self._pose(float(self.rigged.heels[row]))
        return HungLoad(
            upper=self.rigged.upper[row : row + 1],
            lower=self.rigged.lower[row : row + 1],
            stiffness=self.rigged.stiffness_at(row)[None],
            weight=np.array([self.weight]),
            centre=(pose[:3, :3] @ self.centre + pose[:3, 3])[None],
            groups=np.arange(len(self.rigged.lift.lines)),
        )

    def _pose(self, heel: float) -> Floats:
        return self.shop.raise_.shaft_from_section(heel)

    def wrong_at(self, row: int, trouble: Trouble) -> Disturbance:
        """A trouble as the balance of forces takes it.

        Parameters
        ----------
        row : int
            Sample of the travel.
        trouble : Trouble
            What goes wrong.

        Returns
        -------
        disturbed : Disturbance
            One case.

        Raises
        ------
        ValueError
            If the passage has no tackle or capstan of that name.
        """
        lines = self.rigged.lift.lines
        behind = np.array([line.capstan == trouble.behind for line in lines])
        lost = np.array([line.tackle == trouble.lost for line in lines])
        if (trouble.behind and not behind.any()) or (trouble.lost and not lost.any()):
            raise ValueError(
                f'lift {self.rigged.lift.name} has no capstan "{trouble.behind}" or no tackle '
                f'"{trouble.lost}"'
            )
        heel = float(self.rigged.heels[row])
        force, height = wind_on(self.outlines, heel, trouble.gust, self.plan.shaft.wall_head)
        way = np.array([np.cos(trouble.towards), np.sin(trouble.towards), 0.0])
        middle = self.rigged.lower[row].mean(axis=0)
        return Disturbance(
            hauled=np.where(behind, -trouble.by, 0.0)[None],
            lost=lost[None],
            wind=Wind(force=(force * way)[None], at=np.array([[middle[0], middle[1], height]])),
        )

    def shoes_at(self, row: int, friction: float) -> Guides:
        """Shoes that bear, in pairs on each face.

        Parameters
        ----------
        row : int
            Sample of the travel.
        friction : float
            Of shoe on rail.

        Returns
        -------
        shoes : Guides
            One case; none where it hangs free.
        """
        heel = float(self.rigged.heels[row])
        share = row / max(len(self.rigged.heels) - 1, 1)
        pose = self._pose(heel)
        play: dict[tuple[Face, float], float] = {}
        for guide in self.guides:
            base = 0.0
            if guide.on in self.passage.standing:
                base = self.passage.heel(guide.on, share)
            for s in bearing_stretch(guide, heel, base) or ():
                key = (guide.face, round(s, 6))
                play[key] = min(guide.play, play.get(key, np.inf))
        at, outward, gap = [], [], []
        for (face, s), left in play.items():
            normal = np.array(_OUTWARD[face])
            along = np.array([-normal[1], normal[0], 0.0])
            for side in (-ASIDE, ASIDE):
                point = self.half * (normal + side * along) + np.array([0, 0, s])
                at.append(pose[:3, :3] @ point + pose[:3, 3])
                outward.append(pose[:3, :3] @ normal)
                gap.append(max(left - self.swelling, 0.0))
        return Guides(
            at=np.array(at, dtype=float).reshape(1, -1, 3),
            outward=np.array(outward, dtype=float).reshape(1, -1, 3),
            gap=np.array(gap, dtype=float).reshape(1, -1),
            friction=np.array([friction]),
        )

    def placed(self, load: HungLoad, hang: GuidedHang, heel: float) -> Astray:
        """Where a balance puts the section.

        Parameters
        ----------
        load : HungLoad
            One case.
        hang : GuidedHang
            That rests.
        heel : float
            Heel height in the true hang. [m]

        Returns
        -------
        astray : Astray
            In the shaft frame.
        """
        turn = Rotation.from_rotvec(hang.turn[0])
        middle, true = load.middle[0], self._pose(heel)
        foot = middle + hang.shift[0] + turn.apply(true[:3, 3] - middle)
        # The plan's own turn about the axis comes first, so that the order is the pose's.
        tilt_y, tilt_x, yaw = turn.as_euler("YXZ")
        change = PoseChange(
            tilt_x=float(tilt_x),
            tilt_y=float(tilt_y),
            yaw=float(yaw),
            drift_x=float(foot[0] - true[0, 3]),
            drift_y=float(foot[1] - true[1, 3]),
        )
        moved = middle + hang.shift[0] + turn.apply(load.lower[0] - middle)
        corners = moved[:, 2] - load.lower[0, :, 2]
        return Astray(hang=hang, change=change, heel=float(foot[2]), corners=corners)

    def nearest(self, astray: Astray, known: Known | None = None) -> Near | None:
        """The nearest that it comes to anything, by the clearance engine.

        Parameters
        ----------
        astray : Astray
            From :meth:`at`.
        known : dict, optional
            Gaps of this trial found before, which are added to: what cannot have come
            nearer since than the nearest of all is not measured again.

        Returns
        -------
        near : Near or None
            None where it finds no rest, or passes nothing.
        """
        if astray.change is None:
            return None
        known = {} if known is None else known
        poses = [self.moved(pair, astray) for pair in self.pairs]
        least = [
            -np.inf
            if n not in known
            else known[n][0] - farthest_move(pair, known[n][1], poses[n])
            for n, pair in enumerate(self.pairs)
        ]
        found = None
        for n in np.argsort(least, kind="stable").tolist():
            if found is not None and least[n] > found.gap:
                break
            near = _near(self.pairs[n], poses[n])
            known[n] = near.gap, poses[n]
            if found is None or near.gap < found.gap:
                found = near
        return found

    def moved(self, pair: Pair, astray: Astray) -> Floats:
        """Pose of the moving side of a pair, in the frame of the standing one.

        Parameters
        ----------
        pair : Pair
            One of this trial.
        astray : Astray
            Where the section goes.

        Returns
        -------
        other_from_moving : (4, 4) float
            [m]

        Raises
        ------
        ValueError
            If the section finds no rest.
        """
        if astray.change is None:
            raise ValueError("a section that finds no rest has no pose")
        standing = self.passage.standing
        up = standing[pair.moving].heel_from - standing[self.passage.moving[0]].heel_from
        # What stands on the hauled section turns with it about the hauled one's heel.
        shaft_from_hauled = pair.shop.raise_.shaft_from_section(astray.heel, astray.change)
        above = np.eye(4)
        above[2, 3] = up
        pose = np.linalg.inv(pair.shaft_from_other) @ shaft_from_hauled @ above
        return np.asarray(pose)


def _near(pair: Pair, pose: Floats) -> Near:
    skip = pair.meant if len(pair.meant) else None
    gap = pose_gap(pair.moving_body, pair.other_body, pose, skip_pairs=skip)
    return Near(
        gap=float(gap.value),
        member=pair.moving_assembly.labels[gap.moving_member].mark,
        other=pair.other_assembly.labels[gap.fixed_member].mark,
        against=pair.against,
    )


def farthest_move(pair: Pair, before: Floats, after: Floats) -> float:
    """How far any point of the moving side can have gone between two poses. [m]

    Parameters
    ----------
    pair : Pair
        Its moving side.
    before, after : (4, 4) float
        Poses of it.

    Returns
    -------
    farthest : float
        At a corner of the box round it, where a linear map is at its most.
    """
    corners = pair.moving_body.vertices
    low, high = corners.min(axis=0), corners.max(axis=0)
    box = np.array([[(low, high)[n >> k & 1][k] for k in range(3)] for n in range(8)])
    moved = box @ (after - before)[:3, :3].T + (after - before)[:3, 3]
    return float(np.linalg.norm(moved, axis=1).max())


def lift_trial(shop: Workshop, passage: Passage) -> LiftTrial:
    """A passage made ready for trouble.

    Parameters
    ----------
    shop : Workshop
        Plan, shapes and raise.
    passage : Passage
        One that a lift hauls.

    Returns
    -------
    trial : LiftTrial
        Ready.

    Raises
    ------
    ValueError
        If no lift hauls it.
    """
    pairs = tuple(
        each
        for each in (*passing_pairs(shop), *hidden_pairs(shop))
        if each.passage.index == passage.index and each.unmeant
    )
    return replace(guided_trial(shop, passage), pairs=pairs)


def guided_trial(shop: Workshop, passage: Passage) -> LiftTrial:
    """A passage made ready for what its lines and shoes do; it passes nothing.

    Parameters
    ----------
    shop : Workshop
        Plan, shapes and raise.
    passage : Passage
        One that a lift hauls.

    Returns
    -------
    trial : LiftTrial
        Without anything that it could meet.

    Raises
    ------
    ValueError
        If no lift hauls it.
    """
    if passage.lift is None or not passage.moving:
        raise ValueError(f"no lift hauls anything in passage {passage.index}")
    plan = shop.plan
    rigged = rigged_lift(plan, shop.raise_, passage)
    mass = moving_mass(shop.shapes, passage)
    guides = section_guides(shop, passage) if rigged.lift.guided else ()
    return LiftTrial(
        plan=plan,
        shop=shop,
        passage=passage,
        rigged=rigged,
        weight=mass.mass * STANDARD_GRAVITY,
        centre=mass.centre,
        guides=guides,
        half=float(np.abs(rigged.lower[0, :, :2] - rigged.lower[0, :, :2].mean(axis=0)).max()),
        swelling=guide_swelling(plan, passage, guides),
        pairs=(),
    )
