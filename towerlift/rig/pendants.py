"""Sections that hang in pendants: bearers, chains, and the cross-bearers they hang from."""

from dataclasses import dataclass

import numpy as np

from towerlift.gaps import Line, line_gap
from towerlift.mechanics.masonry import leg_patterns
from towerlift.motion.passages import Passage
from towerlift.nesting.pairs import Workshop
from towerlift.plan.limits import limit_in_plan
from towerlift.plan.model import Plan
from towerlift.rig.beams import BeamLoad, BeamUse, Support, use_beam
from towerlift.rig.curves import Floats
from towerlift.rig.locks import FACTOR, stance_of, stand_seats
from towerlift.rig.pads import supports_of
from towerlift.rig.pieces import RESTS, Piece, Seat, pieces_of
from towerlift.rig.stands import Stand

# A chain this far beside a bearer, or past its end, is slung round it. [m]
BESIDE = 0.10


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainUse:
    """One pendant, or a pair that one place of a bearer hangs in.

    Attributes
    ----------
    piece : Piece
        As drawn.
    loads : (k,) float
        Design load in each pattern. [N]
    rated : float or None
        Rated load, where the plan gives it. [N]
    """

    piece: Piece
    loads: Floats
    rated: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PendantUse:
    """How a section hangs in its pendants.

    Attributes
    ----------
    stand : Stand
        What hangs.
    bearers : tuple of BeamUse
        Pieces put through the section.
    chains : tuple of ChainUse
        Pendants.
    crossers : tuple of BeamUse
        Cross-bearers that the pendants hang from.
    loads : tuple of (Piece, tuple of float, tuple of (k,) float)
        What the cross-bearers lay on the pieces below them: piece, places along it and
        design loads by pattern.
    missing : tuple of str
        What the plan does not say or draw.
    """

    stand: Stand
    bearers: tuple[BeamUse, ...]
    chains: tuple[ChainUse, ...]
    crossers: tuple[BeamUse, ...]
    loads: tuple[tuple[str, str, float, Floats], ...]
    missing: tuple[str, ...]


def pendant_use(plan: Plan, stand: Stand) -> PendantUse:
    """Bearers, chains and cross-bearers under a section that hangs in pendants.

    Parameters
    ----------
    plan : Plan
        Pieces, contacts, strengths and the lock with its rating.
    stand : Stand
        By pendants.

    Returns
    -------
    use : PendantUse
        With either diagonal of the pendants carrying all among the patterns, since
        chains of one length are never quite alike.
    """
    seats = stand_seats(plan, stand)
    if len(seats) < 3:
        why = f"no contact says what of {stand.section} hangs on {stand.carrier}"
        return _nothing(stand, why)
    factor = limit_in_plan(plan, FACTOR).value
    feet = np.array([seat.middle for seat in seats])
    patterns = factor * leg_patterns(stance_of(plan, stand, feet))
    pieces = pieces_of(plan, stand.carrier, None)
    chains = tuple(each for each in pieces if each.upright)
    missing: list[str] = []
    bearers: list[BeamUse] = []
    loads: dict[str, Floats] = {}
    for bearer in _unique(seats):
        hung = [each for each in chains if _slung(bearer, each)]
        if len(hung) < 2:
            missing.append(f"no two pendants are drawn at {stand.carrier}: {bearer.mark}")
            continue
        use = _bearer(plan, stand, bearer, (seats, patterns, hung))
        bearers.append(use)
        for chain, column in zip(_ends(bearer, hung), use.by_pattern.T, strict=True):
            loads[chain.mark] = loads.get(chain.mark, 0.0) + column
    rated = None if stand.lock is None else stand.lock.rated
    used = tuple(
        ChainUse(piece=chain, loads=loads[chain.mark], rated=rated)
        for chain in chains
        if chain.mark in loads
    )
    crossers, below, lacking = _crossers(plan, stand, used)
    return PendantUse(
        stand=stand,
        bearers=tuple(bearers),
        chains=used,
        crossers=crossers,
        loads=below,
        missing=(*missing, *lacking),
    )


def _nothing(stand: Stand, why: str) -> PendantUse:
    return PendantUse(stand=stand, bearers=(), chains=(), crossers=(), loads=(), missing=(why,))


def _unique(seats: tuple[Seat, ...]) -> tuple[Piece, ...]:
    return tuple({seat.lower.mark: seat.lower for seat in seats}.values())


def _slung(beam: Piece, chain: Piece) -> bool:
    along = beam.along(chain.start)
    beside = beam.aside(chain.start) <= beam.width / 2 + BESIDE
    return bool(beside and -BESIDE <= along <= beam.length + BESIDE)


def _ends(bearer: Piece, hung: list[Piece]) -> tuple[Piece, Piece]:
    order = sorted(hung, key=lambda each: bearer.along(each.start))
    return order[0], order[-1]


def _bearer(
    plan: Plan,
    stand: Stand,
    bearer: Piece,
    on: tuple[tuple[Seat, ...], Floats, list[Piece]],
) -> BeamUse:
    seats, patterns, hung = on
    supports = [
        Support(along=bearer.along(each.start), what=f"{each.body}: {each.mark}")
        for each in _ends(bearer, hung)
    ]
    loads = [
        [
            BeamLoad(along=bearer.along(seat.middle), load=float(load))
            for seat, load in zip(seats, pattern, strict=True)
            if seat.lower.mark == bearer.mark
        ]
        for pattern in patterns
    ]
    lasts = (stand.duration, limit_in_plan(plan, FACTOR).value)
    return use_beam(plan, bearer, supports, loads, lasts=lasts)


def _crossers(
    plan: Plan, stand: Stand, chains: tuple[ChainUse, ...]
) -> tuple[tuple[BeamUse, ...], tuple[tuple[str, str, float, Floats], ...], list[str]]:
    kinds = {each.name: each.kind for each in plan.fixtures}
    level = [
        piece
        for name in sorted(stand.fixtures)
        if kinds[name] in ("cross-bearer", "gantry")
        for piece in pieces_of(plan, name, None)
        if piece.level
    ]
    held: dict[tuple[str, str], list[ChainUse]] = {}
    missing = []
    for chain in chains:
        over = next((each for each in level if _hangs_from(each, chain.piece)), None)
        if over is None:
            missing.append(
                f"nothing is drawn that {stand.carrier}: {chain.piece.mark} hangs from"
            )
            continue
        held.setdefault((over.body, over.mark), []).append(chain)
    uses, below = [], []
    for piece in level:
        hung = held.get((piece.body, piece.mark))
        if hung is None:
            continue
        supports = supports_of(plan, stand, piece)
        if len(supports) < 2:
            missing.append(f"the plan does not say what {piece.body}: {piece.mark} lies on")
            continue
        use = _crosser(plan, stand, piece, (hung, supports))
        uses.append(use)
        for support, column in zip(use.supports, use.by_pattern.T, strict=True):
            body, _, mark = support.what.partition(": ")
            under = next((e for e in level if e.body == body and e.mark == mark), None)
            if under is not None:
                at = piece.start + piece.axes[2] * support.along
                below.append((body, mark, under.along(at), column))
    return tuple(uses), tuple(below), missing


def _hangs_from(piece: Piece, chain: Piece) -> bool:
    along = piece.along(chain.start)
    near = piece.aside(chain.start) <= piece.width / 2 + RESTS and 0 <= along <= piece.length
    return bool(near and piece.bottom - RESTS <= chain.top <= piece.top + RESTS)


def _crosser(
    plan: Plan, stand: Stand, piece: Piece, on: tuple[list[ChainUse], list[Support]]
) -> BeamUse:
    hung, supports = on
    count = len(hung[0].loads)
    patterns = [
        [
            BeamLoad(along=piece.along(chain.piece.start), load=float(chain.loads[n]))
            for chain in hung
        ]
        for n in range(count)
    ]
    lasts = (stand.duration, limit_in_plan(plan, FACTOR).value)
    return use_beam(plan, piece, supports, patterns, lasts=lasts)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainGap:
    """The nearest that anything passes a pendant.

    Attributes
    ----------
    fixture, mark : str
        Pendant.
    section, stage : str
        What passes it, and when.
    heel : float
        Where it is then. [m]
    gap : float
        From the surface of the chain; below nothing they meet. [m]
    certified : bool
        Whether the gap is certified.
    member : str
        Piece that is nearest.
    where : tuple of float
        On the chain, shaft frame. [m]
    """

    fixture: str
    mark: str
    section: str
    stage: str
    heel: float
    gap: float
    certified: bool
    member: str
    where: tuple[float, float, float]


def chain_gaps(shop: Workshop, stand: Stand) -> tuple[ChainGap, ...]:
    """Every section that moves past the pendants of a stand, at its nearest.

    Parameters
    ----------
    shop : Workshop
        Bodies of the plan.
    stand : Stand
        By pendants.

    Returns
    -------
    gaps : tuple of ChainGap
        Each chain as a round line as thick as it is drawn, hanging true, swept by the
        whole travel of every section but the one that hangs in it.
    """
    chains = [each for each in pieces_of(shop.plan, stand.carrier, None) if each.upright]
    found: dict[tuple[str, str, str], ChainGap] = {}
    for passage in shop.raise_.moving_passages:
        if stand.carrier not in passage.fixtures:
            continue
        for section in passage.moving:
            if section in (stand.section, *stand.carries):
                continue
            for chain in chains:
                gap = _chain_gap(shop, passage, section, chain)
                key = (chain.mark, section, passage.stage)
                if key not in found or gap.gap < found[key].gap:
                    found[key] = gap
    return tuple(found.values())


def _chain_gap(shop: Workshop, passage: Passage, section: str, chain: Piece) -> ChainGap:
    assembly = shop.assembly(section, passage.fitted)
    body = shop.body(section, passage.fitted, assembly)
    place = passage.standing[section]
    line = shop.plan.plumb_line
    c, s = np.cos(line.turn), np.sin(line.turn)
    turn = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    ends = []
    for heel in (place.heel_from, place.heel_to):
        origin = np.array([line.x, line.y, heel])
        ends.append([turn @ (chain.start - origin), turn @ (chain.end - origin)])
    radius = max(chain.member.breadth, chain.member.depth) / 2
    swept = Line(stations=np.array([0.0, 1.0]), ends=np.array(ends), radius=radius)
    gap = line_gap(swept, body)
    heel = passage.heel(section, gap.at)
    at = turn.T @ np.array(gap.line_point) + np.array([line.x, line.y, heel])
    return ChainGap(
        fixture=chain.body,
        mark=chain.mark,
        section=section,
        stage=passage.stage,
        heel=heel,
        gap=gap.upper,
        certified=gap.certified or gap.struck,
        member=assembly.labels[gap.fixed_member].within(section),
        where=(float(at[0]), float(at[1]), float(at[2])),
    )
