"""The raise as plain values for the browser: passages, gaps, loads, findings."""

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from towerlift.checks.case import Case
from towerlift.checks.centre_of_gravity import CHECK, GUIDED, UNGUIDED
from towerlift.checks.guides import ShoeCurve, shoe_curves
from towerlift.findings import Bound, Verdict
from towerlift.motion.passages import Floats, Passage
from towerlift.motion.travel import describe
from towerlift.nesting.curves import GapCurve
from towerlift.rig.curves import HangCurve
from towerlift.scrub.words import CAUTION, position_of, said, summary
from towerlift.workflow import Outcome

MOST_STEPS = 600  # of one gap curve: more are joined, the least kept


def story_of(outcome: Outcome) -> dict[str, Any]:
    """All that is said, and all that the slider needs, without a triangle in it.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.

    Returns
    -------
    story : dict
        Plain values; lengths in m, forces in N, times in s.
    """
    plan, raise_ = outcome.plan, outcome.raise_
    sections = [section.name for section in plan.sections]
    counts = {v: sum(f.verdict is v for f in outcome.findings) for v in Verdict}
    line = raise_.plumb_line
    return {
        "name": plan.name,
        "caution": CAUTION,
        "passes": outcome.passes,
        "summary": summary(outcome.findings),
        "counts": {str(v): n for v, n in counts.items()},
        "plumb": [line.x, line.y, line.turn],
        "sections": [
            {"name": section.name, "length": section.length} for section in plan.sections
        ],
        "stages": [
            {
                "name": stage.name,
                "title": stage.title,
                "inCharge": stage.in_charge,
                "holds": list(stage.hold_points),
            }
            for stage in plan.stages
        ],
        "passages": [_passage(each, sections) for each in raise_.passages],
        "gaps": [_gaps(curve) for curve in outcome.gaps if len(curve.least)],
        "loads": [_loads(curve) for curve in outcome.hangs if len(curve.heels)],
        "guided": [lift.name for lift in plan.lifts if lift.guided],
        "shoes": [_shoes(curve) for curve in _shoe_curves(outcome)],
        "limits": list(_limits(outcome)),
        "findings": [
            {**said(finding), "position": position_of(raise_, finding)}
            for finding in outcome.findings
        ],
    }


def _passage(passage: Passage, sections: list[str]) -> dict[str, Any]:
    places = [passage.standing.get(name) for name in sections]
    return {
        "stage": passage.stage,
        "step": passage.step,
        "words": describe(passage),
        "event": passage.event,
        "lift": passage.lift,
        "begins": None if passage.begins is None else passage.begins.isoformat(),
        "lasts": passage.duration,
        "moving": [sections.index(name) for name in passage.moving],
        "heels": [p and [p.heel_from, p.heel_to] for p in places],
        "states": [p and str(p.state) for p in places],
        "carriers": [p and p.carrier for p in places],
        "fixtures": sorted(passage.fixtures),
        "fitted": sorted(passage.fitted),
    }


def _rounded(values: Floats, digits: int = 5) -> Any:
    """Nested lists of numbers with so many places after the point; None where there is none."""
    rounded = np.round(values, digits)
    there = np.isfinite(rounded)
    if np.all(there):
        return rounded.tolist()
    either = rounded.astype(object)
    either[~there] = None
    return either.tolist()


def _gaps(curve: GapCurve) -> dict[str, Any]:
    k = len(curve.least)
    chosen = np.arange(k)
    firsts = np.arange(0, k, max(1, -(-k // MOST_STEPS)))
    ends = np.append(firsts[1:], k)
    if len(firsts) < k:
        chosen = np.array(
            [a + int(curve.least[a:b].argmin()) for a, b in zip(firsts, ends, strict=True)]
        )
    return {
        "passage": curve.passage,
        "moving": curve.moving,
        "against": curve.against,
        "heels": _rounded(np.append(curve.heels[firsts], curve.heels[-1])),
        "least": _rounded(curve.least[chosen]),
        "at": _rounded(curve.at[chosen]),
        "where": _rounded(curve.where[chosen]),
        "opposite": _rounded(curve.opposite[chosen]),
        "marks": [curve.marks[n] for n in chosen],
        "oppositeMarks": [curve.opposite_marks[n] for n in chosen],
        "certified": bool(curve.certified.all()),
    }


def _loads(curve: HangCurve) -> dict[str, Any]:
    return {
        "passage": curve.passage,
        "lift": curve.lift,
        "hauled": list(curve.hauled),
        "lines": list(curve.lines),
        "heels": _rounded(curve.heels),
        "weight": _rounded(curve.weight, 0),
        "ratio": _rounded(curve.ratio, 3),
        "tensions": _rounded(curve.tensions, 0),
        "pull": _rounded(curve.pull, 0),
        "lower": _rounded(curve.lower, 4),
    }


def _shoe_curves(outcome: Outcome) -> tuple[ShoeCurve, ...]:
    case = Case(
        plan=outcome.plan,
        shapes=outcome.shapes,
        raise_=outcome.raise_,
        shop=outcome.nesting.workshop,
    )
    return shoe_curves(case)


def _shoes(curve: ShoeCurve) -> dict[str, Any]:
    loads = curve.loads
    return {
        "passage": curve.passage,
        "section": curve.section,
        "on": list(curve.on),
        "gust": curve.gust,
        "heels": _rounded(curve.heels),
        "upper": [round(each.upper) for each in loads],
        "lower": [round(each.lower) for each in loads],
        "nUpper": [each.n_upper for each in loads],
        "nLower": [each.n_lower for each in loads],
        "foot": [round(each.foot, 4) for each in loads],
        "head": [round(each.foot + each.spacing, 4) for each in loads],
        "towards": [[round(v, 6) for v in each.towards] for each in loads],
        "across": [each.across for each in loads],
    }


def _limits(outcome: Outcome) -> Iterator[Mapping[str, Any]]:
    """Limits that the strips draw: running clearance by heel, stability by stage."""
    seen: set[tuple[str, str, str, float | None, float]] = set()
    row: tuple[str, str, str, float | None, float]
    for finding in outcome.findings:
        limit = finding.limit_in_force
        if finding.check == "clearance" and (limit.unit, limit.bound) == ("mm", Bound.AT_LEAST):
            if finding.heel is None:
                continue
            body = finding.subject.partition(":")[0]
            row = ("gap", finding.stage, body, round(finding.heel, 3), round(limit.value, 1))
        elif finding.check == CHECK and finding.why.startswith((GUIDED.name, UNGUIDED.name)):
            row = ("ratio", finding.stage, "", None, round(limit.value, 2))
        else:
            continue
        if row not in seen:
            seen.add(row)
            yield dict(zip(("of", "stage", "body", "heel", "value"), row, strict=True))
