"""Proof that nesting timber tower sections pass, hang and stand at every height."""

from towerlift.errors import PlanError, ShapeError, TowerliftError
from towerlift.findings import Finding, Verdict
from towerlift.plan import new_plan, read_plan, save_plan
from towerlift.workflow import Outcome, check_plan

__version__ = "0.1.0"

__all__ = [
    "Finding",
    "Outcome",
    "PlanError",
    "ShapeError",
    "TowerliftError",
    "Verdict",
    "check_plan",
    "new_plan",
    "read_plan",
    "save_plan",
]
