"""The pieces of a section as a frame: where they meet, and what is hinged there."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from towerlift.mechanics.frames import Frame, torsion_constant
from towerlift.plan.model import Plan
from towerlift.rig.curves import Floats
from towerlift.rig.pieces import Piece, matches, pieces_of
from towerlift.rig.strengths import Material, material_of
from towerlift.timber import Duration

# Pieces whose surfaces are this near meet in a joint. [m]
MEETS = 0.012
# Pieces that a contact joins are held by brackets no longer than this. [m]
TOLD_REACH = 0.45
# Joints along a piece that are nearer than this share of its thickness are one: within a
# joint wood crushes and pegs give, and no stub as short as that works as a beam.
MERGE = 0.7
# A piece shorter than this is a block: it weighs, but bears nothing on.
BLOCK = 0.5
# Bars longer than this are halved, so that their own weight bends them.
LONGEST = 1.6
# A joint this near to an end of a piece, in its depths, is at its end.
AT_END = 1.0
# Joints within so many depths of a piece are at one place, for what stands out from them.
ONE_PLACE = 4.0
# Joints off the axes are bridged by bars so much stiffer than wood.
RIGID = 30.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Skeleton:
    """A section as a frame, in its own coordinates.

    Attributes
    ----------
    pieces : tuple of Piece
        What its bars are of.
    frame : Frame
        Bars of pieces first, bridges of joints after them.
    owner : (k,) int
        Piece of each bar that is none of the bridges.
    spans : (k,) float
        Length between the joints of its piece that each such bar lies between. [m]
    materials : tuple of Material
        Of each piece, under a short load.
    """

    pieces: tuple[Piece, ...]
    frame: Frame
    owner: np.ndarray[tuple[int], np.dtype[np.int64]]
    spans: Floats
    materials: tuple[Material, ...]

    def nearest(self, point: Floats) -> int:
        """Node on a piece nearest to a place, section frame."""
        used = np.unique(self.frame.bars[: len(self.owner)])
        away = np.linalg.norm(self.frame.nodes[used] - point, axis=1)
        return int(used[int(away.argmin())])


def skeleton_of(plan: Plan, section: str, extra: list[Floats]) -> Skeleton | str:
    """A section as a frame.

    Parameters
    ----------
    plan : Plan
        Pieces and strengths.
    section : str
        Which.
    extra : list of (3,) float
        Places of loads and supports, section frame: the nearest piece gets a node there. [m]

    Returns
    -------
    skeleton : Skeleton, or str
        In words why it is none.

    Notes
    -----
    Pieces meet where their sides touch. A piece that ends at a joint passes on no moment
    there, one that runs through does; where all end together the stoutest holds the rest.
    Joints off the axes are bridged by stiff bars, so that eccentric ones bend the pieces.
    """
    own = [each for each in plan.sections if each.name == section]
    if not own or not own[0].members:
        return f"{section} has no members drawn, so that it cannot be a frame"
    line = plan.plumb_line
    level = plan.model_copy(
        update={"plumb_line": line.model_copy(update={"x": 0.0, "y": 0.0, "turn": 0.0})}
    )
    pieces = tuple(each for each in pieces_of(level, section, 0.0) if each.length >= BLOCK)
    graded = [material_of(plan, each.member.species, Duration.SHORT) for each in pieces]
    missing = next((each for each in graded if isinstance(each, str)), None)
    if missing is not None:
        return missing
    materials = tuple(each for each in graded if isinstance(each, Material))
    joints = [*_joints(pieces), *_told_joints(plan, section, pieces)]
    loose = _loose(pieces, joints)
    if loose:
        return (
            f"{section}: {loose} touches no other piece as drawn, so that it is no frame; draw "
            f"what holds it, or give a contact of kind joint between pieces of {section}"
        )
    return _built(pieces, materials, joints, extra)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Joint:
    first: int
    second: int
    shares: tuple[float, float]  # along each piece, 0 at its start


def _joints(pieces: tuple[Piece, ...]) -> list[_Joint]:
    boxes = np.array([_box(each) for each in pieces])
    found = []
    for i in range(len(pieces)):
        near = np.all(boxes[i, 0] <= boxes[i + 1 :, 1] + MEETS, axis=1) & np.all(
            boxes[i + 1 :, 0] <= boxes[i, 1] + MEETS, axis=1
        )
        for j in (i + 1 + np.flatnonzero(near)).tolist():
            shares = _nearest_shares(pieces[i], pieces[j])
            if _touch(pieces[i], pieces[j], shares):
                found.append(_Joint(first=i, second=j, shares=shares))
    return found


def _told_joints(plan: Plan, section: str, pieces: tuple[Piece, ...]) -> list[_Joint]:
    """Joints that the plan tells of, between pieces that are not drawn touching."""
    found = []
    for contact in plan.contacts:
        if contact.kind != "joint" or {contact.of, contact.on} != {section}:
            continue
        for i, first in enumerate(pieces):
            for j, second in enumerate(pieces):
                meant = matches(first.mark, contact.marks)
                if i == j or not (meant and matches(second.mark, contact.on_marks)):
                    continue
                t, u = _nearest_shares(first, second)
                p = first.start + t * (first.end - first.start)
                q = second.start + u * (second.end - second.start)
                if np.linalg.norm(p - q) <= TOLD_REACH:
                    found.append(_Joint(first=i, second=j, shares=(t, u)))
    return found


def _box(piece: Piece) -> Floats:
    half = piece.half
    low = np.minimum(piece.start, piece.end) - half
    return np.array([low, np.maximum(piece.start, piece.end) + half])


def _nearest_shares(first: Piece, second: Piece) -> tuple[float, float]:
    """Where two middle lines are nearest to each other."""
    a, b = first.end - first.start, second.end - second.start
    between = first.start - second.start
    aa, bb, ab = float(a @ a), float(b @ b), float(a @ b)
    cross = aa * bb - ab * ab
    if cross > 1e-6 * aa * bb:
        t = (ab * float(b @ between) - bb * float(a @ between)) / cross
    else:  # side by side: the middle of what lies beside each other
        along = sorted([0.0, 1.0, -float(a @ between) / aa, (ab - float(a @ between)) / aa])
        t = (along[1] + along[2]) / 2
    t = min(max(t, 0.0), 1.0)
    u = min(max((float(b @ between) + t * ab) / bb, 0.0), 1.0)
    t = min(max((u * ab - float(a @ between)) / aa, 0.0), 1.0)
    return t, u


def _touch(first: Piece, second: Piece, shares: tuple[float, float]) -> bool:
    p = first.start + shares[0] * (first.end - first.start)
    q = second.start + shares[1] * (second.end - second.start)
    gap = q - p
    away = float(np.linalg.norm(gap))
    if away < 1e-9:
        return True
    way = gap / away
    reach = sum(
        float(np.abs(each.axes[:2] @ way) @ [each.member.breadth, each.member.depth]) / 2
        for each in (first, second)
    )
    # An end meets the side of another piece over the end's own half thickness too.
    return away <= reach + MEETS


def _loose(pieces: tuple[Piece, ...], joints: list[_Joint]) -> str:
    group = list(range(len(pieces)))

    def root(k: int) -> int:
        while group[k] != k:
            group[k] = group[group[k]]
            k = group[k]
        return k

    for joint in joints:
        group[root(joint.first)] = root(joint.second)
    roots = [root(k) for k in range(len(pieces))]
    main = max(set(roots), key=roots.count)
    apart = [pieces[k].mark for k, r in enumerate(roots) if r != main]
    return apart[0] if apart else ""


def _built(
    pieces: tuple[Piece, ...],
    materials: tuple[Material, ...],
    joints: list[_Joint],
    extra: list[Floats],
) -> Skeleton:
    cuts: list[list[float]] = [[0.0, 1.0] for _ in pieces]
    for joint in joints:
        cuts[joint.first].append(joint.shares[0])
        cuts[joint.second].append(joint.shares[1])
    jointed = [_merged(pieces[k], each) for k, each in enumerate(cuts)]
    for point in extra:
        k, share = _on_nearest(pieces, point)
        cuts[k].append(share)
    nodes: list[Floats] = []
    bars: list[tuple[int, int]] = []
    owner: list[int] = []
    spans: list[float] = []
    at: list[tuple[Floats, list[int]]] = []
    for k, piece in enumerate(pieces):
        shares = _halved(piece, _merged(piece, cuts[k]))
        numbers = list(range(len(nodes), len(nodes) + len(shares)))
        nodes += [piece.start + share * (piece.end - piece.start) for share in shares]
        at.append((np.array(shares), numbers))
        for n, (a, b) in enumerate(pairwise(numbers)):
            bars.append((a, b))
            owner.append(k)
            spans.append(_span(jointed[k], (shares[n] + shares[n + 1]) / 2) * piece.length)
    bridges, ends = _bridges(pieces, joints, at)
    joined = (bridges, ends, len(nodes), _standing_out(pieces, joints))
    hinged = _hinges(pieces, np.array(owner), np.array(bars), joined)
    return _skeleton(pieces, materials, (nodes, bars, owner, spans, bridges, hinged))


def _merged(piece: Piece, shares: list[float]) -> list[float]:
    near = MERGE * max(piece.member.breadth, piece.member.depth)
    kept = [0.0]
    for share in sorted(shares):
        if (share - kept[-1]) * piece.length > near:
            kept.append(share)
    if (1.0 - kept[-1]) * piece.length <= near and len(kept) > 1:
        kept[-1] = 1.0
    elif kept[-1] != 1.0:
        kept.append(1.0)
    return kept


def _halved(piece: Piece, shares: list[float]) -> list[float]:
    found = [shares[0]]
    for before, after in pairwise(shares):
        count = max(1, int(np.ceil((after - before) * piece.length / LONGEST)))
        found += [before + (after - before) * (n + 1) / count for n in range(count)]
    return found


def _span(jointed: list[float], share: float) -> float:
    below = max(each for each in jointed if each <= share)
    above = min(each for each in jointed if each >= share)
    return above - below


def _on_nearest(pieces: tuple[Piece, ...], point: Floats) -> tuple[int, float]:
    best = (np.inf, 0, 0.0)
    for k, piece in enumerate(pieces):
        along = piece.end - piece.start
        share = min(max(float((point - piece.start) @ along) / float(along @ along), 0.0), 1.0)
        away = float(np.linalg.norm(piece.start + share * along - point))
        best = min(best, (away, k, share))
    return best[1], best[2]


def _bridges(
    pieces: tuple[Piece, ...], joints: list[_Joint], at: list[tuple[Floats, list[int]]]
) -> tuple[list[tuple[int, int]], dict[int, int]]:
    """Pairs of nodes that a joint ties, and the piece that ends at each node that does."""
    ties, ends = [], {}
    for joint in joints:
        pair = []
        for k, share in ((joint.first, joint.shares[0]), (joint.second, joint.shares[1])):
            shares, numbers = at[k]
            n = int(np.abs(shares - share).argmin())
            piece = pieces[k]
            depth = max(piece.member.breadth, piece.member.depth) * AT_END / piece.length
            if min(share, 1 - share) <= depth and n in (0, 1, len(shares) - 2, len(shares) - 1):
                n = 0 if share < 0.5 else len(shares) - 1
                ends[numbers[n]] = k
            pair.append(numbers[n])
        ties.append((pair[0], pair[1]))
    return ties, ends


def _standing_out(pieces: tuple[Piece, ...], joints: list[_Joint]) -> frozenset[int]:
    """Pieces whose joints are all at one place: they stand out from it, and it holds them."""
    shares: dict[int, list[float]] = {}
    for joint in joints:
        for k, share in ((joint.first, joint.shares[0]), (joint.second, joint.shares[1])):
            shares.setdefault(k, []).append(share)
    return frozenset(
        k
        for k, found in shares.items()
        if (max(found) - min(found)) * pieces[k].length
        < ONE_PLACE * max(pieces[k].member.breadth, pieces[k].member.depth)
    )


def _hinges(
    pieces: tuple[Piece, ...],
    owner: np.ndarray[tuple[int], np.dtype[np.int64]],
    bars: np.ndarray[tuple[int, int], np.dtype[np.int64]],
    joined: tuple[list[tuple[int, int]], dict[int, int], int, frozenset[int]],
) -> np.ndarray[tuple[int, int], np.dtype[np.bool_]]:
    """Ends that pass on no moment; in each knot of nodes the stoutest end still does."""
    ties, ends, count, out = joined
    hinged = np.array([[a in ends, b in ends] for a, b in bars.tolist()])
    knot = list(range(count))

    def root(k: int) -> int:
        while knot[k] != k:
            knot[k] = knot[knot[k]]
            k = knot[k]
        return k

    for a, b in ties:
        knot[root(a)] = root(b)
    size = np.array([each.member.breadth * each.member.depth for each in pieces])[owner]
    once = np.array([k in out for k in range(len(pieces))])[owner]
    hinged[once] = False
    members: dict[int, list[tuple[int, int]]] = {}
    for row, pair in enumerate(bars.tolist()):
        if not once[row]:
            for end, node in enumerate(pair):
                members.setdefault(root(node), []).append((row, end))
    for some in members.values():
        if all(hinged[row, end] for row, end in some):
            row, end = max(some, key=lambda each: size[each[0]])
            hinged[row, end] = False
    return hinged


def _skeleton(
    pieces: tuple[Piece, ...],
    materials: tuple[Material, ...],
    made: tuple[
        list[Floats],
        list[tuple[int, int]],
        list[int],
        list[float],
        list[tuple[int, int]],
        np.ndarray[tuple[int, int], np.dtype[np.bool_]],
    ],
) -> Skeleton:
    nodes, bars, owner, spans, ties, hinged = made
    points = np.array(nodes)
    # Nodes at one place become one: a bridge needs a length.
    into = np.arange(len(points))
    bridges = []
    for a, b in ties:
        if np.linalg.norm(points[a] - points[b]) < 1e-4:
            into[into == into[b]] = into[a]
        else:
            bridges.append((a, b))
    bridges = [(a, b) for a, b in bridges if into[a] != into[b]]
    kept, numbers = np.unique(into, return_inverse=True)
    points = points[kept]
    every = numbers[np.array([*bars, *bridges], dtype=np.int64)]
    breadth = np.array([each.member.breadth for each in pieces])[owner]
    depth = np.array([each.member.depth for each in pieces])[owner]
    along = points[every[:, 1]] - points[every[:, 0]]
    along = along / np.linalg.norm(along, axis=1, keepdims=True)
    own = np.array([each.axes for each in pieces])[owner]
    axes = np.concatenate(
        [np.stack([own[:, 2], own[:, 0], own[:, 1]], axis=1), _square(along[len(owner) :])]
    )
    stout = np.full(len(bridges), 0.25)
    broad, deep = np.concatenate([breadth, stout]), np.concatenate([depth, stout])
    moduli = np.array([each.modulus for each in materials])
    shear = np.array([each.shear_modulus for each in materials])
    rigid = RIGID * float(moduli.max()) * np.ones(len(bridges))
    frame = Frame(
        nodes=points,
        bars=every,
        axes=axes,
        area=broad * deep,
        inertia=np.column_stack([deep * broad**3 / 12, broad * deep**3 / 12]),
        torsion=torsion_constant(broad, deep),
        modulus=np.concatenate([moduli[owner], rigid]),
        shear_modulus=np.concatenate([shear[owner], rigid]),
        hinged=np.concatenate([hinged, np.zeros((len(bridges), 2), dtype=bool)]),
    )
    return Skeleton(
        pieces=pieces,
        frame=frame,
        owner=np.array(owner, dtype=np.int64),
        spans=np.array(spans),
        materials=materials,
    )


def _square(along: Floats) -> Floats:
    """Axes of bars whose turn about themselves does not matter."""
    away = np.where(np.abs(along[:, 2:]) > 0.9, [[1.0, 0.0, 0.0]], [[0.0, 0.0, 1.0]])
    second = away - (away * along).sum(axis=1, keepdims=True) * along
    second = second / np.linalg.norm(second, axis=1, keepdims=True)
    return np.asarray(np.stack([along, second, np.cross(along, second)], axis=1))
