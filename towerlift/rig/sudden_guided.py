"""What the tackles left take when one of a section that shoes hold goes all at once."""

import numpy as np
from numpy.typing import NDArray

from towerlift.mechanics.hang import HungLoad
from towerlift.mechanics.shoes import Guides
from towerlift.mechanics.sudden import follow_between_shoes
from towerlift.motion.masses import moving_mass
from towerlift.nesting.pairs import Workshop
from towerlift.rig.curves import Floats, HangCurve
from towerlift.rig.losses import Guiding, guided_losses
from towerlift.rig.sudden import SUDDEN, tried, with_more
from towerlift.rig.trial import LiftTrial, guided_trial

Ints = NDArray[np.int64]


def guided_sudden_loads(shop: Workshop, curve: HangCurve, guides: Guiding) -> Floats:
    """Greatest load on each tackle at the peak after any other goes all at once.

    Parameters
    ----------
    shop : Workshop
        Plan, shapes and raise.
    curve : HangCurve
        Loads along a passage.
    guides : Guiding
        Shoes that hold what is hauled all along it.

    Returns
    -------
    loads : (k, n) float
        Never below twice the static sinking with all the lean that the shoes allow. [N]

    Notes
    -----
    It sinks and leans at once, and the shoes throw it back: so the motion itself is followed,
    every two metres, with shoes that only push and no friction. In between, what that adds
    is taken from the height beside it where it adds more.
    """
    key = ("sudden between shoes", curve.passage)
    told, loads = shop.kept(key, lambda: (curve, _loads(shop, curve, guides)))
    # What another curve of the same passage gave is not this one's.
    return loads if told is curve else _loads(shop, curve, guides)


def _loads(shop: Workshop, curve: HangCurve, guides: Guiding) -> Floats:
    twice = guided_losses(curve, guides, swing=SUDDEN)
    rows = tried(curve)
    rows = rows[curve.rests[rows] & np.isfinite(twice[rows]).all(axis=1)]
    if not rows.size:
        return twice
    trial = guided_trial(shop, shop.raise_.passages[curve.passage])
    peaks = np.array([_peaks(shop, curve, trial, row) for row in rows.tolist()])
    return with_more(twice, rows, peaks)


def _peaks(shop: Workshop, curve: HangCurve, trial: LiftTrial, row: int) -> Floats:
    """Peak on each tackle, whichever other is lost, at one sample, (n,). [N]"""
    n = len(curve.lines)
    shoes, own = trial.shoes_at(row, 0.0), trial.load_at(row)
    scale = curve.weight[row] / own.weight[0]
    pose = shop.raise_.shaft_from_section(0.0)[:3, :3]
    passage = shop.raise_.passages[curve.passage]
    inertia = scale * pose @ moving_mass(shop.shapes, passage).inertia @ pose.T
    load = HungLoad(
        upper=np.repeat(own.upper, n, axis=0),
        lower=np.repeat(own.lower, n, axis=0),
        stiffness=np.tile(curve.tensions[row] / curve.stretch[row], (n, 1)),
        weight=np.full(n, curve.weight[row]),
        centre=np.repeat(own.centre, n, axis=0),
        groups=own.groups,
    )
    guides = Guides(
        at=np.repeat(shoes.at, n, axis=0),
        outward=np.repeat(shoes.outward, n, axis=0),
        # All the play there is: unswollen it leans farther.
        gap=np.repeat(shoes.gap, n, axis=0) + trial.swelling,
        friction=np.zeros(n),
        stiffness=shoes.stiffness,
    )
    lost = np.eye(n, dtype=bool)
    motion, rests = follow_between_shoes(
        load, np.repeat(inertia[None], n, axis=0), guides, lost
    )
    # Where it finds no rest before the loss, the static loads say so already.
    return np.asarray(np.where(rests[:, None], motion.peaks, 0.0).max(axis=0))
