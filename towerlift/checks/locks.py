"""Locks: what bars, legs and ledges bear under a load that stays, on both sides."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

from towerlift.checks.case import Case
from towerlift.checks.judged import Judged, judge, stress_limit
from towerlift.findings import Bound, Finding
from towerlift.plan.limits import UsualLimit
from towerlift.rig.locks import FACTOR, Bearing, LockCertificate, lock_certificates
from towerlift.units import Dimension

CHECK = "locks"


END_GRAIN = stress_limit("bearing on end grain")
ACROSS = stress_limit("bearing across the grain")
BAR_BENDING = stress_limit("locking bar in bending")
BAR_SHEAR = stress_limit("locking bar in shear")
PLATE = stress_limit("plate under a heel")
END_DISTANCE = UsualLimit(
    name="wood below a fid hole",
    value=7.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice, no published source: seven depths of the bar from the hole to "
    "the end of the leg, or a strap round it",
)
STRAPPED = replace(
    END_DISTANCE,
    name="wood below a strapped fid hole",
    value=0.0,
    source="common practice, no published source: a strap round the leg holds it from "
    "splitting, however little wood is left",
)
SHARE = UsualLimit(
    name="share of the legs",
    value=1.3,
    unit="1",
    bound=Bound.AT_MOST,
    dimension=None,
    source="common practice, no published source: the most loaded leg over the mean",
)
SETTLING = UsualLimit(
    name="settling on the lock",
    value=5.0,
    unit="mm",
    bound=Bound.AT_MOST,
    dimension=Dimension.LENGTH,
    source="common practice, no published source: wedges driven in pairs leave 2 to 3 mm of "
    "bedding; 5 mm between ledges leaves one leg idle",
)
LIMITS = (
    FACTOR,
    END_GRAIN,
    ACROSS,
    BAR_BENDING,
    BAR_SHEAR,
    PLATE,
    END_DISTANCE,
    STRAPPED,
    SHARE,
    SETTLING,
)
_BY_KIND = {
    "end grain": END_GRAIN,
    "across the grain": ACROSS,
    "bar bending": BAR_BENDING,
    "bar shear": BAR_SHEAR,
    "plate bending": PLATE,
}


def check_locks(case: Case) -> Iterable[Finding]:
    """Every section on every carrier: stresses on both sides, contact and settling.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        For each lock the hardest used of each kind of piece on each side; what has no
        row in the plan, or no strength with a source, is not evaluated.
    """
    for certificate in lock_certificates(case.plan, case.shapes, case.raise_):
        for bearing in _hardest(certificate):
            yield _finding(case, certificate, bearing)
        if certificate.stand.how == "fid" and certificate.stand.lock is not None:
            yield _end_distance(case, certificate)
        if certificate.packing is not None:
            yield _share(case, certificate)
        yield _settling(case, certificate)


def _hardest(certificate: LockCertificate) -> Iterator[Bearing]:
    told: set[tuple[str, str]] = set()
    for bearing in certificate.bearings:  # hardest first
        key = (bearing.kind, _side(certificate, bearing))
        if key not in told:
            told.add(key)
            yield bearing


def _side(certificate: LockCertificate, bearing: Bearing) -> str:
    if certificate.stand.how == "fid":
        return bearing.what
    own = bearing.what.startswith(f"{certificate.stand.section}: ")
    return "upper" if own else "lower"


def _finding(case: Case, certificate: LockCertificate, bearing: Bearing) -> Finding:
    stand, stress = certificate.stand, bearing.stress
    told = [] if stress is None else [_why(certificate, bearing)]
    return _judged(
        case,
        certificate,
        Judged(
            usual=_BY_KIND[bearing.kind],
            subject=f"{stand.subject}: {bearing.what.removeprefix(stand.section + ': ')}",
            stage=stand.stages[0],
            value=None if stress is None else stress / 1e6,
            strength=bearing.strength,
            by_strength=True,
            where=bearing.where,
            why="; ".join([*told, *([bearing.missing] if bearing.missing else [])]),
            remedy=() if stress is None else _remedies(certificate, bearing),
        ),
    )


def _judged(case: Case, certificate: LockCertificate, said: Judged) -> Finding:
    return judge(case, CHECK, replace(said, heel=certificate.stand.heel))


def _why(certificate: LockCertificate, bearing: Bearing) -> str:
    stand = certificate.stand
    area = "" if bearing.area is None else f" on {bearing.area * 1e6:.0f} mm2"
    return (
        f"{bearing.kind}: {bearing.what} with {bearing.on}, {bearing.material}, "
        f"{stand.duration} load of {bearing.load / 1e3:.1f} kN{area}: "
        f"{certificate.factor:g} times {stand.weight / 1e3:.1f} kN, "
        f"{certificate.contact}; so in {', '.join(stand.stages)}"
    )


def _remedies(certificate: LockCertificate, bearing: Bearing) -> tuple[str, ...]:
    use = bearing.use or 1.0
    remedies = []
    if certificate.packing is None:
        remedies.append(
            "measure the height of every ledge and pack until all four share, and give the "
            "heights: the load of a leg may then be half"
        )
    if bearing.kind == "across the grain":
        remedies.insert(0, "let it lie on the end grain of an upright rail or post of oak")
        remedies.append(f"an iron plate that spreads it over {use:.1f} times the area")
    elif bearing.kind == "end grain":
        remedies.append(f"a harder class of wood, or {use:.2f} times the area")
    else:
        remedies.append("a deeper bar, or one of stronger metal")
    return tuple(remedies)


def _end_distance(case: Case, certificate: LockCertificate) -> Finding:
    stand, lock = certificate.stand, certificate.stand.lock
    section = next(each for each in case.plan.sections if each.name == stand.section)
    usual, value, why = (
        END_DISTANCE,
        None,
        "the plan gives no depth of the bar, or marks no fids",
    )
    if lock is not None and lock.depth is not None and section.fids:
        left = min(fid.at[2] for fid in section.fids) - lock.depth / 2
        value = left / lock.depth
        why = (
            f"{left * 1e3:.0f} mm of wood below the hole of a bar {lock.depth * 1e3:.0f} mm "
            f"deep, {value:.1f} of its depth"
        )
        if lock.strapped and value > 0:
            usual = STRAPPED
            why += "; the leg is strapped against splitting"
    return _judged(
        case,
        certificate,
        Judged(
            usual=usual,
            subject=stand.subject,
            stage=stand.stages[0],
            value=value,
            why=why,
            remedy=("strap the leg below the hole", "bore the hole higher"),
        ),
    )


def _share(case: Case, certificate: LockCertificate) -> Finding:
    stand, packing = certificate.stand, certificate.packing
    assert packing is not None
    packs = ", ".join(f"{each * 1e3:.0f}" for each in packing.packs)
    loads = ", ".join(f"{each / 1e3:.1f}" for each in packing.before)
    return _judged(
        case,
        certificate,
        Judged(
            usual=SHARE,
            subject=stand.subject,
            stage=stand.stages[0],
            value=packing.ratio_before,
            why=f"by the measured heights the legs carry {loads} kN",
            remedy=(
                f"pack the ledges by {packs} mm: the ratio is then {packing.ratio_after:.2f}",
            ),
        ),
    )


def _settling(case: Case, certificate: LockCertificate) -> Finding:
    stand = certificate.stand
    release = None if stand.lock is None else stand.lock.release
    missing = f"the plan has no lock of {stand.section} on {stand.carrier} by {stand.how}"
    if stand.lock is not None:
        missing = "the plan does not say how far it comes down when the tackles are slacked"
    return _judged(
        case,
        certificate,
        Judged(
            usual=SETTLING,
            subject=stand.subject,
            stage=stand.stages[0],
            value=None if release is None else release * 1e3,
            why=missing
            if release is None
            else f"gap at the ledges and bedding; {_packed(certificate)}",
            remedy=("drive the wedges in pairs before the tackles are slacked",),
        ),
    )


def _packed(certificate: LockCertificate) -> str:
    named = certificate.signed_by or "nobody is named to sign it"
    return f"{certificate.ledges} ledges seen, struck and measured before; signs: {named}"
