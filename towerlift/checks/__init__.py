"""Each quantity against its limit: one module a check, all with the same signature."""

from towerlift.checks import (
    bury,
    capstan_ground,
    centre_of_gravity,
    clearance,
    coils,
    crew,
    guides,
    lowering,
    occupancy,
    overturning,
    recovery,
    rope_length,
    slings,
    stage_order,
    strength,
    swelling,
    two_blocking,
    uneven,
    ways_in,
    wind,
)
from towerlift.checks.case import Case, Check
from towerlift.plan.limits import UsualLimit

ALL_CHECKS: tuple[Check, ...] = (
    clearance.check_clearance,
    centre_of_gravity.check_centre_of_gravity,
    slings.check_slings,
    two_blocking.check_two_blocking,
    rope_length.check_rope_length,
    stage_order.check_stage_order,
    occupancy.check_occupancy,
    bury.check_bury,
    strength.check_strength,
    coils.check_coils,
    crew.check_crew,
    uneven.check_uneven,
    capstan_ground.check_capstan_ground,
    swelling.check_swelling,
    wind.check_wind,
    overturning.check_overturning,
    guides.check_guides,
    lowering.check_lowering,
    recovery.check_recovery,
    ways_in.check_ways_in,
)

ALL_LIMITS: tuple[UsualLimit, ...] = (
    *clearance.LIMITS,
    *centre_of_gravity.LIMITS,
    *slings.LIMITS,
    *two_blocking.LIMITS,
    *rope_length.LIMITS,
    *stage_order.LIMITS,
    *occupancy.LIMITS,
    *bury.LIMITS,
    *strength.LIMITS,
    *coils.LIMITS,
    *crew.LIMITS,
    *uneven.LIMITS,
    *capstan_ground.LIMITS,
    *swelling.LIMITS,
    *wind.LIMITS,
    *guides.LIMITS,
    *lowering.LIMITS,
    *recovery.LIMITS,
    *ways_in.LIMITS,
)

__all__ = ["ALL_CHECKS", "ALL_LIMITS", "Case", "Check", "UsualLimit"]
