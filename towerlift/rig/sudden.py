"""What the tackles left take when some of a section that hangs free go all at once."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from towerlift.mechanics.hang import Hang, HungLoad, settle
from towerlift.mechanics.sudden import Swing, follow_loss, swing_after
from towerlift.mechanics.swinging import Motion
from towerlift.motion.masses import moving_mass
from towerlift.motion.passages import Passage
from towerlift.nesting.pairs import Workshop
from towerlift.rig.curves import Floats, HangCurve
from towerlift.rig.hanging import groupings
from towerlift.rig.recovery_ways import plan_lift

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

# A tackle that is loaded all at once swings as far again beyond its rest, by itself.
SUDDEN = 2.0
# Heights at which every loss is tried; a haul shorter than this is tried once. [m]
APART, SHORT = 2.0, 0.1


def sudden_loads(shop: Workshop, curve: HangCurve) -> Floats:
    """Greatest load on each tackle at the peak after any other goes all at once.

    Parameters
    ----------
    shop : Workshop
        Plan, shapes and raise.
    curve : HangCurve
        Loads along a passage.

    Returns
    -------
    loads : (k, n) float
        Never below twice the static change; infinite where it topples. [N]

    Notes
    -----
    Worked out every two metres by the modes of the swing and by the motion itself; in
    between, what that adds to twice the static change is taken from the height beside it
    where it adds more.
    """
    key = ("sudden", curve.passage)
    told, loads = shop.kept(key, lambda: (curve, _sudden_loads(shop, curve)))
    # What another curve of the same passage gave is not this one's.
    return loads if told is curve else _sudden_loads(shop, curve)


def _sudden_loads(shop: Workshop, curve: HangCurve) -> Floats:
    twice = curve.tensions + SUDDEN * (curve.lost_tensions - curve.tensions)
    rows = tried(curve)
    lost = np.eye(len(curve.lines), dtype=bool)
    # Where it finds no rest, before or after, the static loads say so already.
    peaks = np.fmax.reduce(_tried(shop, curve, rows, lost), axis=1)
    return with_more(twice, rows, peaks)


def with_more(twice: Floats, rows: Ints, peaks: Floats) -> Floats:
    """Loads along a curve, with what the motion adds to them where it was followed.

    Parameters
    ----------
    twice : (k, n) float
        By twice the static change. [N]
    rows : (r,) int
        Samples at which the motion was followed, rising.
    peaks : (r, n) float
        What it gave there; not a number where it is not known. [N]

    Returns
    -------
    loads : (k, n) float
        In between, the greater share of both sides is added. [N]
    """
    more = np.ones_like(peaks)
    stands = np.isfinite(twice[rows]) & ~np.isnan(peaks) & (twice[rows] > 0)
    np.divide(peaks, twice[rows], out=more, where=stands)
    more = np.maximum(more, 1.0)
    samples = np.arange(len(twice))
    place = np.searchsorted(rows, samples)
    above, below = np.minimum(place, len(rows) - 1), np.maximum(place - 1, 0)
    here = rows[above] == samples
    beside = np.where(here[:, None], more[above], np.maximum(more[above], more[below]))
    return np.asarray(twice * beside)


def tried(curve: HangCurve) -> Ints:
    """Samples of a curve no more than two metres apart, both ends among them. (r,)"""
    if np.ptp(curve.heels) <= SHORT:
        return np.zeros(1, dtype=np.int64)
    n = max(1, int(np.ceil(np.ptp(curve.heels) / APART - 1e-9)))
    return np.unique(np.linspace(0, len(curve.heels) - 1, n + 1).round().astype(np.int64))


def loads_after_loss(shop: Workshop, curve: HangCurve, rows: Ints, lost: Flags) -> Floats:
    """Peak on every tackle after each of some losses, all at once.

    Parameters
    ----------
    shop : Workshop
        Plan, shapes and raise.
    curve : HangCurve
        Loads along a passage.
    rows : (r,) int
        Samples.
    lost : (m, n) bool
        Tackles that go together, in each case.

    Returns
    -------
    loads : (r, m, n) float
        The greatest of twice the static change, the sum of the modes and the motion
        itself; 0 for what is lost, infinite where it topples. [N]
    """
    loads = _tried(shop, curve, rows, lost)
    return np.where(np.isnan(loads), np.inf, loads)


def _tried(shop: Workshop, curve: HangCurve, rows: Ints, lost: Flags) -> Floats:
    """The same, not a number where it finds no rest before or after the loss."""
    m, n = lost.shape
    loads = np.full((len(rows), m, n), np.nan)
    pulls = np.minimum(curve.tensions[rows], curve.stretch[rows]).min(axis=1)
    known = curve.rests[rows] & (pulls > 0)
    if not known.any():
        return loads
    passage = shop.raise_.passages[curve.passage]
    lift = plan_lift(shop.plan, curve.lift)
    every = [
        _peaks(shop, passage, _hung(shop, curve, rows[known], groups), lost)
        for groups in groupings(lift, curve.lower[0])
    ]
    loads[known] = np.maximum.reduce(every).reshape(-1, m, n)
    return loads


def _hung(shop: Workshop, curve: HangCurve, rows: Ints, groups: Ints) -> HungLoad:
    pose = shop.raise_.shaft_from_section(0.0)
    centre = curve.centre[rows] @ pose[:3, :3].T + pose[:3, 3]
    centre[:, 2] = curve.lower[rows, :, 2].mean(axis=1) + curve.height[rows]
    return HungLoad(
        upper=curve.upper[rows],
        lower=curve.lower[rows],
        stiffness=curve.tensions[rows] / curve.stretch[rows],
        weight=curve.weight[rows],
        centre=centre,
        groups=groups,
    )


def leans_after_loss(shop: Workshop, curve: HangCurve, rows: Ints) -> tuple[Floats, Floats]:
    """How far a section that hangs free leans once the worst of its lines is lost.

    Parameters
    ----------
    shop : Workshop
        Plan, shapes and raise.
    curve : HangCurve
        Loads along a passage; it must rest at the samples.
    rows : (m,) int
        Samples.

    Returns
    -------
    rests, peaks : (m,) float
        Angle from the true hang at rest after the loss, and the farthest on the way there
        if it is lost all at once: the greatest of twice the one at rest, the sum of the
        modes and the motion itself. Not a number where it finds no rest, infinite where it
        swings over. [rad]
    """
    lost = np.arange(len(curve.lines))[None] == curve.lost_line[rows][:, None]
    load = _hung(shop, curve, rows, np.arange(len(curve.lines)))
    let_go = _let_go(shop, shop.raise_.passages[curve.passage], load, lost)
    rests = np.hypot(let_go.after.turn[:, 0], let_go.after.turn[:, 1])
    peaks = np.where(let_go.stands, np.fmax(let_go.swing.lean, SUDDEN * rests), np.nan)
    on, motion = let_go.followed()
    peaks[on] = np.maximum(peaks[on], np.where(motion.toppled, np.inf, motion.lean))
    return rests, peaks


@dataclass(frozen=True, slots=True, kw_only=True)
class _LetGo:
    """Loads that lose lines all at once: at rest before and after, and in between."""

    load: HungLoad
    inertia: Floats
    before: Hang
    after: Hang
    swing: Swing
    lost: Flags

    @property
    def stands(self) -> Flags:
        return self.before.rests & self.after.rests

    def followed(self) -> tuple[Ints, Motion]:
        """The cases that stand, and their motion."""
        on = np.flatnonzero(self.stands)
        swing = Swing(**{name: getattr(self.swing, name)[on] for name in Swing.__slots__})
        motion = follow_loss(
            _some(self.load, on), self.inertia[on], _of(self.before, on), swing, self.lost[on]
        )
        return on, motion


def _let_go(shop: Workshop, passage: Passage, load: HungLoad, lost: Flags) -> _LetGo:
    turn = shop.raise_.shaft_from_section(0.0)[:3, :3]
    own = turn @ moving_mass(shop.shapes, passage).inertia @ turn.T
    inertia = np.repeat(own[None], len(lost), axis=0)
    before, after = settle(load), settle(load, lost=lost)
    return _LetGo(
        load=load,
        inertia=inertia,
        before=before,
        after=after,
        swing=swing_after(load, inertia, before, after, lost),
        lost=lost,
    )


def _peaks(shop: Workshop, passage: Passage, load: HungLoad, lost: Flags) -> Floats:
    """Peaks of every case, (r m, n); infinite where it goes over on the way."""
    r, m = len(load.weight), len(lost)
    gone = np.tile(lost, (r, 1))
    let_go = _let_go(shop, passage, _some(load, np.repeat(np.arange(r), m)), gone)
    before, after, stands = let_go.before, let_go.after, let_go.stands[:, None]
    twice = before.tensions + SUDDEN * (after.tensions - before.tensions)
    peaks = np.where(stands, np.fmax(let_go.swing.peaks, twice), np.nan)
    on, motion = let_go.followed()
    peaks[on] = np.maximum(peaks[on], motion.peaks)
    return np.where(gone & stands, 0.0, peaks)


def _of(hang: Hang, cases: Ints) -> Hang:
    return Hang(**{name: getattr(hang, name)[cases] for name in Hang.__slots__})


def _some(load: HungLoad, cases: Ints) -> HungLoad:
    return HungLoad(
        upper=load.upper[cases],
        lower=load.lower[cases],
        stiffness=load.stiffness[cases],
        weight=load.weight[cases],
        centre=load.centre[cases],
        groups=load.groups,
    )
