"""Every haul of an outcome, made ready once and asked again and again."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from towerlift.checks.strength import mass_factor
from towerlift.checks.uneven import shoe_friction
from towerlift.findings import Finding, worst_first
from towerlift.mechanics.energy import Pose
from towerlift.mechanics.guided import Disturbance, GuidedHang, Way, settle_guided
from towerlift.mechanics.hang import HungLoad
from towerlift.mechanics.holding import hold, level_haul
from towerlift.mechanics.shoes import Guides
from towerlift.motion.masses import moving_mass
from towerlift.motion.passages import TRUE_HANG, Passage
from towerlift.motion.raises import Raise
from towerlift.nesting.margins import Place
from towerlift.rig.hanging import groupings
from towerlift.rig.pulls import RopePath, line_coils, rope_path
from towerlift.rig.trial import Astray, LiftTrial, Trouble, lift_trial
from towerlift.what_if.answers import Answer, Held, LineLoad, ShoeLoad
from towerlift.what_if.asked import WhatIf
from towerlift.what_if.limits import Judge, is_lenient, running_between
from towerlift.what_if.nearest import Surroundings
from towerlift.workflow import Outcome

Floats = NDArray[np.float64]

LEVELLED = "the crews have levelled it here, so an offset of its weight does not tilt it"
ALIKE = "no haul of the lines levels it here: all are hauled alike"
ROPES_HELD = "ropes held at the capstans; at rest, and friction left out where it would help"
BY_HAND = "the sliders hold it there, over and above lines, shoes and wind"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ready:
    """A passage made ready."""

    trial: LiftTrial
    surroundings: Surroundings
    path: RopePath
    strength: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stood:
    """Where the section comes to stand, and what it took."""

    astray: Astray
    load: HungLoad
    shoes: Guides
    held: Held | None
    jams: bool
    levelled: bool


class WhatIfBench:
    """Answers what-ifs about one outcome.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.

    Notes
    -----
    Not for two threads at once: bodies and answers near by are kept and used again.
    """

    def __init__(self, outcome: Outcome) -> None:
        self.outcome = outcome
        self._ready: dict[int, _Ready] = {}

    def why_not(self, passage: int) -> str:
        """Why nothing can be asked in a passage; empty where it can.

        Parameters
        ----------
        passage : int
            Index in the raise.

        Returns
        -------
        why : str
            In a sentence.

        Raises
        ------
        ValueError
            If there is no such passage.
        """
        found = self._passage(passage)
        if not found.moving:
            return (
                f"nothing hangs free in this step ({found.step}): what-ifs are for what is "
                "hauled"
            )
        if found.lift not in {lift.name for lift in self.outcome.plan.lifts}:
            return "no lift of the plan hauls it, so no loads can be found"
        return ""

    def make_ready(self, passage: int) -> None:
        """Build all that a passage needs, so that the first answer is as quick as the next.

        Parameters
        ----------
        passage : int
            Index in the raise.
        """
        if not self.why_not(passage):
            self.answer(WhatIf(passage=passage, share=0.5))

    def capstans(self, passage: int) -> tuple[str, ...]:
        """Capstans that can lag in a passage, by mark; none where nothing is hauled."""
        if self.why_not(passage):
            return ()
        name = self._passage(passage).lift
        lift = next(lift for lift in self.outcome.plan.lifts if lift.name == name)
        return tuple(dict.fromkeys(line.capstan for line in lift.lines))

    def answer(self, asked: WhatIf) -> Answer:
        """Answer one what-if.

        Parameters
        ----------
        asked : WhatIf
            Where, and what is out of true.

        Returns
        -------
        answer : Answer
            What cannot be found says so.

        Raises
        ------
        ValueError
            If there is no such passage, or no such capstan in it.
        """
        passage, why = self._passage(asked.passage), self.why_not(asked.passage)
        if why:
            return _nothing(asked, passage, why)
        ready = self._made(asked.passage)
        heel = passage.heel(passage.moving[0], asked.share)
        trial = _at_heel(ready.trial, heel)
        if not trial.rigged.hangs.all():
            why = "a top block is not above its lift point there, or one of them has no place"
            return _nothing(asked, passage, why)
        # An equaliser leaves open which lines share their load: the worst way is told.
        ways = groupings(trial.rigged.lift, trial.rigged.lower[0])
        answers = [self._answer(asked, replace(ready, trial=trial), way) for way in ways]
        worst = worst_first([answer.findings[0] for answer in answers])[0]
        return next(answer for answer in answers if answer.findings[0] is worst)

    def _passage(self, index: int) -> Passage:
        passages = self.outcome.raise_.passages
        if not 0 <= index < len(passages):
            raise ValueError(f"passage must be within 0 and {len(passages) - 1}, got {index}")
        return passages[index]

    def _made(self, index: int) -> _Ready:
        if index not in self._ready:
            plan, passage = self.outcome.plan, self._passage(index)
            trial = lift_trial(self.outcome.nesting.workshop, passage)
            factor = mass_factor(plan, moving_mass(self.outcome.shapes, passage))
            coils = line_coils(plan, trial.rigged.lift)
            self._ready[index] = _Ready(
                trial=trial,
                surroundings=Surroundings(
                    trial,
                    partial(running_between, plan, passage.stage),
                    partial(is_lenient, plan, passage.stage),
                ),
                path=rope_path(trial.rigged.lift, trial.rigged.pattern, factor),
                strength=np.array([coil.breaking_force * coil.derating for coil in coils]),
            )
        return self._ready[index]

    def _answer(self, asked: WhatIf, ready: _Ready, groups: NDArray[np.int64]) -> Answer:
        trial, plan = ready.trial, self.outcome.plan
        passage, heel = trial.passage, float(trial.rigged.heels[0])
        judge = Judge(
            plan=plan,
            lift=trial.rigged.lift,
            section=passage.moving[0],
            stage=passage.stage,
            asked=asked,
            heel=heel,
        )
        stood = _stand(trial, asked, groups, shoe_friction(plan))
        if stood.astray.change is None:
            return Answer(
                asked=asked,
                stage=passage.stage,
                heel=heel,
                poses={},
                near=None,
                lines=(),
                shoes=(),
                held=None,
                findings=worst_first([*judge.unrest(_unrest(stood)), *judge.weather()]),
                notes=_notes(asked, stood),
            )
        poses = _poses(self.outcome.raise_, passage, stood.astray)
        true = replace(stood.astray, change=TRUE_HANG, heel=heel)
        found = ready.surroundings.search(poses, _poses(self.outcome.raise_, passage, true))
        lines, shoes = _line_loads(ready, stood), _shoe_loads(stood, heel)
        findings: list[Finding] = [
            *judge.clearance(found or "nothing stands by that it is not meant to touch"),
            *judge.level(stood.astray.corners),
            *judge.ropes(lines, _on_top(ready)),
            *judge.shoes(shoes, jams=stood.jams),
            *judge.weather(),
        ]
        return Answer(
            asked=asked,
            stage=passage.stage,
            heel=heel,
            poses=poses,
            near=None if found is None else found.nearest,
            lines=lines,
            shoes=shoes,
            held=stood.held,
            findings=worst_first(findings),
            notes=_notes(asked, stood),
        )


def _nothing(asked: WhatIf, passage: Passage, why: str) -> Answer:
    heel = passage.heel(passage.moving[0], asked.share) if passage.moving else None
    return Answer(
        asked=asked,
        stage=passage.stage,
        heel=heel,
        poses={},
        near=None,
        lines=(),
        shoes=(),
        held=None,
        findings=(),
        notes=(why,),
    )


def _at_heel(trial: LiftTrial, heel: float) -> LiftTrial:
    """The same passage with one sample, at a heel height between those it has."""
    rigged = trial.rigged
    first, last = rigged.heels[0], rigged.heels[-1]
    # Both ends of every line go straight and evenly from the first sample to the last.
    share = (heel - first) / (last - first) if last != first else 0.0
    upper = rigged.upper[:1] + share * (rigged.upper[-1:] - rigged.upper[:1])
    lower = rigged.lower[:1] + share * (rigged.lower[-1:] - rigged.lower[:1])
    here = replace(rigged, heels=np.array([heel]), upper=upper, lower=lower)
    return replace(trial, rigged=here)


def _stand(
    trial: LiftTrial, asked: WhatIf, groups: NDArray[np.int64], friction: float
) -> _Stood:
    """Where lines, shoes, wind and the sliders leave the section."""
    load = replace(trial.load_at(0), groups=groups)
    shoes = trial.shoes_at(0, friction)
    trouble = Trouble(
        behind=asked.behind,
        by=asked.by,
        friction=friction,
        gust=asked.gust,
        towards=asked.towards,
    )
    wrong = trial.wrong_at(0, trouble)
    level, levels = level_haul(load)
    hauled = level if wrong.hauled is None else level + wrong.hauled
    disturbed = replace(wrong, hauled=hauled)
    hang = settle_guided(load, shoes, disturbed=disturbed)
    jams = False
    if hang.rests[0] and (hang.pressures > 0).any():
        way: Way = "up" if trial.passage.travel >= 0 else "down"
        jams = bool(settle_guided(load, shoes, disturbed=disturbed, way=way).jammed[0])
    held = None
    if hang.rests[0] and asked.by_hand:
        hang, held = _by_hand(hang, asked, load, (shoes, disturbed))
    heel = float(trial.rigged.heels[0])
    if hang.rests[0]:
        astray = trial.placed(load, hang, heel)
    else:
        nothing = np.full(load.lower.shape[1], np.nan)
        astray = Astray(hang=hang, change=None, heel=heel, corners=nothing)
    return _Stood(
        astray=astray,
        load=load,
        shoes=shoes,
        held=held,
        jams=jams,
        levelled=bool(levels[0]),
    )


def _by_hand(
    hang: GuidedHang, asked: WhatIf, load: HungLoad, around: tuple[Guides, Disturbance]
) -> tuple[GuidedHang, Held | None]:
    """The same section turned and shifted from where it rests, free to rise and sink."""
    by = Rotation.from_euler("ZXY", [asked.yaw, -asked.lean_north, asked.lean_east])
    turn = by * Rotation.from_rotvec(hang.turn[0])
    shift = hang.shift + np.array([[asked.drift_east, asked.drift_north, 0.0]])
    shoes, disturbed = around
    pose = Pose(shift=shift, turn=turn.as_matrix()[None])
    held = hold(load, shoes, pose, disturbed=disturbed)
    moved = replace(
        hang,
        rests=held.balances,
        shift=held.shift,
        turn=turn.as_rotvec()[None] + np.where(held.balances, 0.0, np.nan)[:, None],
        tensions=held.tensions,
        pressures=held.pressures,
    )
    if not held.balances[0]:
        return moved, None
    return moved, Held(
        force=float(np.linalg.norm(held.force[0])),
        moment=float(np.linalg.norm(held.moment[0])),
    )


def _unrest(stood: _Stood) -> str:
    if not stood.astray.hang.jammed[0] and stood.levelled:
        return "it finds no rest on its lines and shoes: it topples, or leaves its lines"
    return "it finds no rest on its lines and shoes"


def _poses(raise_: Raise, passage: Passage, astray: Astray) -> dict[str, Floats]:
    """Pose of every section that moves; what stands on the hauled one turns with it."""
    if astray.change is None:
        raise ValueError("a section that finds no rest has no pose")
    shaft_from_hauled = raise_.shaft_from_section(astray.heel, astray.change)
    hauled, poses = passage.standing[passage.moving[0]].heel_from, {}
    for name in passage.moving:
        above = np.eye(4)
        above[2, 3] = passage.standing[name].heel_from - hauled
        poses[name] = np.asarray(shaft_from_hauled @ above)
    return poses


def _line_loads(ready: _Ready, stood: _Stood) -> tuple[LineLoad, ...]:
    loads = stood.astray.hang.tensions[0]
    with np.errstate(divide="ignore"):
        factors = ready.strength / (loads * ready.path.over * ready.path.fall)
    turn, lower = Rotation.from_rotvec(stood.astray.hang.turn[0]), stood.load.lower[0]
    middle = stood.load.middle[0]
    moved = middle + stood.astray.hang.shift[0] + turn.apply(lower - middle)
    return tuple(
        LineLoad(
            tackle=line.tackle,
            capstan=line.capstan,
            lift_point=line.lift_point,
            tension=float(loads[n]),
            factor=float(factors[n]),
            upper=_place(stood.load.upper[0, n]),
            lower=_place(moved[n]),
        )
        for n, line in enumerate(ready.trial.rigged.lift.lines)
    )


def _facing(outward: Floats) -> str:
    """Side of the section that an outward normal is on."""
    if abs(outward[0]) >= abs(outward[1]):
        return "east" if outward[0] > 0 else "west"
    return "north" if outward[1] > 0 else "south"


def _shoe_loads(stood: _Stood, heel: float) -> tuple[ShoeLoad, ...]:
    hang, shoes, middle = stood.astray.hang, stood.shoes, stood.load.middle[0]
    turn = Rotation.from_rotvec(hang.turn[0])
    loads = []
    for n in range(shoes.gap.shape[1]):
        true, outward = shoes.at[0, n], shoes.outward[0, n]
        at = middle + hang.shift[0] + turn.apply(true - middle)
        face = _facing(outward)
        loads.append(
            ShoeLoad(
                face=face,
                height=float(true[2] - heel),
                force=float(hang.pressures[0, n]),
                left=float(shoes.gap[0, n] - (at - true) @ outward),
                at=_place(at),
            )
        )
    return tuple(loads)


def _on_top(ready: _Ready) -> str:
    lift, over = ready.trial.rigged.lift, ready.path.over
    mass = over / lift.worst_corner / (1 + lift.friction)
    return (
        f"worst corner {lift.worst_corner:g}, guide friction {lift.friction:.0%} and mass "
        f"{mass:.3g} on top, hauled up"
    )


def _notes(asked: WhatIf, stood: _Stood) -> tuple[str, ...]:
    said: Iterator[str] = (
        note
        for note, holds in (
            (LEVELLED, stood.levelled),
            (ALIKE, not stood.levelled),
            (ROPES_HELD, True),
            (BY_HAND, asked.by_hand),
        )
        if holds
    )
    return tuple(said)


def _place(point: Floats) -> Place:
    x, y, z = point.tolist()
    return float(x), float(y), float(z)
