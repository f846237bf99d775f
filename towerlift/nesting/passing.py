"""What each moving body leaves to what it passes, at every height, against its budget.

Every height of the section is held against its own budget: the section is cut
into slabs, the engine gives the certified least gap of each slab over the
travel, and a slab that does not clear its worst budget is looked at again bit by
bit, member by member.
"""

from dataclasses import dataclass, replace
from itertools import pairwise, product

import numpy as np

from towerlift.gaps import PathGap, build_body, gap_series, member_gaps
from towerlift.nesting.bodies import Label
from towerlift.nesting.budget import GapBudget
from towerlift.nesting.cures import find_cure
from towerlift.nesting.curves import Floats, GapCurve
from towerlift.nesting.guides import Play
from towerlift.nesting.margins import Margin, Place
from towerlift.nesting.masonry import Astray, astray, behind_the_wall, unsurveyed
from towerlift.nesting.needs import Allowed, budget_at, play_between
from towerlift.nesting.pairs import SHAFT, TOUCH, Pair, only, proven
from towerlift.nesting.parts import lots_of, series_of, standing_part
from towerlift.nesting.slabs import Slabs
from towerlift.nesting.unseen import hidden_margin

EPS = 1e-4
CHUNK = 0.5
STEP = 0.25
FINE_STEP = 0.01
DEPTH_STEP = 0.05
LOOKS_OUT = (
    "it is behind the face of the scan: if there is no wall, the faces of the scan look out of "
    "the room and are to be turned round in the file"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chunk:
    """A bit of travel, with the play of what is hauled in it and the budget of each slab.

    Attributes
    ----------
    low, high : float
        Heel heights. [m]
    play : Play
        Shift of what is hauled.
    needs : tuple of GapBudget
        One for each slab.
    """

    low: float
    high: float
    play: Play
    needs: tuple[GapBudget, ...]


def chunks_of(pair: Pair, allowed: Allowed, edges: Floats) -> tuple[Chunk, ...]:
    """The travel of a pair in bits, with the budget of every slab in each.

    Parameters
    ----------
    pair : Pair
        What moves past what.
    allowed : Allowed
        What budgets start from.
    edges : (k + 1,) float
        Heights of the slabs. [m]

    Returns
    -------
    chunks : tuple of Chunk
        Lowest first.
    """
    low, high = pair.travel
    bounds = np.linspace(low, high, max(1, int(np.ceil((high - low) / CHUNK - 1e-9))) + 1)
    chunks = []
    for start, end in pairwise(bounds.tolist()):
        play = play_between(pair, allowed, start, end)
        needs = tuple(budget_at(pair, allowed, play, ends) for ends in pairwise(edges.tolist()))
        chunks.append(Chunk(low=start, high=end, play=play, needs=needs))
    return tuple(chunks)


def passing_margins(pair: Pair, curve: GapCurve, allowed: Allowed) -> tuple[Margin, ...]:
    """Where a pair leaves least to spare, and every member that falls short.

    Parameters
    ----------
    pair : Pair
        What moves past what.
    curve : GapCurve
        Its least gap in every step.
    allowed : Allowed
        What budgets start from.

    Returns
    -------
    margins : tuple of Margin
        The worst, which names every other member that falls short; after it what could
        not be found.
    """
    slabs = pair.slabs
    chunks = chunks_of(pair, allowed, slabs.edges)
    nearest = _from_curve(pair, curve, chunks, slabs.edges)
    if pair.against != SHAFT or pair.released:
        return _room_to_spare(pair, curve, (chunks, slabs, nearest))
    outside = astray(pair, slabs)
    if outside:
        found = tuple(_astray_margin(pair, chunks, slabs.edges, each) for each in outside)
    else:
        found = _room_to_spare(pair, curve, (chunks, slabs, nearest))
    low, high = pair.travel
    unknown = unsurveyed(
        pair.shop,
        low + float(slabs.vertices[:, 2].min()),
        high + float(slabs.vertices[:, 2].max()),
    )
    found = hidden_margin(pair, found, max(b.total for c in chunks for b in c.needs))
    if unknown:
        found = (*found, replace(nearest, gap=None, why=unknown))
    return found


def _room_to_spare(
    pair: Pair, curve: GapCurve, known: tuple[tuple[Chunk, ...], Slabs, Margin]
) -> tuple[Margin, ...]:
    chunks, slabs, nearest = known
    tight = tuple(chunk for chunk in chunks if not _clears(curve, chunk))
    if not tight or nearest.why:
        return (nearest,)
    close = _member_margins(pair, slabs, _tight_slabs(pair, slabs, tight), tight)
    failing = [margin for margin in close if margin.spare is None or margin.spare < 0]
    if failing:
        return (_worst_with_others(pair, failing),)
    return (min([nearest, *close], key=_key),)


def _astray_margin(
    pair: Pair, chunks: tuple[Chunk, ...], edges: Floats, found: Astray
) -> Margin:
    """A member on the wrong side of the masonry: it would have to go through it."""
    chunk = next(c for c in chunks if found.heel <= c.high or c is chunks[-1])
    height = float(found.where[2]) - found.heel
    slab = int(np.clip(np.searchsorted(edges, height, side="right") - 1, 0, len(edges) - 2))
    return Margin(
        stage=pair.passage.stage,
        passage=pair.passage.index,
        moving=pair.moving,
        against=SHAFT,
        label=pair.moving_assembly.labels[found.member],
        opposite=Label(body=SHAFT, mark="the face of the masonry", part="wall"),
        gap=-found.beyond,
        budget=chunk.needs[slab],
        heel=found.heel,
        heels=(found.heel, found.heel),
        where=_place(found.where),
        across=_place(found.where + found.outward),
        note="" if pair.shop.plan.shaft.survey else LOOKS_OUT,
    )


def _clears(curve: GapCurve, chunk: Chunk) -> bool:
    """Whether every step in a bit of travel is proven to clear the budget of every height."""
    steps = (curve.heels[1:] > chunk.low) & (curve.heels[:-1] < chunk.high)
    need = max(budget.total for budget in chunk.needs)
    return bool(np.all(curve.proven[steps] >= need) and not chunk.play.unknown)


def _from_curve(
    pair: Pair, curve: GapCurve, chunks: tuple[Chunk, ...], edges: Floats
) -> Margin:
    """The step of the curve that leaves least to the budget of the height it is at."""
    lows = np.array([chunk.low for chunk in chunks])
    of_chunk = np.clip(np.searchsorted(lows, curve.at, side="right") - 1, 0, len(chunks) - 1)
    heights = curve.where[:, 2] - curve.at
    of_slab = np.clip(np.searchsorted(edges, heights, side="right") - 1, 0, len(edges) - 2)
    needs = [chunks[c].needs[s] for c, s in zip(of_chunk, of_slab, strict=True)]
    worst = int(np.argmin(curve.proven - np.array([need.total for need in needs])))
    why = next((chunk.play.unknown for chunk in chunks if chunk.play.unknown), "")
    gap = float(curve.proven[worst])
    if not np.isfinite(gap) and curve.least[worst] < needs[worst].total:
        gap = float(curve.least[worst])
    known = bool(np.isfinite(gap))
    if not known and not why:
        why = "the engine could not certify the gap"
    heel = float(curve.at[worst])
    return Margin(
        stage=pair.passage.stage,
        passage=pair.passage.index,
        moving=pair.moving,
        against=pair.against,
        label=_label(pair.moving_assembly.labels, pair.moving, curve.marks[worst]),
        opposite=_label(pair.other_assembly.labels, pair.against, curve.opposite_marks[worst]),
        gap=gap if known else None,
        budget=None if why else needs[worst],
        heel=heel,
        heels=(heel, heel),
        where=_place(curve.where[worst]),
        across=_place(curve.opposite[worst]),
        why=why,
    )


def _label(labels: tuple[Label, ...], body: str, mark: str) -> Label:
    return next(label for label in labels if label.within(body) == mark)


def _place(row: Floats) -> Place:
    x, y, z = row.tolist()
    return x, y, z


def _tight_slabs(pair: Pair, slabs: Slabs, tight: tuple[Chunk, ...]) -> list[int]:
    """Slabs whose gap is not proven to clear their worst budget in the tight travel."""
    path = pair.path(tight[0].low, tight[-1].high, STEP)
    need = [max(chunk.needs[k].total for chunk in tight) for k in range(len(slabs.edges) - 1)]
    wanted = set()
    for lot in lots_of(pair):
        rows = np.isin(slabs.members, lot.moving)
        body = build_body(slabs.vertices, slabs.faces[rows], slabs.slabs[rows])
        gaps = member_gaps(body, standing_part(pair, lot), path, eps=EPS)
        for slab, gap in zip(gaps.members, gaps.gaps, strict=True):
            value = None if gap is None else proven(gap)
            if value is None or value < need[slab]:
                wanted.add(slab)
    return sorted(wanted)


def _key(margin: Margin) -> tuple[bool, float]:
    return margin.spare is not None, margin.spare if margin.spare is not None else 0.0


def _margin(
    pair: Pair, slabs: Slabs, gap: PathGap, budget: GapBudget | None, why: str
) -> Margin:
    label = pair.moving_assembly.labels[int(slabs.members[gap.moving_triangle])]
    value = proven(gap, TOUCH if budget is None else budget.total)
    if pair.against == SHAFT and behind_the_wall(pair, gap):
        value, why = -abs(gap.upper), ""
    if value is None and not why:
        why = "the engine could not certify the gap"
    return Margin(
        stage=pair.passage.stage,
        passage=pair.passage.index,
        moving=pair.moving,
        against=pair.against,
        label=label,
        opposite=pair.other_assembly.labels[gap.fixed_member],
        gap=value,
        budget=budget,
        heel=gap.at,
        heels=(gap.at, gap.at),
        where=pair.in_shaft(gap.moving_point),
        across=pair.in_shaft(gap.fixed_point),
        why=why,
    )


def _member_margins(
    pair: Pair, slabs: Slabs, wanted: list[int], chunks: tuple[Chunk, ...]
) -> list[Margin]:
    """Margin of each member of each wanted slab in each bit of travel."""
    margins = []
    for slab, lot in product(wanted, lots_of(pair)):
        rows = np.flatnonzero((slabs.slabs == slab) & np.isin(slabs.members, lot.moving))
        if not len(rows):
            continue
        piece = replace(
            slabs,
            faces=slabs.faces[rows],
            members=slabs.members[rows],
            slabs=slabs.slabs[rows],
        )
        body = build_body(piece.vertices, piece.faces, piece.members)
        for chunk in chunks:
            path = pair.path(chunk.low, chunk.high, STEP)
            gaps = member_gaps(body, standing_part(pair, lot), path, eps=EPS)
            margins += [
                _margin(pair, piece, gap, chunk.needs[slab], chunk.play.unknown)
                for gap in gaps.gaps
                if gap is not None
            ]
    return margins


def _worst_with_others(pair: Pair, failing: list[Margin]) -> Margin:
    """The worst margin, with its stretch of travel and its cure, and who else falls short."""
    by_label: dict[str, list[Margin]] = {}
    for margin in failing:
        by_label.setdefault(margin.label.within(pair.moving), []).append(margin)
    groups = sorted(by_label.values(), key=lambda group: min(map(_key, group)))
    worst = _with_stretch(pair, min(groups[0], key=_key), groups[0])
    others = tuple(
        (group[0].label.within(pair.moving), min(_spare(margin) for margin in group))
        for group in groups[1:]
    )
    return replace(worst, cure=find_cure(pair, worst), also=others)


def _spare(margin: Margin) -> float:
    return float("-inf") if margin.spare is None else margin.spare


def _with_stretch(pair: Pair, worst: Margin, group: list[Margin]) -> Margin:
    """The same margin, with the heel heights between which the member falls short."""
    assembly = pair.moving_assembly
    member = assembly.labels.index(worst.label)
    body = only(assembly, np.array([member]))
    low, high = pair.travel
    reach = [margin.heel for margin in group]
    start, end = max(low, min(reach) - CHUNK), min(high, max(reach) + CHUNK)
    if worst.budget is None or end <= start:
        return worst
    # Where they strike, the depth of every step is measured: no need to be fine.
    step = FINE_STEP if worst.gap is not None and worst.gap > 0 else DEPTH_STEP
    path = pair.path(start, end, step)
    against = next(lot for lot in lots_of(pair) if member in lot.moving)
    series = gap_series(body, standing_part(pair, against), path, eps=EPS)
    short = np.flatnonzero(series.upper < worst.budget.total)
    if not len(short):
        return worst
    heels = float(series.stations[short[0]]), float(series.stations[short[-1] + 1])
    every = max(1, len(short) // 8)
    samples = tuple(
        (float(series.stations[k]), float(series.upper[k])) for k in short[::every].tolist()
    )
    return replace(worst, heels=heels, samples=samples)


def gap_curve(pair: Pair) -> GapCurve:
    """Least gap of a pair in every step of its travel, meant contacts left out.

    Parameters
    ----------
    pair : Pair
        What moves past what.

    Returns
    -------
    curve : GapCurve
        Lowest heel first.
    """
    series = series_of(pair, pair.path(*pair.travel, STEP))
    moving, other = pair.moving_assembly, pair.other_assembly
    return GapCurve(
        stage=pair.passage.stage,
        passage=pair.passage.index,
        moving=pair.moving,
        against=pair.against,
        heels=series.stations,
        least=series.upper,
        proven=np.where(series.upper <= TOUCH, series.upper, series.lower),
        certified=series.certified,
        at=series.at,
        where=np.array([pair.in_shaft(point) for point in series.moving_points]),
        opposite=np.array([pair.in_shaft(point) for point in series.fixed_points]),
        marks=tuple(moving.labels[k].within(pair.moving) for k in series.moving_members),
        opposite_marks=tuple(
            other.labels[k].within(pair.against) for k in series.fixed_members
        ),
    )
