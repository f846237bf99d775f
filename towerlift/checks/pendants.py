"""Sections that hang in pendants: bearers, chains and cross-bearers, two of four carrying."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

from towerlift.checks.case import Case
from towerlift.checks.judged import Judged, judge, stress_limit
from towerlift.findings import Bound, Finding
from towerlift.plan.limits import UsualLimit, limit_in_plan
from towerlift.rig.beams import BeamUse
from towerlift.rig.locks import FACTOR
from towerlift.rig.pendants import ChainGap, PendantUse, chain_gaps, pendant_use
from towerlift.rig.stands import stands
from towerlift.units import Dimension

CHECK = "pendants"

BENDING = stress_limit("bearer in bending")
SHEAR = stress_limit("bearer in shear")
CROSS_BENDING = stress_limit("cross-bearer in bending")
CROSS_SHEAR = stress_limit("cross-bearer in shear")
RATING = UsualLimit(
    name="rating of pendants",
    value=1.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="statics: rated load of chain and shackles over the load of one pendant, two of "
    "four carrying all, as naval rigging manuals ask of rigid loads",
)
PAST = UsualLimit(
    name="pendant past what moves",
    value=20.0,
    unit="mm",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="common practice, no published source: the running gap, with all hanging true; the "
    "check of clearance adds lean and sway",
)
LIMITS = (BENDING, SHEAR, CROSS_BENDING, CROSS_SHEAR, RATING, PAST)


def check_pendants(case: Case) -> Iterable[Finding]:
    """Everything that hangs in pendants.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        Bearers and cross-bearers in bending and shear, and the rating of the pendants.
    """
    for stand in stands(case.plan, case.shapes, case.raise_):
        if stand.how != "pendant":
            continue
        use = pendant_use(case.plan, stand)
        for why in dict.fromkeys(use.missing):
            said = Judged(
                usual=CROSS_BENDING, subject="", stage="", value=None, why=why, by_strength=True
            )
            yield _said(case, use, said)
        yield from _beams(case, use)
        yield _rating(case, use)
        yield from _past(case, use)


def _past(case: Case, use: PendantUse) -> Iterator[Finding]:
    nearest: dict[tuple[str, str], ChainGap] = {}
    for gap in chain_gaps(case.workshop, use.stand):
        key = (gap.section, gap.stage)
        if key not in nearest or gap.gap < nearest[key].gap:
            nearest[key] = gap
    for gap in nearest.values():
        said = Judged(
            usual=PAST,
            subject=f"{gap.section} past {gap.fixture}",
            stage=gap.stage,
            heel=gap.heel,
            value=gap.gap * 1e3 if gap.certified else None,
            where=gap.where,
            why=f"{gap.member} and {gap.mark}, a round line of its thickness"
            if gap.certified
            else "the engine could not certify the gap",
            remedy=("set the pendants farther from what passes them",),
        )
        yield judge(case, CHECK, said)


def _said(case: Case, use: PendantUse, said: Judged) -> Finding:
    stand = use.stand
    return judge(
        case,
        CHECK,
        replace(said, subject=stand.subject, stage=stand.stages[0], heel=stand.heel),
    )


def _beams(case: Case, use: PendantUse) -> Iterator[Finding]:
    for beams, bending, shear in (
        (use.bearers, BENDING, SHEAR),
        (use.crossers, CROSS_BENDING, CROSS_SHEAR),
    ):
        if not beams:
            continue
        for usual, key in ((bending, "bending"), (shear, "shear")):
            beam = max(beams, key=lambda each: float(getattr(each, key)))
            yield _said(
                case,
                use,
                Judged(
                    usual=usual,
                    subject="",
                    stage="",
                    value=float(getattr(beam, key)) / 1e6,
                    strength=getattr(beam, f"{key}_strength"),
                    by_strength=True,
                    where=tuple(((beam.piece.start + beam.piece.end) / 2).tolist()),
                    why=beam.missing or _words(use, beam),
                    remedy=("a deeper piece", "an iron one", "pendants nearer to its ends"),
                ),
            )


def _words(use: PendantUse, beam: BeamUse) -> str:
    span = beam.supports[1].along - beam.supports[0].along
    return (
        f"{beam.piece.body}: {beam.piece.mark}, {beam.material}, "
        f"{beam.piece.width * 1e3:.0f} by {beam.piece.height * 1e3:.0f} mm, {span:.2f} m "
        f"between {beam.supports[0].what} and {beam.supports[1].what}, carries "
        f"{beam.load / 1e3:.1f} kN, two of four pendants carrying all; "
        f"{use.stand.duration} load; so in {', '.join(use.stand.stages)}"
    )


def _rating(case: Case, use: PendantUse) -> Finding:
    factor = limit_in_plan(case.plan, FACTOR).value
    loads = [float(chain.loads.max()) / factor for chain in use.chains]
    lock = use.stand.lock
    value, where = None, None
    why = f"no pendants are drawn for {use.stand.subject}"
    if loads:
        n = max(range(len(loads)), key=lambda k: loads[k])
        chain = use.chains[n]
        where = tuple(chain.piece.end.tolist())
        why = f"{chain.piece.mark} carries {loads[n] / 1e3:.1f} kN, two of four carrying all"
        if lock is None or lock.rated is None:
            why = f"the plan gives no rating of the pendants; {why}"
        else:
            value = lock.rated / loads[n]
            why = f"{why}, of {lock.rated / 1e3:.1f} kN rated ({lock.source})"
    return _said(
        case,
        use,
        Judged(
            usual=RATING,
            subject="",
            stage="",
            value=value,
            where=where,
            why=why,
            remedy=("pendants of a higher rating",),
        ),
    )
