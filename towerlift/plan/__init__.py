"""The plan as written: what it holds, how it is read and saved."""

from towerlift.plan.model import PLAN_VERSION, Plan
from towerlift.plan.reading import read_plan

__all__ = ["PLAN_VERSION", "Plan", "read_plan"]
