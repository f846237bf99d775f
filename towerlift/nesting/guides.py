"""How far a hauled section may be out of true at any height of its travel."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from towerlift.motion.passages import Passage
from towerlift.nesting.bodies import Assembly, assemble, section_assembly
from towerlift.nesting.budget import FreeHang, FreeHangCurve, guided_shift
from towerlift.nesting.contacts import Guide, bearing_span, members_of
from towerlift.nesting.curves import Floats
from towerlift.plan.model import Plan
from towerlift.shapes.solids import Shapes

# Heel heights between which the shoes that bear are looked up.
LOOK_UP = 0.025

Shift = Callable[[float], tuple[float, float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Play:
    """Sideways shift of a hauled section, as a function of height, within a bit of travel.

    Attributes
    ----------
    running : float
        Play of the shoes themselves, 0 where it hangs free. [m]
    shift : callable
        Height s in the hauled section to (tilt, sway) beyond `running`. [m]
    unknown : str
        Why it could not be found; empty where it was.
    """

    running: float
    shift: Shift
    unknown: str = ""


def _nothing(_: float) -> tuple[float, float]:
    return 0.0, 0.0


def section_guides(
    plan: Plan, shapes: Shapes, passage: Passage, assembly: Assembly
) -> tuple[Guide, ...]:
    """Shoes of the hauled section and what they run on, by the faces they hold.

    Parameters
    ----------
    plan : Plan
        Its contacts say which shoe runs on what.
    shapes : Shapes
        Where they are.
    passage : Passage
        Rails of sections and fixtures that are not in place are left out.
    assembly : Assembly
        The hauled section.

    Returns
    -------
    guides : tuple of Guide
        One for each contact of shoes that has both sides in place.
    """
    guides = []
    for contact in plan.contacts:
        if contact.kind != "shoe on runner" or contact.of != assembly.name:
            continue
        if contact.stages and passage.stage not in contact.stages:
            continue
        if contact.on in passage.standing:
            rails_of = section_assembly(shapes, contact.on, frozenset())
        elif contact.on in passage.fixtures:
            rails_of = assemble(contact.on, [shapes.fixtures[contact.on]])
        else:
            continue
        shoes = _extents(assembly, contact.of, contact.marks)
        rails = _extents(rails_of, contact.on, contact.on_marks)
        if len(shoes) and len(rails):
            faces = tuple(str(face) for face in contact.faces)
            guides.append(Guide(faces=faces, shoes=shoes, rails=rails, on=contact.on))
    return tuple(guides)


def _extents(assembly: Assembly, body: str, patterns: Iterable[str]) -> Floats:
    wanted = members_of(assembly, body, patterns)
    heights = assembly.vertices[:, 2]
    rows = []
    for member in wanted:
        corners = assembly.faces[assembly.members == member].ravel()
        if len(corners):
            rows.append((heights[corners].min(), heights[corners].max()))
    return np.array(rows, dtype=np.float64).reshape(-1, 2)


def least_spans(
    guides: Iterable[Guide], passage: Passage, low: float, high: float
) -> dict[tuple[str, ...], tuple[float, float] | None]:
    """For each set of faces, the shortest bearing span while the heel is between two heights.

    Parameters
    ----------
    guides : iterable of Guide
        From `section_guides`.
    passage : Passage
        Where the carriers of the rails stand.
    low, high : float
        Heel heights of the hauled section. [m]

    Returns
    -------
    spans : dict
        Faces to (foot, head) of the span, or None where at some height fewer than
        two shoes bear. [m]
    """
    heels = np.linspace(low, high, max(2, int(np.ceil((high - low) / LOOK_UP)) + 1))
    hauled = passage.standing[passage.moving[0]]
    total = hauled.heel_to - hauled.heel_from
    spans: dict[tuple[str, ...], tuple[float, float] | None] = {}
    by_faces: dict[tuple[str, ...], list[Guide]] = {}
    for guide in guides:
        by_faces.setdefault(guide.faces, []).append(guide)
    for faces, group in by_faces.items():
        shortest: tuple[float, float] | None = (-np.inf, np.inf)
        for heel in heels:
            share = (heel - hauled.heel_from) / total if total else 0.0
            ends = []
            for guide in group:
                base = passage.heel(guide.on, share) if guide.on in passage.standing else 0.0
                span = bearing_span(guide, float(heel), base)
                ends += [span] if span else []
            if not ends:
                shortest = None
                break
            here = (min(e[0] for e in ends), max(e[1] for e in ends))
            if shortest and here[1] - here[0] < shortest[1] - shortest[0]:
                shortest = here
        spans[faces] = shortest
    return spans


def guided_play(
    plan: Plan, passage: Passage, guides: tuple[Guide, ...], low: float, high: float
) -> Play:
    """Play of a section held by shoes while its heel is between two heights.

    Parameters
    ----------
    plan : Plan
        Running gap of the shoes.
    passage : Passage
        What moves.
    guides : tuple of Guide
        From `section_guides`.
    low, high : float
        Heel heights. [m]

    Returns
    -------
    play : Play
        `unknown` says why where no two shoes bear on some face.
    """
    hauled = passage.moving[0]
    section = next(s for s in plan.sections if s.name == hauled)
    if not section.shoes or not guides:
        return Play(running=0.0, shift=_nothing, unknown=f"{hauled} has no shoes on anything")
    play = max(shoe.running for shoe in section.shoes)
    spans = least_spans(guides, passage, low, high)
    missing = [", ".join(faces) or "all faces" for faces, span in spans.items() if span is None]
    if missing:
        why = (
            f"between heel {low:.2f} and {high:.2f} m fewer than two shoes of {hauled} bear "
            f"({'; '.join(missing)})"
        )
        return Play(running=play, shift=_nothing, unknown=why)
    known = [span for span in spans.values() if span is not None]
    foot, head = min(known, key=lambda span: span[1] - span[0])

    def shift(height: float) -> tuple[float, float]:
        # The play itself is counted as running clearance already.
        return guided_shift(play, head - foot, height - foot) - play, 0.0

    return Play(running=play, shift=shift)


def free_play(curve: FreeHangCurve, low: float, high: float) -> Play:
    """Shift of a section on free lines while its heel is between two heights.

    Parameters
    ----------
    curve : FreeHangCurve
        How far out of true it hangs along the passage.
    low, high : float
        Heel heights. [m]

    Returns
    -------
    play : Play
        By the worst tilt, sway and lean of the samples that enclose the travel.
    """
    if curve.unknown:
        return Play(running=0.0, shift=_nothing, unknown=curve.unknown)
    first = max(0, int(np.searchsorted(curve.heels, low, side="right")) - 1)
    last = min(len(curve.heels), int(np.searchsorted(curve.heels, high, side="left")) + 1)
    rows = slice(first, max(last, first + 1))
    hang = FreeHang(
        tilt=float(curve.tilt[rows].max()),
        sway=float(curve.sway[rows].max()),
        lean=float(curve.lean[rows].max()),
        pivot=curve.pivot,
    )

    def shift(height: float) -> tuple[float, float]:
        return hang.tilt_shift(height), hang.sway_shift(height)

    return Play(running=0.0, shift=shift)
