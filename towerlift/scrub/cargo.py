"""All that goes to the browser, once: geometry, ropes, gear and the story."""

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from towerlift.plan.model import Plan
from towerlift.scene import Scene, build_scene
from towerlift.scene.hazards import hazards_of
from towerlift.scene.movers import Mover, Shown, pack_movers, shown_bodies
from towerlift.scene.parcel import pack_parcel
from towerlift.scrub.story import story_of
from towerlift.workflow import Outcome

Arrays = dict[str, NDArray[np.generic]]


def raise_parcel(outcome: Outcome) -> bytes:
    """Everything the view shows, in one piece.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.

    Returns
    -------
    parcel : bytes
        As `towerlift.scene.parcel.pack_parcel` packs it.
    """
    scene = build_scene(outcome)
    shown = shown_bodies(scene)
    with ThreadPoolExecutor(1) as beside:
        story = beside.submit(story_of, outcome)
        movers = pack_movers(shown)
    arrays: Arrays = {}
    head = {
        **story.result(),
        "movers": [_mover(n, mover, arrays) for n, mover in enumerate(movers)],
        "bodies": _bodies(shown, arrays, len(scene.raise_.passages)),
        "ropes": _ropes(scene),
        "winders": [
            {"name": w.name, "at": list(w.at), "turns": dict(w.turns)} for w in scene.winders
        ],
        "hazards": hazards_of(outcome.plan, scene),
        "standpoints": _standpoints(outcome.plan, scene),
        "low": scene.low.tolist(),
        "high": scene.high.tolist(),
    }
    return pack_parcel(head, arrays)


def _mover(n: int, mover: Mover, arrays: Arrays) -> Mapping[str, Any]:
    arrays[f"places{n}"] = mover.places
    arrays[f"members{n}"] = mover.members
    arrays[f"firsts{n}"] = mover.firsts
    arrays[f"boxes{n}"] = mover.boxes
    small = len(mover.places) <= np.iinfo(np.uint16).max
    kind = np.uint16 if small else np.uint32
    arrays[f"faces{n}"] = mover.faces.astype(kind)
    arrays[f"edges{n}"] = mover.edges.astype(kind)
    return {"name": mover.name, "low": mover.low.tolist(), "size": mover.size.tolist()}


def _bodies(shown: Sequence[Shown], arrays: Arrays, n_passages: int) -> list[dict[str, Any]]:
    arrays["colours"] = np.concatenate([body.colours for body in shown])
    rows, first = [], 0
    for body in shown:
        seen = np.zeros(n_passages, dtype=int)
        seen[list(body.seen)] = 1
        rows.append(
            {
                "name": body.name,
                "kind": body.kind,
                "mover": body.mover,
                "first": first,
                "marks": list(body.marks),
                "parts": list(body.parts),
                "seen": "".join(map(str, seen)),
            }
        )
        first += len(body.marks)
    return rows


def _ropes(scene: Scene) -> list[dict[str, Any]]:
    sections = list(scene.lengths)

    def knot(rides: str | None, at: Sequence[float]) -> list[float]:
        return [-1 if rides is None else sections.index(rides), *(round(v, 4) for v in at)]

    return [
        {
            "lift": rope.lift,
            "name": rope.name,
            "radius": rope.radius,
            "path": [knot(k.rides, k.at) for k in rope.path],
            "upper": knot(rope.upper.rides, rope.upper.at),
            "lower": knot(rope.lower.rides, rope.lower.at),
        }
        for rope in scene.ropes
    ]


def _standpoints(plan: Plan, scene: Scene) -> list[dict[str, Any]]:
    """Where people stand to look: at a lead block, on each deck, at each capstan."""
    line = plan.plumb_line
    axis = np.array([line.x, line.y])
    found: list[dict[str, Any]] = []
    leads = {
        (round(line_.leads[-1][0], 2), round(line_.leads[-1][1], 2)): line_
        for lift in plan.lifts
        for line_ in lift.lines
        if line_.leads
    }
    for (x, y), line_ in list(leads.items())[:8]:
        at = np.array([x, y])
        away = (at - axis) / max(float(np.linalg.norm(at - axis)), 1e-6)
        eye = [*(at + 5.0 * away).tolist(), 1.6]
        name = f"lead block of {line_.tackle}"
        found.append({"name": name, "eye": eye, "target": [*axis.tolist(), 12.0]})
    for body in plan.fixtures:
        if body.kind != "deck" or not body.members:
            continue
        ends = np.array([p for member in body.members for p in (member.start, member.end)])
        height = float(ends[:, 2].max())
        reach = float(np.abs(ends[:, :2] - axis).max())
        eye = [line.x - 0.95 * reach, line.y - 0.95 * reach, height + 1.65]
        target = [line.x, line.y, height + 1.0]
        found.append(
            {"name": f"on the {body.name}", "eye": eye, "target": target, "fixture": body.name}
        )
    return found
