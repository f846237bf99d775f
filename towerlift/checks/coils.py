"""A coil that is not like its fellows, what it does to its partner, and which to rove.

Tackles that are hauled alike share a load by their stiffness. A soft rope takes less
than its share; the good rope beside it takes the rest, and is the one in danger.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from towerlift.checks.case import Case, limit_for, overrule_for
from towerlift.checks.hauls import Haul, Unreckoned, hauls, not_reckoned
from towerlift.checks.strength import mass_factor
from towerlift.findings import Bound, Finding
from towerlift.mechanics.rope import rope_needed
from towerlift.motion.masses import moving_mass
from towerlift.plan.limits import UsualLimit
from towerlift.plan.rigging import Coil
from towerlift.rig.assigning import Assignment, best_coils, stiffness_spread
from towerlift.rig.curves import HangCurve
from towerlift.rig.pulls import line_coils, rope_path
from towerlift.units import Dimension

CHECK = "coils"
ODD = UsualLimit(
    name="coil unlike its fellows",
    value=10.0,
    unit="%",
    bound=Bound.AT_MOST,
    dimension=Dimension.SHARE,
    source="no published source: stiffness of a rope against the median of its lift, so that "
    "tackles hauled alike share within a tenth",
)
DIAMETER = UsualLimit(
    name="coil of another diameter",
    value=2.0,
    unit="mm",
    bound=Bound.AT_MOST,
    dimension=Dimension.LENGTH,
    source="no published source: a rope of another diameter winds another length at each turn",
)
SHARE = UsualLimit(
    name="overload of a tackle",
    value=1.2,
    unit="1",
    bound=Bound.AT_MOST,
    dimension=None,
    source="common practice, no published source: the fullest tackle carries no more than 1.2 "
    "times the mean",
)
LIMITS = (ODD, DIAMETER, SHARE)


def check_coils(case: Case) -> Iterable[Finding]:
    """Every coil of a lift against the others in it, and the load that follows.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        For each section, lift and stage: stiffness, diameter and the fullest tackle.
    """
    for haul in hauls(case):
        if isinstance(haul, Unreckoned):
            yield not_reckoned(case, CHECK, ODD, haul)
        else:
            yield from _haul(case, haul)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fullest:
    """Where the fullest tackle stands farthest above the mean."""

    curve: HangCurve
    sample: int

    @property
    def heel(self) -> float:
        return float(self.curve.heels[self.sample])

    @property
    def mean(self) -> float:
        return float(self.curve.weight[self.sample]) / len(self.curve.lines)

    @property
    def line(self) -> int:
        return int(self.curve.tensions[self.sample].argmax())

    @property
    def times(self) -> float:
        return float(self.curve.tensions[self.sample].max()) / self.mean


def _haul(case: Case, haul: Haul) -> Iterator[Finding]:
    coils = line_coils(case.plan, haul.lift)
    spread = stiffness_spread(coils)
    odd = int(np.abs(spread).argmax())
    which, sample = haul.worst(
        [-each.tensions.max(axis=1) / each.weight for each in haul.curves]
    )
    at = _Fullest(curve=haul.curves[which], sample=sample)
    value = round(float(abs(spread[odd])) * 100, 9)
    why = _alike(coils)
    remedy: tuple[str, ...] = ()
    if value > limit_for(case, ODD).value:
        why = _odd_in_words(case, haul, odd, at)
        remedy = _change(case, haul)
    yield _finding(case, haul, ODD, _Said(value=value, why=why, at=at, remedy=remedy))
    widths = np.array([coil.diameter for coil in coils])
    other = int(np.abs(widths - np.median(widths)).argmax())
    off = round(float(abs(widths[other] - np.median(widths))) * 1e3, 9)
    words = _alike(coils)
    if off > limit_for(case, DIAMETER).value:
        words = (
            f"coil {coils[other].tag} in tackle {haul.lift.lines[other].tackle} is "
            f"{widths[other] * 1e3:.0f} mm, the others {np.median(widths) * 1e3:.0f} mm"
        )
        remedy = _change(case, haul)
    yield _finding(case, haul, DIAMETER, _Said(value=off, why=words, at=at, remedy=remedy))
    yield _share(case, haul, at, odd)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    value: float | None
    why: str
    at: _Fullest
    remedy: tuple[str, ...] = ()


def _finding(case: Case, haul: Haul, usual: UsualLimit, said: _Said) -> Finding:
    return Finding(
        check=CHECK,
        subject=haul.section,
        stage=haul.stage,
        heel=said.at.heel,
        where=None,
        limit=limit_for(case, usual),
        overrule=overrule_for(case, usual, haul.section, haul.stage),
        value=said.value,
        why=f"{usual.name}: {said.why}",
        remedy=said.remedy,
    )


def _alike(coils: tuple[Coil, ...]) -> str:
    low, high = (pick(coil.axial_stiffness for coil in coils) / 1e3 for pick in (min, max))
    return f"{', '.join(coil.tag for coil in coils)}: EA {low:.0f} to {high:.0f} kN"


def _odd_in_words(case: Case, haul: Haul, odd: int, at: _Fullest) -> str:
    coils, line = line_coils(case.plan, haul.lift), haul.lift.lines[odd]
    coil, usual = coils[odd], float(np.median([each.axial_stiffness for each in coils]))
    words = (
        f"coil {coil.tag} in tackle {line.tackle} at {line.lift_point} is "
        f"{coil.diameter * 1e3:.0f} "
        f"mm {coil.material}, EA {coil.axial_stiffness / 1e3:.0f} kN against {usual / 1e3:.0f} "
        "kN "
        f"of its fellows ({coil.source})"
    )
    load = float(at.curve.tensions[at.sample, odd])
    if not np.isfinite(load):
        return f"{words}; with it the section finds no rest near true"
    sag = (at.mean - load) / load * float(at.curve.stretch[at.sample, odd])
    passage = case.raise_.passages[at.curve.passage]
    factor = mass_factor(case.plan, moving_mass(case.shapes, passage))
    path = rope_path(haul.lift, haul.pattern, factor)
    alone = coil.breaking_force * coil.derating / (at.mean * path.over * path.fall)
    return (
        f"{words}; hauled alike it takes {load / 1e3:.1f} of {at.mean / 1e3:.1f} kN, and "
        "capstan "
        f"{line.capstan} feels {'light' if load < at.mean else 'heavy'}; "
        f"{_partner(haul, odd, at)}it takes {sag:.2f} m more haul to carry its share, and then "
        f"its factor is {alone:.1f}"
    )


def _partner(haul: Haul, odd: int, at: _Fullest) -> str:
    line = haul.lift.lines[odd]
    beside = [
        n
        for n, other in enumerate(haul.lift.lines)
        if other.lift_point == line.lift_point and n != odd
    ]
    if not beside:
        return ""
    loads = at.curve.tensions[at.sample, beside]
    n = beside[int(loads.argmax())]
    partner = haul.lift.lines[n]
    return (
        f"its partner {partner.tackle} (coil {partner.coil}, capstan {partner.capstan}) takes "
        f"{loads.max() / 1e3:.1f} kN, {loads.max() / at.mean:.2f} times its share; "
    )


def _needed(haul: Haul) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    longest = np.max([each.lengths.max(axis=0) for each in haul.curves], axis=0)
    return np.array(
        [
            rope_needed(
                float(each), haul.pattern.fall_length, parts=haul.pattern.parts, spare=10.0
            )
            for each in longest
        ]
    )


def best_assignment(case: Case, haul: Haul) -> Assignment:
    """The coils of the plan that make the tackles of a haul most alike.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.
    haul : Haul
        Which.

    Returns
    -------
    assignment : Assignment
        From all coils of the plan, 10 m of rope left over on each.
    """
    return best_coils(line_coils(case.plan, haul.lift), case.plan.coils, _needed(haul))


def _change(case: Case, haul: Haul) -> tuple[str, ...]:
    rove = line_coils(case.plan, haul.lift)
    if len(case.plan.coils) < len(rove):
        return ("a coil of its own for every tackle",)
    best = best_assignment(case, haul)
    now = float(np.abs(stiffness_spread(rove)).max())
    if not best.spread < now:
        return ("find a coil like the others: no coil of the plan is better",)
    swaps = tuple(
        f"rove coil {new.tag} on tackle {line.tackle} at {line.lift_point} in place of "
        f"{old.tag}"
        for line, old, new in zip(haul.lift.lines, rove, best.coils, strict=True)
        if old.tag != new.tag
    )
    return (*swaps, f"the coils of the lift are then alike within {best.spread:.0%}")


def _share(case: Case, haul: Haul, at: _Fullest, odd: int) -> Finding:
    if not np.isfinite(at.times):
        why = "it finds no rest near true on its lines, so that no tackle has a load"
        return _finding(case, haul, SHARE, _Said(value=None, why=why, at=at))
    line = haul.lift.lines[at.line]
    load = float(at.curve.tensions[at.sample, at.line])
    why = (
        f"tackle {line.tackle} at {line.lift_point} (coil {line.coil}, capstan {line.capstan}) "
        f"carries {load / 1e3:.1f} kN, the mean is {at.mean / 1e3:.1f} kN, all hauled alike"
    )
    remedy: tuple[str, ...] = ()
    if at.times > limit_for(case, SHARE).value:
        remedy = (
            *_change(case, haul),
            f"haul tackle {haul.lift.lines[odd].tackle} by its load cell, not by its turns",
        )
    value = round(at.times, 9)
    return _finding(case, haul, SHARE, _Said(value=value, why=why, at=at, remedy=remedy))
