"""The corrected Tidewatch plan with the ropes of the hand arithmetic.

The loads worked out by hand before this package was written take 32 mm ropes on a
300 mm barrel. The corrected plan reeves 40 mm ropes, so that losing a tackle needs no
overrule; the cross-checks put the old ones back.
"""

from towerlift.plan.model import Plan

DIAMETER, BREAKING, STIFFNESS = 0.032, 150e3, 690e3
BARREL, SHEAVE = 0.300, 0.260
HANDS, ANCHOR = 9, 25e3


def with_hand_ropes(plan: Plan) -> Plan:
    """The same plan with 32 mm ropes, and the gear and hands that go with them."""
    coils = [
        coil.model_copy(
            update={
                "diameter": DIAMETER,
                "breaking_force": BREAKING,
                "axial_stiffness": STIFFNESS,
            }
        )
        for coil in plan.coils
    ]
    gear = {"barrel_diameter": BARREL, "hands": HANDS, "anchor": ANCHOR}
    capstans = [capstan.model_copy(update=gear) for capstan in plan.capstans]
    tackles = [t.model_copy(update={"sheave": SHEAVE}) for t in plan.tackles]
    return plan.model_copy(
        update={"coils": tuple(coils), "capstans": tuple(capstans), "tackles": tuple(tackles)}
    )
