"""Stress of every piece of a section: hung, with a line lost, and on its locks."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.mechanics.frames import FrameForces, Held, buckling_factor, solve_frame
from towerlift.motion.raises import Raise
from towerlift.plan.bodies import Section
from towerlift.plan.limits import limit_in_plan
from towerlift.plan.model import Plan
from towerlift.rig.curves import Floats, HangCurve
from towerlift.rig.hanging import moving_block
from towerlift.rig.locks import FACTOR, stand_seats
from towerlift.rig.pieces import Piece
from towerlift.rig.skeletons import Skeleton, skeleton_of
from towerlift.rig.stands import Stand, stands
from towerlift.rig.strengths import Material, material_of
from towerlift.shapes.solids import Shapes
from towerlift.timber import Duration

# Stiffness of a leg on its ledge where the plan gives none: stiff is on the safe side. [N/m]
FIRM = 1e8
# What holds a frame up at its lift points while it is solved for any feet, and what is left
# of that once its feet hold it, so that it does not turn over on two of them. [N/m]
STEADY, LEFT = 1e7, 1e2
MOST_ROUNDS = 16
# Bars between axes that are shorter than so many thicknesses are struts, not beams.
STRUT = 1.5
# Nodes that move apart by more than this show a mechanism. [m]
GIVES = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Strain:
    """The hardest used piece of a section in one way of carrying it.

    Attributes
    ----------
    section, how, stage : str
        Which, how it is carried, and when.
    use : float or None
        Greatest share of the strength that a piece uses; None where it is not known. [1]
    piece : Piece or None
        Which.
    axial, bending, shear : float
        Stresses in it; tension positive. [Pa]
    material : str
        Class of it.
    racking : float
        Greatest change of the right angles of a face, without load factor. [rad]
    load : float
        Weight carried, without load factor. [N]
    missing : str
        Why it is not known.
    """

    section: str
    how: str
    stage: str
    use: float | None
    piece: Piece | None = None
    axial: float = 0.0
    bending: float = 0.0
    shear: float = 0.0
    material: str = ""
    racking: float = 0.0
    load: float = 0.0
    missing: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Feet:
    # Stiffness under each foot, and how much lower than the others each ledge is.
    stiffness: tuple[float, ...]
    lower: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    # One way of carrying a section: where, how firmly by pattern, and what it carries.
    how: str
    stage: str
    duration: Duration
    feet: Floats
    patterns: tuple[_Feet, ...]
    fitted: frozenset[str]
    carried: tuple[tuple[Floats, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Solved:
    # A frame with every load by itself, and with a unit push under every foot.
    skeleton: Skeleton
    forces: FrameForces
    nodes: dict[tuple[float, float, float], int]  # foot to its place among the loads
    at: dict[tuple[float, float, float], int]  # foot to its node
    steady: tuple[tuple[float, float, float], ...]  # feet that steady it


def member_strains(
    plan: Plan, shapes: Shapes, raise_: Raise, hangs: tuple[HangCurve, ...]
) -> tuple[Strain, ...]:
    """Every section in every way of carrying it, the hardest pattern of each.

    Parameters
    ----------
    plan : Plan
        What is planned.
    shapes : Shapes
        What it draws.
    raise_ : Raise
        What it does.
    hangs : tuple of HangCurve
        Loads of the hauls.

    Returns
    -------
    strains : tuple of Strain
        For each section: hung from all its lines, hung with one line lost, and standing
        on each of its carriers, on all legs or either diagonal.
    """
    found: list[Strain] = []
    standing = stands(plan, shapes, raise_)
    for section in plan.sections:
        ways = [
            *_hung(plan, shapes, raise_, (section, hangs)),
            *_standing(plan, shapes, section, standing),
        ]
        points = [point for way in ways for point in way.feet]
        points += [at for way in ways for at, _ in way.carried]
        skeleton = skeleton_of(plan, section.name, points)
        solved: _Solved | str = (
            skeleton
            if isinstance(skeleton, str)
            else _solved(plan, shapes, skeleton, (section, ways))
        )
        for n, way in enumerate(ways):
            if isinstance(solved, _Solved):
                found.append(_strain(plan, solved, section, (way, n)))
            else:
                found.append(_unknown(section.name, way, solved))
    return tuple(found)


def _unknown(section: str, way: _Way, why: str) -> Strain:
    return Strain(section=section, how=way.how, stage=way.stage, use=None, missing=why)


def _hung(
    plan: Plan, shapes: Shapes, raise_: Raise, of: tuple[Section, tuple[HangCurve, ...]]
) -> Iterator[_Way]:
    section, hangs = of
    mine = [each for each in hangs if each.hauled[0] == section.name]
    if not mine:
        return
    curve = max(mine, key=lambda each: float(np.nan_to_num(each.weight).max()))
    passage = raise_.passages[curve.passage]
    lift = next(each for each in plan.lifts if each.name == curve.lift)
    marks = [line.lift_point for line in lift.lines]
    blocks = np.array([moving_block(section, line) for line in lift.lines])
    names = list(dict.fromkeys(marks))
    counts = np.array([marks.count(name) for name in names], dtype=float)
    each = float(np.nanmedian(curve.tensions / curve.stretch))
    level = (0.0,) * len(names)
    whole = _Feet(stiffness=tuple((each * counts).tolist()), lower=level)
    lost = tuple(
        _Feet(stiffness=tuple((each * (counts - row)).tolist()), lower=level)
        for row in np.eye(len(names))
    )
    heels = {name: place.heel_to for name, place in passage.standing.items()}
    carried = tuple(
        _on(plan, shapes, name, (heels, section.name, passage.fitted))
        for name in curve.hauled[1:]
    )
    # The tackles of one corner pull together, midway between their blocks.
    feet = np.array([blocks[[mark == name for mark in marks]].mean(axis=0) for name in names])
    for how, patterns in (
        ("hung", (whole,)),
        ("hung, one line lost", lost),
    ):
        yield _Way(
            how=how,
            stage=curve.stage,
            duration=Duration.SHORT,
            feet=feet,
            patterns=patterns,
            fitted=passage.fitted,
            carried=tuple(place for places in carried for place in places),
        )


def _standing(
    plan: Plan, shapes: Shapes, section: Section, standing: tuple[Stand, ...]
) -> Iterator[_Way]:
    for stand in standing:
        if stand.section != section.name:
            continue
        feet = _feet(plan, section, stand)
        if len(feet) < 3:
            continue
        heels = dict(stand.heels)
        carried = [
            place
            for name in stand.carries
            for place in _on(plan, shapes, name, (heels, section.name, stand.fitted))
        ]
        yield _Way(
            how=f"on {stand.carrier}{', fids' if stand.how == 'fid' else ''}",
            stage=stand.stages[0],
            duration=stand.duration,
            feet=feet,
            patterns=tuple(_ledges(stand, feet)),
            fitted=stand.fitted,
            carried=tuple(carried),
        )


def _feet(plan: Plan, section: Section, stand: Stand) -> Floats:
    if stand.how == "fid":
        return np.array([each.at for each in section.fids]).reshape(-1, 3)
    line = plan.plumb_line
    c, s = np.cos(line.turn), np.sin(line.turn)
    feet: dict[str, Floats] = {}
    for seat in stand_seats(plan, stand):
        x, y = seat.middle - np.array([line.x, line.y])
        key = seat.upper.mark if seat.upper.upright else f"{seat.upper.mark} {seat.lower.mark}"
        feet[key] = np.array([c * x + s * y, c * y - s * x, seat.upper.bottom - stand.heel])
    return np.array(list(feet.values())).reshape(-1, 3)


def _ledges(stand: Stand, feet: Floats) -> Iterator[_Feet]:
    """All feet alike; then one ledge low by what is allowed, or either diagonal alone."""
    count = len(feet)
    lock = stand.lock
    firm = FIRM if lock is None or lock.stiffness is None else lock.stiffness
    level = (0.0,) * count
    yield _Feet(stiffness=(firm,) * count, lower=level)
    if lock is not None and lock.packed_to is not None:
        for k in range(count):
            low = tuple(lock.packed_to if n == k else 0.0 for n in range(count))
            yield _Feet(stiffness=(firm,) * count, lower=low)
        return
    done = set()
    for i in range(count):
        j = int(np.linalg.norm(feet[:, :2] - feet[i, :2], axis=1).argmax())
        if (min(i, j), max(i, j)) not in done:
            done.add((min(i, j), max(i, j)))
            two = tuple(firm if k in (i, j) else 0.0 for k in range(count))
            yield _Feet(stiffness=two, lower=level)


def _on(
    plan: Plan,
    shapes: Shapes,
    name: str,
    at: tuple[dict[str, float], str, frozenset[str]],
) -> tuple[tuple[Floats, float], ...]:
    """Places where a section that is carried rests on its carrier, and its weight on each."""
    heels, carrier, fitted = at
    child = next(each for each in plan.sections if each.name == name)
    up = heels[name] - heels[carrier]
    mass = shapes.sections[name].mass.mass + sum(
        shapes.fit_out[item].mass.mass for item in fitted if shapes.fitted_on[item] == name
    )
    ledge = next(each.nest_height for each in plan.sections if each.name == carrier)
    nested = ledge is not None and abs(up - ledge) < 2e-3
    marks = child.lift_points if nested or not child.fids else child.fids
    rest = 0.0 if nested or not child.fids else None
    places = [
        np.array([*each.at[:2], up + (each.at[2] if rest is None else rest)]) for each in marks
    ]
    if not places:
        return ()
    return tuple((place, mass * STANDARD_GRAVITY / len(places)) for place in places)


def _solved(
    plan: Plan, shapes: Shapes, skeleton: Skeleton, of: tuple[Section, list[_Way]]
) -> _Solved | str:
    """The frame solved once for all: for the loads of each way, and for a push at each foot."""
    section, ways = of
    loads = [_loads(plan, shapes, skeleton, (section, way)) for way in ways]
    nodes: dict[tuple[float, float, float], int] = {}
    at: dict[tuple[float, float, float], int] = {}
    steady = [np.array(each.at) for each in section.lift_points]
    for feet in (steady, *(list(way.feet) for way in ways)):
        for foot in feet:
            key = _key(foot)
            if key in nodes:
                continue
            nodes[key], at[key] = len(loads), skeleton.nearest(foot)
            push = np.zeros_like(loads[0])
            push[at[key], 2] = 1.0
            loads.append(push)
    try:
        forces = solve_frame(skeleton.frame, _steady(section, skeleton), np.array(loads))
    except ValueError as error:
        return f"{section.name}: {error}"
    told = tuple(dict.fromkeys(_key(each) for each in steady))
    return _Solved(skeleton=skeleton, forces=forces, nodes=nodes, at=at, steady=told)


def _key(foot: Floats) -> tuple[float, float, float]:
    x, y, s = (round(float(each), 6) for each in foot)
    return x, y, s


def _steady(section: Section, skeleton: Skeleton) -> Held:
    count = len(skeleton.frame.nodes)
    fixed, springs = np.zeros((count, 6), dtype=bool), np.zeros((count, 6))
    nodes = [skeleton.nearest(np.array(each.at)) for each in section.lift_points]
    np.add.at(springs[:, 2], nodes, STEADY)
    # Level, only what keeps it from drifting and turning: no load acts that way.
    far = max(nodes, key=lambda k: float(np.linalg.norm(
        skeleton.frame.nodes[k] - skeleton.frame.nodes[nodes[0]]
    )))  # fmt: skip
    fixed[nodes[0], :2] = True
    across = skeleton.frame.nodes[far] - skeleton.frame.nodes[nodes[0]]
    fixed[far, 0 if abs(across[1]) >= abs(across[0]) else 1] = True
    return Held(fixed=fixed, springs=springs)


def _reactions(solved: _Solved, way: _Way, load: int, feet: _Feet) -> Floats | None:
    """What each foot bears, none below nothing; then what takes the steadying out again."""
    keys = [_key(foot) for foot in way.feet] + list(solved.steady)
    at = [solved.at[key] for key in keys]
    sinks = -solved.forces.moves[load, at, 2]
    gives = np.array([-solved.forces.moves[solved.nodes[key], at, 2] for key in keys]).T
    count, more = len(way.feet), len(solved.steady)
    stiff = np.array([*feet.stiffness, *[LEFT - STEADY] * more])
    lower = np.array([*feet.lower, *[0.0] * more])
    bears = stiff != 0
    for _ in range(MOST_ROUNDS):
        rows = np.flatnonzero(bears)
        # A foot sinks by what the load and all feet give, and bears k times what is left.
        matrix = np.diag(1 / stiff[rows]) - gives[np.ix_(rows, rows)]
        found = np.zeros(len(keys))
        found[rows] = np.linalg.solve(matrix, sinks[rows] - lower[rows])
        sunk = sinks + gives @ found - lower
        after = np.where(bears, found > 0, sunk > 0) & (stiff > 0)
        after[count:] = True
        if np.array_equal(after, bears):
            return found
        bears = after
    return None


def _strain(plan: Plan, solved: _Solved, section: Section, of: tuple[_Way, int]) -> Strain:
    way, load = of
    skeleton, forces = solved.skeleton, solved.forces
    factor = limit_in_plan(plan, FACTOR).value
    pushes = [solved.nodes[key] for key in (*map(_key, way.feet), *solved.steady)]
    worst: Strain | None = None
    for feet in way.patterns:
        bears = _reactions(solved, way, load, feet)
        if bears is None:
            return _unknown(section.name, way, f"no rest of {section.name} was found")
        ends = forces.ends[load] + np.einsum("f,fmij->mij", bears, forces.ends[pushes])
        moves = forces.moves[load] + np.einsum("f,fnk->nk", bears, forces.moves[pushes])
        give = _give(skeleton.frame.nodes, moves[:, :3])
        if not give <= GIVES:
            return _unknown(
                section.name,
                way,
                f"{section.name} {way.how}: the frame gives by {give:.2f} m, so that it is a "
                "mechanism as drawn: brace it, or draw what holds it",
            )
        found = _hardest(plan, skeleton, way, factor * ends)
        if isinstance(found, str):
            return _unknown(section.name, way, found)
        use, bar, stresses = found
        racking = max(_racking(skeleton, moves), worst.racking if worst else 0.0)
        if worst is not None and use <= (worst.use or 0.0):
            worst = replace(worst, racking=racking)
            continue
        k = int(skeleton.owner[bar])
        worst = Strain(
            section=section.name,
            how=way.how,
            stage=way.stage,
            use=use,
            piece=skeleton.pieces[k],
            axial=stresses[0],
            bending=stresses[1],
            shear=stresses[2],
            material=skeleton.materials[k].name,
            racking=racking,
            load=float(bears[: len(way.feet)].sum()),
        )
    return worst or _unknown(section.name, way, "it is carried nowhere")


def _give(nodes: Floats, moves: Floats) -> float:
    """How far a node moves at most beside what the whole does as one rigid body. [m]"""
    x, y, z = (nodes - nodes.mean(axis=0)).T
    none, one = np.zeros(len(nodes)), np.ones(len(nodes))
    rigid = np.concatenate(
        [
            np.column_stack([one, none, none, none, z, -y]),
            np.column_stack([none, one, none, -z, none, x]),
            np.column_stack([none, none, one, y, -x, none]),
        ]
    )
    found, *_ = np.linalg.lstsq(rigid, moves.T.reshape(-1))
    return float(np.abs(moves.T.reshape(-1) - rigid @ found).max())


def _loads(plan: Plan, shapes: Shapes, skeleton: Skeleton, of: tuple[Section, _Way]) -> Floats:
    section, way = of
    frame, owner = skeleton.frame, skeleton.owner
    loads = np.zeros((len(frame.nodes), 6))
    density = {each.name: each.density for each in plan.species}
    dense = np.array([density[each.member.species] for each in skeleton.pieces])[owner]
    weigh = dense * frame.area[: len(owner)] * frame.lengths[: len(owner)]
    for end in range(2):
        np.subtract.at(loads[:, 2], frame.bars[: len(owner), end], weigh * STANDARD_GRAVITY / 2)
    middle = frame.nodes[frame.bars[: len(owner)]].mean(axis=1)
    parts = [shapes.sections[section.name].mass] + [
        shapes.fit_out[item].mass
        for item in sorted(way.fitted)
        if shapes.fitted_on[item] == section.name
    ]
    whole = sum(part.mass for part in parts)
    left = whole - float(weigh.sum())
    if left > 0:
        moment = sum(part.mass * float(part.centre[2]) for part in parts)
        height = (moment - float(weigh @ middle[:, 2])) / left
        for node in _quadrants(skeleton, height):
            loads[node, 2] -= left * STANDARD_GRAVITY / 4
    for at, force in way.carried:
        loads[skeleton.nearest(at), 2] -= force
    return loads


def _quadrants(skeleton: Skeleton, height: float) -> list[int]:
    """A node in each quarter of the plan, near a height and far from the axis."""
    used = np.unique(skeleton.frame.bars[: len(skeleton.owner)])
    points = skeleton.frame.nodes[used]
    found = []
    for east in (1, -1):
        for north in (1, -1):
            inside = (points[:, 0] * east >= 0) & (points[:, 1] * north >= 0)
            away = np.abs(points[:, 2] - height) - 0.5 * np.hypot(points[:, 0], points[:, 1])
            found.append(int(used[int(np.where(inside, away, np.inf).argmin())]))
    return found


def _hardest(
    plan: Plan, skeleton: Skeleton, way: _Way, ends: Floats
) -> tuple[float, int, tuple[float, float, float]] | str:
    owner = skeleton.owner
    species = {each.member.species for each in skeleton.pieces}
    known = {name: material_of(plan, name, way.duration) for name in species}
    materials = [known[each.member.species] for each in skeleton.pieces]
    table = []
    for material in materials:
        if isinstance(material, str):
            return material
        row = _strengths(material)
        if row is None:
            return f"not every strength of {material.name} is given"
        table.append(row)
    strong = np.array(table)[owner]
    breadth = np.array([each.member.breadth for each in skeleton.pieces])[owner]
    depth = np.array([each.member.depth for each in skeleton.pieces])[owner]
    crack = np.array([m.crack for m in materials if isinstance(m, Material)])[owner]
    mine = ends[: len(owner)]
    axial = mine[:, 1, 0] / (breadth * depth)
    about_depth = 6 * np.abs(mine[:, :, 5]) / (depth * breadth**2)[:, None]
    about_breadth = 6 * np.abs(mine[:, :, 4]) / (breadth * depth**2)[:, None]
    bending = (about_depth + about_breadth).max(axis=1)
    shear = 1.5 * np.hypot(mine[:, :, 1], mine[:, :, 2]).max(axis=1) / (breadth * depth * crack)
    # What lies within a depth of the face of its support goes into it as a strut.
    lengths = skeleton.frame.lengths[: len(owner)]
    shear = np.where(lengths < STRUT * np.maximum(breadth, depth), 0.0, shear)
    slender = skeleton.spans * np.sqrt(12) / np.minimum(breadth, depth)
    kept = buckling_factor(slender, strong[:, 4], strong[:, 5])
    pressed = -axial / (kept * strong[:, 2])
    along = np.where(axial >= 0, axial / strong[:, 1], pressed)
    use = np.maximum(along + bending / strong[:, 0], shear / strong[:, 3])
    bar = int(use.argmax())
    return float(use[bar]), bar, (float(axial[bar]), float(bending[bar]), float(shear[bar]))


def _strengths(material: Material) -> tuple[float, ...] | None:
    """Bending, tension, compression, shear, and for buckling f_c and E that go together."""
    found = (material.bending, material.tension, material.compression, material.shear)
    if any(each is None for each in found) or material.modulus_low is None:
        return None
    values = [each.value for each in found if each is not None]
    # The relative slenderness asks for characteristic values, which the two here share.
    return (*values, material.characteristic_compression, material.modulus_low)


def _racking(skeleton: Skeleton, moves: Floats) -> float:
    """Greatest change of right angles between the corner posts of a face."""
    posts = [
        k
        for k, piece in enumerate(skeleton.pieces)
        if piece.upright and np.all(np.abs(piece.start[:2]) > 0.5)
    ]
    longest = max((skeleton.pieces[k].length for k in posts), default=0.0)
    posts = [k for k in posts if skeleton.pieces[k].length >= longest - 1e-6]
    corners: dict[tuple[bool, bool], Piece] = {}
    for k in posts:
        piece = skeleton.pieces[k]
        key = (bool(piece.start[0] > 0), bool(piece.start[1] > 0))
        outer = corners.get(key)
        if outer is None or np.hypot(*piece.start[:2]) > np.hypot(*outer.start[:2]):
            corners[key] = piece
    most = 0.0
    for first, second in (
        ((True, True), (False, True)), ((False, True), (False, False)),
        ((False, False), (True, False)), ((True, False), (True, True)),
    ):  # fmt: skip
        if first in corners and second in corners:
            most = max(most, _face(skeleton, moves, (corners[first], corners[second])))
    return most


def _face(skeleton: Skeleton, moves: Floats, posts: tuple[Piece, Piece]) -> float:
    feet, heads = [], []
    for post in posts:
        ends = sorted((post.start, post.end), key=lambda each: float(each[2]))
        feet.append(skeleton.nearest(ends[0]))
        heads.append(skeleton.nearest(ends[1]))
    growth = []
    for a, b in ((feet[0], heads[1]), (feet[1], heads[0])):
        way = skeleton.frame.nodes[b] - skeleton.frame.nodes[a]
        length = float(np.linalg.norm(way))
        growth.append(float((moves[b, :3] - moves[a, :3]) @ way) / length)
    base = float(np.linalg.norm(skeleton.frame.nodes[feet[0]] - skeleton.frame.nodes[feet[1]]))
    height = float(
        np.linalg.norm(skeleton.frame.nodes[heads[0]] - skeleton.frame.nodes[feet[0]])
    )
    diagonal = float(np.hypot(base, height))
    return abs(growth[0] - growth[1]) * diagonal / (2 * base * height)
