"""How far a hauled section may be out of true at any height of its travel."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from towerlift.motion.passages import Passage
from towerlift.nesting.bodies import Assembly
from towerlift.nesting.budget import FreeHang, FreeHangCurve, guided_shift
from towerlift.nesting.contacts import SHOE, members_of
from towerlift.nesting.curves import Floats
from towerlift.nesting.pairs import Workshop
from towerlift.plan.bodies import Face, Shoe
from towerlift.plan.work import Contact

# Heel heights between which the shoes that bear are looked up.
LOOK_UP = 0.025
# A pad shorter than this bears at its middle; a longer piece where it overlaps.
LONGEST_PAD = 1.0
# A rail farther than this from a pad, either way, is not the one it runs on.
FARTHEST_RAIL = 0.2
# Rails that leave less than this between their ends are one rail to a pad.
BUTT_JOINT = 0.005

Shift = Callable[[float], tuple[float, float]]
Span = tuple[float, float]

_OPPOSITE = {
    Face.NORTH: Face.SOUTH,
    Face.SOUTH: Face.NORTH,
    Face.EAST: Face.WEST,
    Face.WEST: Face.EAST,
}
# For each face: axis across it, axis along it, and which way is out.
_AXES = {
    Face.NORTH: (1, 0, 1),
    Face.SOUTH: (1, 0, -1),
    Face.EAST: (0, 1, 1),
    Face.WEST: (0, 1, -1),
}


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """One shoe and the rails before the face it bears on.

    Attributes
    ----------
    face : Face
        Face it bears on.
    shoe : tuple of float
        Its foot and head, frame of the moving section. [m]
    rails : (m, 2) float
        Foot and head of each stretch of rail before it, in its own frame. [m]
    play : float
        Gap left between the two: as stated, or as drawn where that is more. [m]
    on : str
        Section or fixture that carries the rails.
    """

    face: Face
    shoe: tuple[float, float]
    rails: Floats
    play: float
    on: str


def section_guides(shop: Workshop, passage: Passage) -> tuple[Guide, ...]:
    """Shoes of the hauled section and what they run on.

    Parameters
    ----------
    shop : Workshop
        Its plan says which shoe runs on what, its shapes where they are.
    passage : Passage
        Rails that are not in place, or move along, are left out.

    Returns
    -------
    guides : tuple of Guide
        One for each shoe and each contact that puts a rail before it.
    """
    hauled = passage.moving[0]
    section = next(s for s in shop.plan.sections if s.name == hauled)
    assembly = shop.assembly(hauled, passage.fitted)
    guides = []
    for contact in shop.contacts:
        if contact.kind != SHOE or contact.of != hauled:
            continue
        if contact.stages and passage.stage not in contact.stages:
            continue
        rails = _rails(shop, passage, contact)
        for shoe in section.shoes:
            if shoe.member in contact.marks:
                box = _boxes(assembly, hauled, (shoe.member,))
                found = _guide(shoe, box, rails, contact.on)
                guides += [found] if found else []
    return tuple(guides)


def _rails(shop: Workshop, passage: Passage, contact: Contact) -> Floats:
    """Boxes of the rails of a contact, square to the sections, heights their own."""
    if contact.on in passage.moving:
        return np.empty((0, 2, 3))
    if contact.on in passage.standing:
        carrier = shop.assembly(contact.on, frozenset())
        return _boxes(carrier, contact.on, contact.on_marks)
    if contact.on in passage.fixtures:
        section_from_shaft = np.linalg.inv(shop.raise_.shaft_from_section(0.0))
        fixture = shop.assembly(contact.on, frozenset())
        turned = fixture.vertices @ section_from_shaft[:3, :3].T + section_from_shaft[:3, 3]
        return _boxes(replace(fixture, vertices=turned), contact.on, contact.on_marks)
    return np.empty((0, 2, 3))


def _boxes(assembly: Assembly, body: str, patterns: Iterable[str]) -> Floats:
    rows = []
    for member in members_of(assembly, body, patterns):
        corners = assembly.vertices[assembly.faces[assembly.members == member].ravel()]
        if len(corners):
            rows.append((corners.min(axis=0), corners.max(axis=0)))
    return np.array(rows, dtype=np.float64).reshape(-1, 2, 3)


def _guide(shoe: Shoe, pads: Floats, rails: Floats, on: str) -> Guide | None:
    """A shoe with the rails that stand before its face, or None where none does."""
    across, along, sign = _AXES[shoe.face]
    if not len(pads) or not len(rails):
        return None
    low, high = pads[0]
    if sign > 0:
        drawn = rails[:, 0, across] - high[across]
    else:
        drawn = low[across] - rails[:, 1, across]
    abreast = (rails[:, 0, along] < high[along]) & (rails[:, 1, along] > low[along])
    before = abreast & (drawn > -FARTHEST_RAIL) & (drawn < FARTHEST_RAIL)
    if not before.any():
        return None
    return Guide(
        face=shoe.face,
        shoe=(float(low[2]), float(high[2])),
        rails=_joined(rails[before][:, :, 2]),
        play=max(shoe.running, float(drawn[before].max())),
        on=on,
    )


def _joined(stretches: Floats) -> Floats:
    """Stretches of rail in rising order, those that meet end to end made one."""
    joined: list[list[float]] = []
    for foot, head in sorted(stretches.tolist()):
        if joined and foot <= joined[-1][1] + BUTT_JOINT:
            joined[-1][1] = max(joined[-1][1], head)
        else:
            joined.append([foot, head])
    return np.array(joined, dtype=np.float64).reshape(-1, 2)


def bearing_stretch(guide: Guide, heel: float, rails_heel: float) -> Span | None:
    """Heights s at which a shoe bears while the heel is within half a `LOOK_UP` of a height.

    Parameters
    ----------
    guide : Guide
        Shoe and rails.
    heel, rails_heel : float
        Heel height of the moving section and of what carries the rails. [m]

    Returns
    -------
    stretch : tuple of float or None
        Frame of the moving section; None where it does not bear throughout. [m]

    Notes
    -----
    Rails are taken shorter by half a `LOOK_UP` at both ends, so that what bears at one
    heel looked up bears at every heel up to half way to the next.
    """
    low, high = _reach(guide, np.array([rails_heel - heel]))[0]
    return (float(low), float(high)) if low <= high else None


def _reach(guide: Guide, offset: Floats) -> Floats:
    """Lowest and highest s at which a shoe bears, (n, 2), for n heights of rails over heel.

    Infinity and minus infinity where it does not bear.
    """
    foot, head = guide.shoe
    low = guide.rails[:, 0] + offset[:, None] + 0.5 * LOOK_UP
    high = guide.rails[:, 1] + offset[:, None] - 0.5 * LOOK_UP
    if head - foot <= LONGEST_PAD:
        middle = 0.5 * (foot + head)
        bears = (low <= middle) & (middle <= high)
        lowest = highest = np.full(low.shape, middle)
    else:
        lowest, highest = np.maximum(low, foot), np.minimum(high, head)
        bears = highest > lowest
    return np.column_stack(
        [
            np.where(bears, lowest, np.inf).min(axis=1, initial=np.inf),
            np.where(bears, highest, -np.inf).max(axis=1, initial=-np.inf),
        ]
    )


def bearing_spans(
    guides: Iterable[Guide], passage: Passage, low: float, high: float
) -> dict[Face, tuple[Span, ...] | None]:
    """The spans on which a section can lean to each side while its heel is between two heights.

    A section that leans north bears by its highest shoe on the north face and its
    lowest on the south face.

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
        Side to every (lower, upper) bearing height that occurs, or None where at some
        height no such pair of shoes bears. [m]
    """
    hauled = passage.standing[passage.moving[0]]
    total = hauled.heel_to - hauled.heel_from
    heels = np.linspace(low, high, max(2, int(np.ceil((high - low) / LOOK_UP)) + 1))
    shares = (heels - hauled.heel_from) / total if total else np.zeros(len(heels))
    reach = {face: np.tile([np.inf, -np.inf], (len(heels), 1)) for face in Face}
    bases: dict[str, Floats] = {}
    for guide in guides:
        if guide.on not in bases:
            stands = guide.on in passage.standing
            bases[guide.on] = np.array(
                [passage.heel(guide.on, float(share)) if stands else 0.0 for share in shares]
            )
        bears = _reach(guide, bases[guide.on] - heels)
        on_face = reach[guide.face]
        np.minimum(on_face[:, 0], bears[:, 0], out=on_face[:, 0])
        np.maximum(on_face[:, 1], bears[:, 1], out=on_face[:, 1])
    return {face: _spans(reach[_OPPOSITE[face]][:, 0], reach[face][:, 1]) for face in Face}


def _spans(feet: Floats, heads: Floats) -> tuple[Span, ...] | None:
    """Each (foot, head) that occurs, or None where at some height there is none."""
    if not np.all(heads > feet):
        return None
    pairs = np.unique(np.column_stack([feet, heads]), axis=0)
    return tuple((float(foot), float(head)) for foot, head in pairs)


def guided_play(passage: Passage, guides: tuple[Guide, ...], low: float, high: float) -> Play:
    """Play of a section held by shoes while its heel is between two heights.

    Parameters
    ----------
    passage : Passage
        What moves.
    guides : tuple of Guide
        From `section_guides`.
    low, high : float
        Heel heights. [m]

    Returns
    -------
    play : Play
        `unknown` says why where shoes do not hold it on every side.
    """
    hauled = passage.moving[0]
    if not guides:
        why = f"the lift of {hauled} is guided, but no shoe of it runs on anything"
        return Play(running=0.0, shift=_nothing, unknown=why)
    play = max(guide.play for guide in guides)
    spans = bearing_spans(guides, passage, low, high)
    missing = [str(face) for face, pairs in spans.items() if pairs is None]
    if missing:
        why = (
            f"between heel {low:.2f} and {high:.2f} m no two shoes at different heights keep "
            f"{hauled} from leaning {', '.join(missing)}"
        )
        return Play(running=play, shift=_nothing, unknown=why)
    every = {span for pairs in spans.values() for span in pairs or ()}

    def shift(height: float) -> tuple[float, float]:
        # The play itself is counted as running clearance already.
        worst = max(guided_shift(play, head - foot, height - foot) for foot, head in every)
        return worst - play, 0.0

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
