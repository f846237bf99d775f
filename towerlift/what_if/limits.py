"""Each number of a what-if against the limit that it has in the plan."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil, floor, inf

import numpy as np
from numpy.typing import NDArray

from towerlift.checks.clearance import BEDDING, RUNNING
from towerlift.checks.strength import FALL, LARGEST
from towerlift.checks.uneven import shoe_friction
from towerlift.findings import Bound, Finding, Limit, Overrule
from towerlift.mechanics.shoes import SHOE_STIFFNESS
from towerlift.plan.limits import limit_in_plan, overrule_in_plan
from towerlift.plan.model import Plan
from towerlift.plan.rigging import Lift
from towerlift.what_if.answers import LineLoad, ShoeLoad
from towerlift.what_if.asked import WhatIf
from towerlift.what_if.nearest import Found, Near
from towerlift.workflow import GUST

Floats = NDArray[np.float64]

SLACK = Limit(
    value=0.0,
    unit="count",
    bound=Bound.AT_MOST,
    source="common practice, no published source: a slack line leaves its load to its "
    "neighbours, and jerks when it takes it up again",
)
REST = Limit(
    value=0.0,
    unit="count",
    bound=Bound.AT_MOST,
    source="statics: what finds no rest topples or leaves its lines",
)
MOVES = Limit(
    value=0.0,
    unit="count",
    bound=Bound.AT_MOST,
    source="statics: where the drag of the shoes grows faster than the pull, no haul moves it",
)


def running_between(plan: Plan, stage: str, moving: str, against: str) -> float:
    """Running clearance to be left between two bodies. [m]

    Parameters
    ----------
    plan : Plan
        Its limit, and its overrules for this stage.
    stage : str
        Name of the stage.
    moving, against : str
        The two bodies.

    Returns
    -------
    running : float
        The limit, or the most that an overrule asks for any piece of the two: the piece
        may not be the nearest, so the whole body is held to it. [m]
    """
    usual = limit_in_plan(plan, RUNNING).value
    asked = [
        RUNNING.read(each.value)
        for each in plan.overrules
        if each.limit == RUNNING.name
        and each.stage in ("", stage)
        and each.subject.startswith(f"{moving}: ")
        and f" against {against}" in each.subject
    ]
    return max([usual, *asked]) / 1e3


def is_lenient(plan: Plan, stage: str, near: Near) -> bool:
    """Whether an overrule lets two pieces come nearer than the running clearance.

    Parameters
    ----------
    plan : Plan
        With its overrules.
    stage : str
        Name of the stage.
    near : Near
        The two pieces.

    Returns
    -------
    lenient : bool
        False where no overrule names them, or it asks for more.
    """
    overrule = overrule_in_plan(plan, RUNNING, near.subject, stage)
    return overrule is not None and overrule.limit.value / 1e3 < near.budget.running


@dataclass(frozen=True, slots=True, kw_only=True)
class Judge:
    """Turns what came of a what-if into findings.

    Attributes
    ----------
    plan : Plan
        Its limits and overrules.
    lift : Lift
        That hauls.
    section, stage : str
        What is hauled, and when.
    asked : WhatIf
        What is tried.
    heel : float
        Heel height as planned. [m]
    """

    plan: Plan
    lift: Lift
    section: str
    stage: str
    asked: WhatIf
    heel: float

    def weather(self) -> Iterator[Finding]:
        """The gust that is tried, against the one at which hauling stops."""
        if self.asked.gust > 0:
            yield self._finding(
                "gust", limit_in_plan(self.plan, GUST), self.asked.gust, "wind that is tried"
            )

    def unrest(self, why: str) -> Iterator[Finding]:
        """No rest: one failure, and nothing else that could be evaluated."""
        yield self._finding("rest", REST, 1.0, why)
        running = limit_in_plan(self.plan, RUNNING)
        unknown = "it finds no rest, so it has no pose to measure and no loads to give"
        yield self._finding("clearance", running, None, unknown)
        yield self._finding("rope strength", limit_in_plan(self.plan, FALL), None, unknown)

    def clearance(self, found: Found | str) -> Iterator[Finding]:
        """The piece that leaves least beyond what must be left, and any left unproven."""
        if isinstance(found, str):
            yield self._finding("clearance", limit_in_plan(self.plan, RUNNING), None, found)
            return
        yield self._gap(found.tightest)
        for near in found.spared:
            yield self._gap(near)
        unproven = found.unproven
        if unproven is not None and unproven is not found.tightest:
            yield self._gap(unproven)

    def _gap(self, near: Near) -> Finding:
        overrule = overrule_in_plan(self.plan, RUNNING, near.subject, self.stage)
        running = limit_in_plan(self.plan, RUNNING)
        # A distance that is attained and falls short is proof enough that it falls short.
        known = near.certified or near.spare < 0
        why = f"least to spare; must keep {near.budget.in_words()}, play, tilt and sway being "
        why += "in the pose"
        if not known:
            why = f"the engine could not prove that {1e3 * near.gap:.1f} mm is the least"
        elif near.on_the_way:
            why = f"they strike on the way there: it cannot come to this pose; {why}"
        elif near.gap <= 0:
            why = f"they strike; {why}"
        return Finding(
            check="clearance",
            subject=near.subject,
            stage=self.stage,
            heel=self.heel,
            where=near.where,
            limit=_whole(running, near.budget.total),
            overrule=None if overrule is None else _overruled(overrule, near),
            # Never rounded up: what is printed must not pass where the gap does not.
            value=floor(near.gap * 1e5 + 1e-6) / 100.0 if known else None,
            why=why,
        )

    def level(
        self, corners: "np.ndarray[tuple[int], np.dtype[np.float64]]"
    ) -> Iterator[Finding]:
        """Difference of level between lift points, against what the lift stops at."""
        limit = Limit(
            value=self.lift.level_tolerance * 1e3,
            unit="mm",
            bound=Bound.AT_MOST,
            source=f"the plan: lift {self.lift.name} stops hauling at this difference of level",
        )
        why = "highest lift point over the lowest, in this pose"
        yield self._finding("level", limit, _up(float(np.ptp(corners)) * 1e3), why)

    def ropes(self, lines: tuple[LineLoad, ...], on_top: str) -> Iterator[Finding]:
        """The rope nearest to its strength, and lines that carry nothing."""
        worst = min(lines, key=lambda line: line.factor)
        limit = limit_in_plan(self.plan, FALL)
        why = f"tackle {worst.tackle} bears {worst.tension / 1e3:.1f} kN; {on_top}"
        yield replace(
            self._finding("rope strength", limit, min(worst.factor, LARGEST), why),
            overrule=overrule_in_plan(self.plan, FALL, self.section, self.stage),
            where=worst.upper,
        )
        slack = [line.tackle for line in lines if line.slack]
        why = f"slack: {', '.join(slack)}" if slack else "every line carries something"
        yield self._finding("slack lines", SLACK, float(len(slack)), why)

    def shoes(self, shoes: tuple[ShoeLoad, ...], *, jams: bool) -> Iterator[Finding]:
        """The shoe pressed hardest, and whether a haul moves what they hold."""
        if not shoes:
            return
        worst = max(shoes, key=lambda shoe: shoe.force)
        pressed = max(0.0, worst.force / SHOE_STIFFNESS)
        why = (
            f"shoe on the {worst.face} side, {worst.height:.2f} m above the heel, bears "
            f"{worst.force / 1e3:.1f} kN; timber pressed at {SHOE_STIFFNESS / 1e6:.0f} kN/mm"
        )
        yield replace(
            self._finding(
                "shoe pressed in", limit_in_plan(self.plan, BEDDING), _up(pressed * 1e3), why
            ),
            where=worst.at,
        )
        friction = shoe_friction(self.plan)
        why = f"{'no haul moves it' if jams else 'a haul moves it'} at friction {friction:g}"
        yield self._finding("jam", MOVES, float(jams), why)

    def _finding(self, check: str, limit: Limit, value: float | None, why: str) -> Finding:
        return Finding(
            check=check,
            subject=self.section,
            stage=self.stage,
            heel=self.heel,
            where=None,
            limit=limit,
            value=value,
            why=why,
        )


def _up(value_mm: float) -> float:
    """To a hundredth, never rounded down."""
    return ceil(value_mm * 100.0 - 1e-6) / 100.0 if value_mm < inf else value_mm


def _whole(running: Limit, need: float) -> Limit:
    return Limit(
        value=_up(need * 1e3),
        unit="mm",
        bound=Bound.AT_LEAST,
        source=f"budget without play, tilt and sway; running clearance by {running.source}",
    )


def _overruled(overrule: Overrule, near: Near) -> Overrule:
    """An overrule of the running clearance changes that part of the budget and no other."""
    budget = replace(near.budget, running=overrule.limit.value / 1e3)
    return replace(overrule, limit=_whole(overrule.limit, budget.total))
