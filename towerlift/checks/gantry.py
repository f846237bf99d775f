"""What carries the top blocks, in every lift, with all else that hangs from it then."""

from collections.abc import Iterable, Iterator

from towerlift.checks.case import Case
from towerlift.checks.hauls import Haul, Unreckoned, hauls
from towerlift.checks.judged import Judged, judge, stress_limit
from towerlift.findings import Bound, Finding
from towerlift.plan.limits import UsualLimit
from towerlift.rig.beams import BeamUse
from towerlift.rig.gantry import GantryUse, Rigged, SeatUse, gantry_use, in_place
from towerlift.rig.pendants import PendantUse, pendant_use
from towerlift.rig.pieces import Piece
from towerlift.rig.stands import stands
from towerlift.rig.strengths import material_of
from towerlift.timber import Duration, Sourced

CHECK = "gantry"

BENDING = stress_limit("gantry beam in bending")
SHEAR = stress_limit("gantry beam in shear")
SEAT = stress_limit("gantry beam on its trestle")
WALL = stress_limit("trestle on the wall head")
SAG = UsualLimit(
    name="span over sag of a gantry beam",
    value=300.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice, no published source: so that blocks stay plumb",
)
LIMITS = (BENDING, SHEAR, SEAT, WALL, SAG)


def check_gantry(case: Case) -> Iterable[Finding]:
    """Beams, their seats and the wall head under them, for each haul.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        The worst of each lift in the stage where it is; a lift whose beams are not
        drawn, or whose supports the plan does not give, is not evaluated.
    """
    hung = [
        pendant_use(case.plan, stand)
        for stand in stands(case.plan, case.shapes, case.raise_)
        if stand.how == "pendant"
    ]
    worst: dict[str, tuple[float, GantryUse]] = {}
    for haul in hauls(case):
        if isinstance(haul, Unreckoned):
            yield _missing(case, haul.section, haul.stage, haul.why)
            continue
        use = gantry_use(case.plan, _rigged(case, haul, hung))
        hardest = max((_used(beam) for beam in use.beams), default=0.0)
        if use.missing or not use.beams:
            hardest = float("inf")
        known = worst.get(haul.lift.name)
        if known is None or hardest > known[0]:
            worst[haul.lift.name] = hardest, use
    for _, use in worst.values():
        yield from _use(case, use)


def _used(beam: BeamUse) -> float:
    if beam.bending_strength is None or beam.shear_strength is None:
        return float("inf")
    return max(
        beam.bending / beam.bending_strength.value, beam.shear / beam.shear_strength.value
    )


def _rigged(case: Case, haul: Haul, hung: list[PendantUse]) -> Rigged:
    passages = [case.raise_.passages[curve.passage] for curve in haul.curves]
    fixtures, heels = in_place(passages)
    return Rigged(
        lift=haul.lift,
        stage=haul.stage,
        curves=haul.curves,
        fixtures=fixtures,
        heels=tuple(heels.items()),
        pendants=tuple(
            use
            for use in hung
            if any(
                place.carrier == use.stand.carrier
                for passage in passages
                for place in passage.standing.values()
            )
        ),
    )


def _missing(case: Case, section: str, stage: str, why: str) -> Finding:
    said = Judged(
        usual=BENDING, subject=section, stage=stage, value=None, why=why, by_strength=True
    )
    return judge(case, CHECK, said)


def _use(case: Case, use: GantryUse) -> Iterator[Finding]:
    subject, stage = f"lift {use.rigged.lift.name}", use.rigged.stage
    lacking = use.missing or (() if use.beams else ("no beam carries a top block",))
    for why in lacking:
        yield _missing(case, subject, stage, why)
    if lacking:
        return
    hangs = ", ".join(each.stand.subject for each in use.rigged.pendants)
    more = f", and {hangs} hanging from it" if hangs else ""
    for usual, stress, strength in (
        (BENDING, [b.bending for b in use.beams], [b.bending_strength for b in use.beams]),
        (SHEAR, [b.shear for b in use.beams], [b.shear_strength for b in use.beams]),
    ):
        n = max(range(len(use.beams)), key=lambda k: _share(stress[k], strength[k]))
        beam = use.beams[n]
        yield judge(
            case,
            CHECK,
            Judged(
                usual=usual,
                subject=subject,
                stage=stage,
                value=stress[n] / 1e6,
                strength=strength[n],
                by_strength=True,
                where=_middle(beam),
                why=beam.missing or f"{_words(beam)}{more}; short load",
                remedy=("deeper beams", "a trestle under the blocks", "beams nearer the wall"),
            ),
        )
    yield _sag(case, use)
    if use.seats:
        yield _seat(case, use)
    if use.feet:
        yield _wall(case, use)


def _share(stress: float, strength: Sourced | None) -> float:
    return float("inf") if strength is None else stress / strength.value


def _middle(beam: BeamUse) -> tuple[float, float, float]:
    x, y, z = ((beam.piece.start + beam.piece.end) / 2).tolist()
    return x, y, z


def _words(beam: BeamUse) -> str:
    span = beam.supports[1].along - beam.supports[0].along
    return (
        f"{beam.piece.body}: {beam.piece.mark}, {beam.material}, "
        f"{beam.piece.width * 1e3:.0f} by {beam.piece.height * 1e3:.0f} mm, {span:.2f} m "
        f"between {beam.supports[0].what} and {beam.supports[1].what}, carries "
        f"{beam.load / 1e3:.1f} kN with worst corner, guide friction, falls and load factor"
    )


def _sag(case: Case, use: GantryUse) -> Finding:
    beam = max(use.beams, key=lambda each: each.sag)
    known = beam.sag == beam.sag and beam.sag > 0
    return judge(
        case,
        CHECK,
        Judged(
            usual=SAG,
            subject=f"lift {use.rigged.lift.name}",
            stage=use.rigged.stage,
            value=1 / beam.sag if known else None,
            where=_middle(beam),
            why=f"{beam.piece.body}: {beam.piece.mark}, loads without their factor, straight "
            "after loading"
            if known
            else beam.missing,
            remedy=("deeper beams",),
        ),
    )


def _seat(case: Case, use: GantryUse) -> Finding:
    found = []
    for seat in use.seats:
        for piece in (seat.seat.upper, seat.seat.lower):
            material = material_of(case.plan, piece.member.species, Duration.SHORT)
            strength = None if isinstance(material, str) else material.across
            stress = seat.load / seat.seat.area_of(piece)
            found.append((_share(stress, strength), stress, strength, seat, piece, material))
    _, stress, strength, seat, piece, material = max(found, key=lambda each: each[0])
    named = material if isinstance(material, str) else material.name
    return judge(
        case,
        CHECK,
        Judged(
            usual=SEAT,
            subject=f"lift {use.rigged.lift.name}",
            stage=use.rigged.stage,
            value=stress / 1e6,
            strength=strength,
            by_strength=True,
            where=_place(seat),
            why=f"across the grain of {piece.body}: {piece.mark}, {named}: "
            f"{seat.load / 1e3:.1f} kN where {seat.seat.upper.body}: {seat.seat.upper.mark} "
            f"rests on {seat.seat.lower.mark}",
            remedy=("an iron plate between them", "a broader trestle"),
        ),
    )


def _place(use: SeatUse) -> tuple[float, float, float]:
    x, y = use.seat.middle.tolist()
    return x, y, use.seat.lower.top


def _wall(case: Case, use: GantryUse) -> Finding:
    piece, load, length = max(use.feet, key=lambda each: each[1] / (each[2] * each[0].width))
    shaft = case.plan.shaft
    strength = None
    if shaft.bearing_strength is not None:
        strength = Sourced(value=shaft.bearing_strength, source=shaft.bearing_source)
    area = length * piece.width
    missing = "" if strength else "the plan does not say what the masonry bears; "
    return judge(
        case,
        CHECK,
        Judged(
            usual=WALL,
            subject=f"lift {use.rigged.lift.name}",
            stage=use.rigged.stage,
            value=load / area / 1e6,
            strength=strength,
            by_strength=True,
            where=_middle_of(piece),
            why=f"{missing}{load / 1e3:.1f} kN through {piece.body}: {piece.mark} over "
            f"{length:.2f} by {piece.width:.2f} m, spread at 45 degrees through its depth",
            remedy=("a wall plate under the trestle", "a broader trestle"),
        ),
    )


def _middle_of(piece: Piece) -> tuple[float, float, float]:
    x, y, z = ((piece.start + piece.end) / 2).tolist()
    return x, y, z
