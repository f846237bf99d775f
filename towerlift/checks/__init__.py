"""Each quantity against its limit: one module a check, all with the same signature."""

from towerlift.checks import clearance, stage_order
from towerlift.checks.case import Case, Check
from towerlift.plan.limits import UsualLimit

ALL_CHECKS: tuple[Check, ...] = (
    clearance.check_clearance,
    stage_order.check_stage_order,
)

ALL_LIMITS: tuple[UsualLimit, ...] = clearance.LIMITS

__all__ = ["ALL_CHECKS", "ALL_LIMITS", "Case", "Check", "UsualLimit"]
