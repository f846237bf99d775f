"""The plan as written: what it holds, how it is read and saved."""

from towerlift.plan.model import PLAN_VERSION, Plan
from towerlift.plan.reading import read_plan
from towerlift.plan.saving import save_plan
from towerlift.plan.schema import plan_schema
from towerlift.plan.starting import new_plan

__all__ = ["PLAN_VERSION", "Plan", "new_plan", "plan_schema", "read_plan", "save_plan"]
