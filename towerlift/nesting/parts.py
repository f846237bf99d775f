"""Questions to the engine without pieces to leave out.

Shoes run 20 mm from their runners all the way, so a search that has to leave them
out finds nothing but them wherever it looks. Pieces are therefore sorted by what they
may touch, and each lot is asked only about what it may not touch.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps import Body, GapSeries, Path, PathGap, gap_series, least_gap
from towerlift.nesting.pairs import Pair, only
from towerlift.shapes.solids import Ints

EPS = 1e-4
T = TypeVar("T", np.float64, np.int64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """Moving pieces that may touch the same things, and all that they may not touch.

    Attributes
    ----------
    moving, others : (k,) int
        Members of the moving and of the standing side, as numbered in the pair.
    """

    moving: Ints
    others: Ints


def lots_of(pair: Pair) -> tuple[Lot, ...]:
    """The pieces of a pair, sorted by what they may touch.

    Parameters
    ----------
    pair : Pair
        What moves past what.

    Returns
    -------
    lots : tuple of Lot
        Every two pieces that are not meant to touch are in one lot, and only they. A
        piece that may touch everything is in none.
    """
    key = ("lots", pair.passage.index, pair.moving, pair.against, pair.released)
    return pair.shop.kept(key, lambda: tuple(_sorted_by_contact(pair)))


def _sorted_by_contact(pair: Pair) -> Iterator[Lot]:
    may: dict[int, set[int]] = {}
    for member, other in pair.meant.tolist():
        may.setdefault(member, set()).add(other)
    alike: dict[frozenset[int], list[int]] = {}
    for member in np.unique(pair.moving_assembly.members).tolist():
        alike.setdefault(frozenset(may.get(member, ())), []).append(member)
    everything = np.unique(pair.other_assembly.members)
    for touched, members in alike.items():
        others = np.setdiff1d(everything, np.array(sorted(touched), dtype=np.int64))
        if len(others):
            yield Lot(moving=np.array(members, dtype=np.int64), others=others)


def moving_part(pair: Pair, lot: Lot) -> Body:
    """Engine body of the moving pieces of a lot, members numbered as in the pair."""
    whole = pair.moving_assembly
    if len(lot.moving) == len(np.unique(whole.members)):
        return pair.moving_body
    key = ("lot", id(whole), lot.moving.tobytes())
    return pair.shop.kept(key, lambda: only(whole, lot.moving, closed=pair.moving_body.closed))


def standing_part(pair: Pair, lot: Lot) -> Body:
    """Engine body of the standing pieces of a lot, members numbered as in the pair."""
    whole = pair.other_assembly
    if len(lot.others) == len(np.unique(whole.members)):
        return pair.other_body
    key = ("lot", id(whole), lot.others.tobytes())
    return pair.shop.kept(key, lambda: only(whole, lot.others, closed=pair.other_body.closed))


def series_of(pair: Pair, path: Path) -> GapSeries:
    """Least gap in every step of a path, meant contacts left out.

    Parameters
    ----------
    pair : Pair
        What moves past what; something must be left to measure.
    path : Path
        Of the moving body, in the frame of the standing one.

    Returns
    -------
    series : GapSeries
        Members numbered as in the pair; triangles as in the lot that is nearest.
    """
    lots = lots_of(pair)
    found = [
        gap_series(moving_part(pair, lot), standing_part(pair, lot), path, eps=EPS)
        for lot in lots
    ]
    return found[0] if len(found) == 1 else nearest_of(found)


def nearest_of(found: list[GapSeries]) -> GapSeries:
    """Least of several series of one path, step by step.

    Parameters
    ----------
    found : list of GapSeries
        Of the same steps.

    Returns
    -------
    series : GapSeries
        Where each step is nearest; certified where all are, and no bound is above any
        of theirs.
    """
    nearest = np.argmin([each.upper for each in found], axis=0)
    steps = np.arange(len(nearest))

    def of(rows: list[NDArray[T]]) -> NDArray[T]:
        chosen: NDArray[T] = np.stack(rows)[nearest, steps]
        return chosen

    return replace(
        found[0],
        lower=np.min([each.lower for each in found], axis=0),
        certified=np.all([each.certified for each in found], axis=0),
        upper=of([each.upper for each in found]),
        at=of([each.at for each in found]),
        moving_points=of([each.moving_points for each in found]),
        fixed_points=of([each.fixed_points for each in found]),
        moving_triangles=of([each.moving_triangles for each in found]),
        fixed_triangles=of([each.fixed_triangles for each in found]),
        moving_members=of([each.moving_members for each in found]),
        fixed_members=of([each.fixed_members for each in found]),
    )


def least_of(pair: Pair, path: Path, *, without: int | None = None) -> PathGap | None:
    """Least gap over a path, meant contacts left out.

    Parameters
    ----------
    pair : Pair
        What moves past what.
    path : Path
        Of the moving body, in the frame of the standing one.
    without : int or None
        Moving piece to leave out.

    Returns
    -------
    gap : PathGap or None
        None where nothing is left to measure.
    """

    def ask(lot: Lot) -> PathGap:
        return least_gap(moving_part(pair, lot), standing_part(pair, lot), path, eps=EPS)

    lots: Iterable[Lot] = lots_of(pair)
    if without is not None:
        lots = [replace(lot, moving=np.setdiff1d(lot.moving, [without])) for lot in lots]
    return _nearest([lot for lot in lots if len(lot.moving)], ask)


def _nearest(lots: list[Lot], ask: Callable[[Lot], PathGap]) -> PathGap | None:
    gaps = [ask(lot) for lot in lots]
    if not gaps:
        return None
    nearest = min(gaps, key=lambda gap: gap.upper)
    return replace(
        nearest,
        lower=min(gap.lower for gap in gaps),
        certified=all(gap.certified for gap in gaps),
    )
