"""Pieces of a section under its own weight: hung, with a line lost, and on its locks."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

from towerlift.checks.case import Case
from towerlift.checks.judged import Judged, judge, stress_limit
from towerlift.findings import Bound, Finding
from towerlift.plan.limits import UsualLimit
from towerlift.rig.grips import Grip, lift_grips
from towerlift.rig.members import Strain, member_strains

CHECK = "members"
# A frame that racks by less than one in this many is shown as this.
STRAIGHT = 99999.0

HUNG = UsualLimit(
    name="use of members, hung",
    value=1.0,
    unit="1",
    bound=Bound.AT_MOST,
    dimension=None,
    source="EN 1995-1-1, 6.2 and 6.3.2: axial stress, bending of both axes and buckling "
    "added up, over strengths of the class under a short load",
)
LOST = UsualLimit(
    name="use of members, one line lost",
    value=1.0,
    unit="1",
    bound=Bound.AT_MOST,
    dimension=None,
    source=HUNG.source,
)
STANDING = UsualLimit(
    name="use of members, on locks",
    value=1.0,
    unit="1",
    bound=Bound.AT_MOST,
    dimension=None,
    source="EN 1995-1-1, 6.2 and 6.3.2, strengths by the duration of the load; on either "
    "diagonal of its legs, or with each ledge as low as the plan lets it be packed",
)
RACKING = UsualLimit(
    name="height over racking",
    value=300.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice, no published source: the slope of a face of a frame",
)
GRIP = stress_limit("wood at a lift point")
BELOW = UsualLimit(
    name="wood below a lift pin",
    value=7.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice, no published source: seven diameters from the hole to the end, "
    "or a strap against splitting",
)
STRAPPED = replace(
    BELOW,
    name="wood below a strapped lift pin",
    value=0.0,
    source="common practice, no published source: a strap round the piece holds it from "
    "splitting, however little wood is left",
)
LIMITS = (HUNG, LOST, STANDING, RACKING, GRIP, BELOW, STRAPPED)


def check_members(case: Case) -> Iterable[Finding]:
    """Every section as a frame, in every way it is carried.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        The hardest used piece of each section hung, with a line lost and on each lock,
        its greatest racking, and the wood where its tackles take hold.
    """
    strains = member_strains(case.plan, case.shapes, case.raise_, case.hangs)
    for strain in strains:
        yield _use(case, strain)
    for section in case.plan.sections:
        mine = [each for each in strains if each.section == section.name]
        if mine:
            yield _racking(case, mine)
    for grip in lift_grips(case.plan, case.hangs):
        yield from _grip(case, grip)


def _use(case: Case, strain: Strain) -> Finding:
    usual = {"hung": HUNG, "hung, one line lost": LOST}.get(strain.how, STANDING)
    why, where = strain.missing, None
    if strain.piece is not None:
        why = (
            f"{strain.section} {strain.how}, {strain.load / 1e3:.1f} kN: "
            f"{strain.piece.mark}, {strain.material}, {abs(strain.axial) / 1e6:.2f} MPa "
            f"{'pull' if strain.axial >= 0 else 'thrust'}, {strain.bending / 1e6:.2f} MPa "
            f"bending, {strain.shear / 1e6:.2f} MPa shear with the load factor"
        )
    return judge(
        case,
        CHECK,
        Judged(
            usual=usual,
            subject=f"{strain.section} {strain.how}",
            stage=strain.stage,
            value=strain.use,
            why=why,
            where=where,
            remedy=(
                "measure and pack the ledges, and say how unequal they may be left",
                "stiffen the piece, or lead the load past it",
            ),
        ),
    )


def _racking(case: Case, strains: list[Strain]) -> Finding:
    known = [each for each in strains if each.use is not None]
    if len(known) < len(strains):
        missing = next(each.missing for each in strains if each.use is None)
        said = Judged(
            usual=RACKING, subject=strains[0].section, stage="", value=None, why=missing
        )
        return judge(case, CHECK, said)
    worst = max(known, key=lambda each: each.racking)
    return judge(
        case,
        CHECK,
        Judged(
            usual=RACKING,
            subject=worst.section,
            stage=worst.stage,
            value=min(STRAIGHT, 1 / max(worst.racking, 1e-9)),
            why=f"{worst.section} {worst.how}: a face leaves its right angles by "
            f"{worst.racking * 1e3:.2f} mrad",
            remedy=("braces in the face that racks", "level the feet"),
        ),
    )


def _grip(case: Case, grip: Grip) -> Iterator[Finding]:
    why = grip.missing
    if grip.piece is not None and not why:
        why = f"{grip.kind} of {grip.piece.mark} takes {grip.load / 1e3:.1f} kN of one corner"
    yield judge(
        case,
        CHECK,
        Judged(
            usual=GRIP,
            subject=f"{grip.section}, lift points",
            stage=grip.stage,
            value=None if grip.stress is None else grip.stress / 1e6,
            strength=grip.strength,
            by_strength=True,
            why=why,
            remedy=("a broader strop, or a plate under it",),
        ),
    )
    if grip.below is None:
        return
    section = next(each for each in case.plan.sections if each.name == grip.section)
    strapped = section.lift_strapped and grip.below > 0
    yield judge(
        case,
        CHECK,
        Judged(
            usual=STRAPPED if strapped else BELOW,
            subject=f"{grip.section}, lift points",
            stage=grip.stage,
            value=grip.below,
            why=f"{grip.below:.1f} diameters of wood below the pin"
            f"{', strapped' if strapped else ''}",
            remedy=("a strap below the pin", "a strop round the piece"),
        ),
    )
