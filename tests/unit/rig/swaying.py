"""A tower whose hauls sway and lean by given amounts at every height."""

import numpy as np

from towerlift.motion import follow_stages
from towerlift.nesting.budget import FreeHangCurve
from towerlift.nesting.needs import Allowed
from towerlift.nesting.pairs import Workshop
from towerlift.shapes import build_shapes


def swaying(folder, plan, *, sway, lean, clear=0.02):
    """The workshop of a plan, and what its hauls are allowed."""
    raise_ = follow_stages(plan)
    free = {
        passage.index: FreeHangCurve(
            heels=np.array([0.0, 30.0]),
            tilt=np.zeros(2),
            sway=np.full(2, sway),
            lean=np.full(2, lean),
            pivot=0.1,
        )
        for passage in raise_.moving_passages
    }
    shop = Workshop(plan=plan, shapes=build_shapes(plan, folder), raise_=raise_)
    return shop, Allowed(running=clear, free=free)
