"""The nearest that a section out of true comes to anything, and where it leaves least."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps import Body, Path, PathGap, PoseGap, UnsearchedError, least_gap, pose_gap
from towerlift.nesting.bodies import Label
from towerlift.nesting.budget import GapBudget
from towerlift.nesting.guides import Play
from towerlift.nesting.margins import Place
from towerlift.nesting.needs import Allowed, budget_at
from towerlift.nesting.pairs import Pair
from towerlift.nesting.parts import lots_of, moving_part, standing_part
from towerlift.rig.trial import LiftTrial

Floats = NDArray[np.float64]
# Gaps of the parts measured last, and the poses in which they were.
_Known = dict[int, tuple[PoseGap, Floats]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Near:
    """The nearest two pieces of one moving and one standing body.

    Attributes
    ----------
    moving, against : str
        The two bodies.
    label, opposite : Label
        The two pieces.
    gap : float
        Their distance in the pose, or minus the depth of overlap. [m]
    certified : bool
        Whether it is proven to be the least; else it may be less.
    where, across : tuple of float
        Nearest points of the moving and of the other body, shaft frame. [m]
    budget : GapBudget
        What must be left: the pose has play, tilt and sway in it, so they are not.
    pieces : tuple of int
        Which part was asked, and the two members in it.
    on_the_way : bool
        Whether they meet on the straight way from the true hang to the pose, which
        nothing can pass; the gap is then that of the way.
    """

    moving: str
    against: str
    label: Label
    opposite: Label
    gap: float
    certified: bool
    where: Place
    across: Place
    budget: GapBudget
    pieces: tuple[int, int, int]
    on_the_way: bool = False

    @property
    def spare(self) -> float:
        """Distance beyond what must be left; negative where it falls short. [m]"""
        return self.gap - self.budget.total

    @property
    def mark(self) -> str:
        """The moving piece by its mark."""
        return self.label.within(self.moving)

    @property
    def opposite_mark(self) -> str:
        """The other piece by its mark."""
        return self.opposite.within(self.against)

    @property
    def subject(self) -> str:
        """The two pieces as the check of clearance names them, and overrules do."""
        across = self.opposite_mark
        against = self.against if across == self.against else f"{self.against}: {across}"
        return f"{self.moving}: {self.mark} ({self.label.part}) against {against}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """Pieces of one pair that may not touch, ready for the engine.

    Attributes
    ----------
    pair : Pair
        What moves past what.
    moving_body, standing_body : Body
        Engine bodies.
    moving_box, standing_box : (8, 3) float
        Corners of the boxes round them, own frames. [m]
    budget : GapBudget
        What must be left anywhere along the body.
    """

    pair: Pair
    moving_body: Body
    standing_body: Body
    moving_box: Floats
    standing_box: Floats
    budget: GapBudget

    def apart(self, pose: Floats) -> float:
        """What the boxes prove the two to be apart. [m]"""
        moved = self.moving_box @ pose[:3, :3].T + pose[:3, 3]
        low, high = moved.min(axis=0), moved.max(axis=0)
        off = np.maximum(low - self.standing_box[-1], self.standing_box[0] - high)
        return float(np.linalg.norm(np.maximum(off, 0.0)))

    def farthest_move(self, before: Floats, after: Floats) -> float:
        """How far any point of the moving side can have gone between two poses. [m]"""
        change = after - before
        moved = self.moving_box @ change[:3, :3].T + change[:3, 3]
        return float(np.linalg.norm(moved, axis=1).max())

    def applies(self, heel: float) -> bool:
        """Whether it is asked about with the moving section's heel at a height."""
        low, high = self.pair.travel
        return not self.pair.released or low <= heel <= high


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What a search found.

    Attributes
    ----------
    nearest : Near
        The least gap of all.
    tightest : Near
        Where least is left beyond what must be.
    spared : tuple of Near
        Pieces that an overrule lets come nearer, and that leave less than `tightest`.
    unproven : Near or None
        One whose least distance the engine could not prove, so that less may be left
        there than is said.
    measured : int
        Lots that had to be measured.
    """

    nearest: Near
    tightest: Near
    spared: tuple[Near, ...]
    unproven: Near | None
    measured: int


class Surroundings:
    """All that a hauled section passes, asked again and again from near where it was.

    Parameters
    ----------
    trial : LiftTrial
        A passage made ready.
    running : callable
        From names of a moving and a standing body to the running clearance that is to be
        left between them. [m]
    lenient : callable
        Whether an overrule lets two pieces come nearer than that.

    Notes
    -----
    A part that was measured before cannot have come nearer since than its moving side
    has moved, and a part that was not cannot be nearer than the boxes round it. What
    these bounds keep out of the running is not measured again; nothing else is left out.
    """

    def __init__(
        self,
        trial: LiftTrial,
        running: Callable[[str, str], float],
        lenient: Callable[[Near], bool],
    ) -> None:
        self._trial, self._running, self._lenient = trial, running, lenient
        self._known: _Known = {}
        self._hung: _Known = {}

    @cached_property
    def parts(self) -> tuple[Part, ...]:
        """Every lot of pieces that may not touch."""
        pairs = [*self._trial.pairs]
        for pair in self._trial.pairs:
            way = pair.on_the_way
            low, high = way.travel
            if high > low and way.unmeant:
                pairs.append(way)
        return tuple(part for pair in pairs for part in self._parts_of(pair))

    def _parts_of(self, pair: Pair) -> list[Part]:
        heights = pair.moving_assembly.vertices[np.unique(pair.moving_assembly.faces), 2]
        still = Play(running=0.0, shift=lambda _: (0.0, 0.0))
        running = self._running(pair.moving, pair.against)
        allowed = Allowed(running=running, free={})
        ends = float(heights.min()), float(heights.max())
        budget = budget_at(pair, allowed, still, ends)
        return [
            Part(
                pair=pair,
                moving_body=(moving := moving_part(pair, lot)),
                standing_body=(standing := standing_part(pair, lot)),
                moving_box=_box(moving),
                standing_box=_box(standing),
                budget=budget,
            )
            for lot in lots_of(pair)
        ]

    def search(self, poses: Mapping[str, Floats], true: Mapping[str, Floats]) -> Found | None:
        """The nearest pieces with the moving sections in given poses.

        Parameters
        ----------
        poses, true : mapping of str to (4, 4) float
            ``shaft_from_section`` of every moving section, as it is asked about and as
            it hangs true at that height. [m]

        Returns
        -------
        found : Found or None
            None where nothing stands by that is not meant to touch.
        """
        asked: dict[int, tuple[Floats, Floats]] = {}
        for n, part in enumerate(self.parts):
            moving = part.pair.moving
            if part.applies(float(true[moving][2, 3])):
                other_from_shaft = np.linalg.inv(part.pair.shaft_from_other)
                asked[n] = other_from_shaft @ poses[moving], other_from_shaft @ true[moving]
        found = self._spared({n: pose for n, (pose, _) in asked.items()})
        if found is None:
            return None
        # What strikes in the pose is told already.
        for n, (pose, hung) in asked.items() if found.nearest.gap > 0 else ():
            through = self._passed_through(n, pose, hung)
            if through is not None and through.gap < found.nearest.gap:
                found = replace(found, nearest=through, tightest=through)
        return found

    def _spared(self, asked: Mapping[int, Floats]) -> Found | None:
        """The nearest, and behind every piece that an overrule spares the next one.

        A piece that may come nearer must not hide another that may not.
        """
        first = found = self._nearest(asked, {})
        skip: dict[int, list[tuple[int, int]]] = {}
        spared: list[Near] = []
        while found is not None and self._lenient(found.tightest):
            near = found.tightest
            spared.append(near)
            skip.setdefault(near.pieces[0], []).append(near.pieces[1:])
            found = self._nearest(asked, skip)
        if first is None:
            return None
        tightest = first.tightest if found is None else found.tightest
        unproven = first.unproven if found is None else found.unproven or first.unproven
        return replace(first, tightest=tightest, spared=tuple(spared), unproven=unproven)

    def _nearest(
        self, asked: Mapping[int, Floats], skip: Mapping[int, list[tuple[int, int]]]
    ) -> Found | None:
        least = {n: self._bound(self._known, n, pose) for n, pose in asked.items()}
        nearest: Near | None = None
        tightest: Near | None = None
        unproven: Near | None = None
        measured = 0
        for n in sorted(least, key=lambda n: least[n] - self.parts[n].budget.total):
            spare = least[n] - self.parts[n].budget.total
            beyond = nearest is not None and least[n] > nearest.gap
            if beyond and tightest is not None and spare > tightest.spare:
                continue
            if n in skip:
                gap = self._measure_without(n, asked[n], skip[n])
            else:
                gap = self._measure(self._known, n, asked[n])
            measured += 1
            if gap is None:
                continue
            near = self._near(n, gap)
            if not near.certified:
                unproven = near
            if nearest is None or near.gap < nearest.gap:
                nearest = near
            if tightest is None or near.spare < tightest.spare:
                tightest = near
        if nearest is None or tightest is None:
            return None
        return Found(
            nearest=nearest,
            tightest=tightest,
            spared=(),
            unproven=unproven,
            measured=measured,
        )

    def _passed_through(self, n: int, pose: Floats, hung: Floats) -> Near | None:
        """What the moving side would have to pass through to come to the pose.

        A gap in the pose alone would not show it: a post that is past a thin beam is
        as clear of it as one that has not come to it.
        """
        part = self.parts[n]
        # From one end they come no nearer than its gap less the way gone, and so from the
        # other: where the two gaps are more than the whole way, they cannot meet on it.
        left = part.farthest_move(hung, pose) - max(self._bound(self._known, n, pose), 0.0)
        if left < 0 or left < self._bound(self._hung, n, hung):
            return None
        true = self._measure(self._hung, n, hung)
        # Where they meet in the true hang already, no way from there can be judged.
        if left < true.value or not true.value > 0:
            return None
        way = Path(stations=np.array([0.0, 1.0]), poses=np.array([hung, pose]))
        gap = least_gap(part.moving_body, part.standing_body, way)
        return replace(self._near(n, gap), on_the_way=True) if gap.struck else None

    def _bound(self, known: _Known, n: int, pose: Floats) -> float:
        """What two bodies are proven to be apart in a pose, without asking the engine."""
        part = self.parts[n]
        apart = part.apart(pose)
        # Overlapping boxes prove nothing: the bodies may cross.
        least = apart if apart > 0 else -np.inf
        if n in known:
            gap, before = known[n]
            # How deep two bodies cross says nothing of how deep they may cross next.
            if gap.certified and gap.value > 0:
                least = max(least, gap.value - part.farthest_move(before, pose))
        return least

    def _measure(self, known: _Known, n: int, pose: Floats) -> PoseGap:
        part = self.parts[n]
        guess = known[n][0] if n in known else None
        gap = pose_gap(part.moving_body, part.standing_body, pose, guess=guess)
        known[n] = gap, pose
        return gap

    def _measure_without(
        self, n: int, pose: Floats, skip: list[tuple[int, int]]
    ) -> PoseGap | None:
        """The nearest but for some pairs of pieces; None where no others are left."""
        part = self.parts[n]
        try:
            return pose_gap(part.moving_body, part.standing_body, pose, skip_pairs=skip)
        except UnsearchedError:
            raise
        except ValueError:
            return None

    def _near(self, n: int, gap: PoseGap | PathGap) -> Near:
        pair = self.parts[n].pair
        return Near(
            moving=pair.moving,
            against=pair.against,
            label=pair.moving_assembly.labels[gap.moving_member],
            opposite=pair.other_assembly.labels[gap.fixed_member],
            gap=float(gap.value if isinstance(gap, PoseGap) else gap.upper),
            certified=bool(gap.certified),
            where=pair.in_shaft(gap.moving_point),
            across=pair.in_shaft(gap.fixed_point),
            budget=self.parts[n].budget,
            pieces=(n, int(gap.moving_member), int(gap.fixed_member)),
        )


def _box(body: Body) -> Floats:
    """Corners of the box round the triangles of a body, the lowest first, the highest last."""
    used = body.vertices[np.unique(body.faces)]
    low, high = used.min(axis=0), used.max(axis=0)
    ends = (low, high)
    corners = product((0, 1), repeat=3)
    return np.array([[ends[k][axis] for axis, k in enumerate(corner)] for corner in corners])
