"""Where the falls of a lift run, and what their blocks and anchors carry."""

from dataclasses import dataclass

import numpy as np

from towerlift.mechanics.capstan import rope_pull
from towerlift.mechanics.ground import turning_load
from towerlift.plan.model import Plan
from towerlift.plan.rigging import Capstan, Coil, Lift, Line, Tackle
from towerlift.rig.curves import Floats, HangCurve
from towerlift.rig.pulls import RopePath, capstan_gear, line_capstans, line_coils

# What each hand gives for a few seconds, whatever the captain calls: gear is sized for it.
BURST = 300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Lead:
    """The fall of one tackle, from its top block to its capstan.

    Attributes
    ----------
    line : Line
        Tackle, coil and capstan.
    capstan : Capstan
        As planned.
    points : (n + 2, 3) float
        Top block, lead blocks, barrel, shaft frame. [m]
    pulls : (n + 1,) float
        In each run of the fall, hauling at worst. [N]
    burst : float
        Pull at the barrel if every hand gives all it can. [N]
    """

    line: Line
    capstan: Capstan
    points: Floats
    pulls: Floats
    burst: float

    @property
    def blocks(self) -> Floats:
        """Load on each lead block, (n, 3), by the greater pull beside it. [N]"""
        return np.array(
            [
                turning_load(
                    (self.points[n - 1], self.points[n], self.points[n + 1]),
                    float(self.pulls[n]),
                )
                for n in range(1, len(self.points) - 1)
            ]
        ).reshape(-1, 3)

    @property
    def rise(self) -> float:
        """Angle of the last run from level, at the barrel. [rad]"""
        run = self.points[-1] - self.points[-2]
        return float(np.arctan2(abs(run[2]), np.linalg.norm(run[:2])))


def leads_of(plan: Plan, curve: HangCurve, path: RopePath) -> tuple[Lead, ...] | str:
    """The falls of a lift at the height where it pulls hardest, or what is not given.

    Parameters
    ----------
    plan : Plan
        Lines with their lead blocks, capstans.
    curve : HangCurve
        Loads along one passage.
    path : RopePath
        From load to pull.

    Returns
    -------
    leads : tuple of Lead, or str
        In the order of the lines; in words what is missing.
    """
    lift = next(lift for lift in plan.lifts if lift.name == curve.lift)
    pattern = next(tackle for tackle in plan.tackles if tackle.name == lift.pattern)
    missing = _missing(plan, lift, pattern)
    if missing:
        return missing
    if not np.all(np.isfinite(curve.tensions)):
        return f"lift {lift.name} finds no rest near true, so that no fall has a pull"
    loads = curve.tensions * path.over
    return tuple(
        _lead(line, capstan, _Fall(
            top=curve.upper[int(loads[:, n].argmax()), n],
            pull=float(loads[:, n].max()) * path.fall,
            ratio=pattern.sheave_ratio,
            burst=_burst(capstan, coil),
        ))
        for n, (line, capstan, coil) in enumerate(
            zip(
                lift.lines,
                line_capstans(plan, lift),
                line_coils(plan, lift),
                strict=True,
            )
        )
    )  # fmt: skip


def _missing(plan: Plan, lift: Lift, pattern: Tackle) -> str:
    unplaced = [line.tackle for line in lift.lines if len(line.leads) != pattern.leads]
    if unplaced:
        return (
            f"tackle {unplaced[0]} of lift {lift.name} has {pattern.leads} lead blocks, and "
            "the "
            "plan does not say where"
        )
    flat = [each.mark for each in line_capstans(plan, lift) if each.barrel_height is None]
    return f"the plan gives no barrel height of capstan {flat[0]}" if flat else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fall:
    top: Floats
    pull: float
    ratio: float
    burst: float


def _burst(capstan: Capstan, coil: Coil) -> float:
    gear = capstan_gear(capstan, coil)
    return rope_pull(gear, capstan.hands * BURST, efficiency=capstan.efficiency)


def _lead(line: Line, capstan: Capstan, fall: _Fall) -> Lead:
    barrel = (capstan.x, capstan.y, capstan.barrel_height or 0.0)
    return Lead(
        line=line,
        capstan=capstan,
        points=np.array([fall.top, *line.leads, barrel], dtype=float),
        pulls=np.array([fall.pull / fall.ratio**n for n in range(len(line.leads) + 1)]),
        burst=fall.burst,
    )
