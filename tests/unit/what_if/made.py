"""An outcome of the small plan with all that a what-if asks for, and nothing else."""

from functools import cache
from pathlib import Path

from tests.plans.factory import tiny_plan
from towerlift.motion import follow_stages
from towerlift.nesting import Nesting
from towerlift.nesting.pairs import Workshop
from towerlift.plan.model import Plan
from towerlift.rig import hang_curves
from towerlift.shapes import build_shapes
from towerlift.workflow import Outcome


def outcome_of(plan: Plan, folder) -> Outcome:
    """Shapes, raise and loads of a plan, unchecked."""
    shapes, raise_ = build_shapes(plan, folder), follow_stages(plan)
    shop = Workshop(plan=plan, shapes=shapes, raise_=raise_)
    return Outcome(
        plan=plan,
        shapes=shapes,
        raise_=raise_,
        nesting=Nesting(workshop=shop, curves=(), margins=(), rests=(), contacts=()),
        hangs=hang_curves(plan, shapes, raise_),
        findings=(),
        files=(),
    )


@cache
def tiny_outcome() -> Outcome:
    """Of the small plan, made once."""
    return outcome_of(tiny_plan(), Path())


def haul(outcome: Outcome, section: str, n: int = -1) -> int:
    """Index of a passage that hauls a section; the last unless told."""
    found = [each.index for each in outcome.raise_.moving_passages if each.moving[0] == section]
    assert found, section
    return found[n]
