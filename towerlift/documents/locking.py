"""What has been reckoned of a lock, as its certificate prints it."""

from collections.abc import Iterator

from towerlift.checks.wind import Held, held_states
from towerlift.documents.blocks import Block, Column, Facts, Grid, Weight, Words
from towerlift.documents.edition import Edition
from towerlift.documents.say import NOTHING, Kind, plain_number
from towerlift.rig.locks import Bearing, LockCertificate, lock_certificates
from towerlift.rig.wind_gusts import LARGEST

MPA = 1e6


def certificate_of(
    edition: Edition, section: str, carrier: str, stage: str
) -> LockCertificate | None:
    """The certificate of one lock.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    section, carrier, stage : str
        What is locked, on what, and when.

    Returns
    -------
    certificate : LockCertificate or None
        None where it was not reckoned.
    """
    outcome = edition.outcome
    every = edition.once(
        "certificates",
        lambda: lock_certificates(edition.plan, outcome.shapes, outcome.raise_),
    )
    own = [c for c in every if (c.stand.section, c.stand.carrier) == (section, carrier)]
    in_stage = [c for c in own if stage in c.stand.stages]
    return next(iter(in_stage or own), None)


def wind_allowed(edition: Edition, section: str, carrier: str) -> tuple[tuple[str, str], ...]:
    """Greatest gust that a section stands on what it is locked on, wedged and not.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    section, carrier : str
        What is locked, and on what.

    Returns
    -------
    rows : tuple of (str, str)
        The least of every stage in which it stands there; loudly not evaluated where
        nothing has been reckoned.
    """
    locked = [
        each
        for each in held_states(edition.case)
        if (each.joint.section, each.joint.carrier) == (section, carrier)
        and not each.state.moves
    ]
    least: dict[str, Held] = {}
    for each in locked:
        kept = least.get(each.words)
        if kept is None or _gust(each) < _gust(kept):
            least[each.words] = each
    if not least:
        why = "NOT EVALUATED: no wind has been reckoned for this state"
        return (("gust it then stands", why),)
    return tuple((f"gust, {words}", _gust_words(edition, h)) for words, h in least.items())


def _gust(held: Held) -> float:
    return -1.0 if held.missing else held.gust


def _gust_words(edition: Edition, held: Held) -> str:
    if held.missing:
        return f"NOT EVALUATED: {'; '.join(held.missing)}"
    if held.gust >= LARGEST:
        return "more than any wind on a site"
    # Rounded down: a gust that it survives is never told too high.
    metric = int(held.gust)
    told = f"{metric} m/s"
    if not edition.say.metric:
        told = f"{int(held.gust / 0.44704)} mph ({metric} m/s)"
    return f"{told} at the wall head, then: {held.survived[0].limit}"


def lock_rows(edition: Edition, section: str, carrier: str, stage: str) -> Iterator[Block]:
    """Loads and bearing of a lock.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    section, carrier, stage : str
        What is locked, on what, and when.

    Yields
    ------
    block : Block
        Loudly not evaluated where nothing has been reckoned.
    """
    found = certificate_of(edition, section, carrier, stage)
    if found is None:
        words = "NOT EVALUATED: bearing and bending of this lock have not been reckoned"
        yield Words(words=words, weight=Weight.LOUD)
        return
    say, stand = edition.say, found.stand
    most = max((float(v) for v in found.leg_loads), default=0.0)
    yield Facts(
        columns=2,
        rows=(
            ("weight on it", say.force(stand.weight)),
            (
                "most on one leg",
                f"{say.force(most)}, with {plain_number(found.factor)} in it",
            ),
            ("carries too", ", ".join(stand.carries) or "nothing"),
            ("places to count", str(found.ledges)),
        ),
    )
    yield Words(words=found.contact or "NOT EVALUATED: contact of the legs")
    hardest = _hardest(found)
    yield Grid(
        name="Hardest used of each kind",
        columns=(Column(head="what", width=1.4), Column(head="on", width=1.4),
                 Column(head="kind", width=1), Column(head="load", kind=Kind.FORCE),
                 Column(head="stress", width=1), Column(head="strength", width=1)),
        rows=tuple(_bearing_row(edition, b) for b in hardest)
        or (("NOT EVALUATED", *[NOTHING] * 2, None, *[NOTHING] * 2),),
        notes=tuple(dict.fromkeys(_source(b) for b in hardest)),
    )  # fmt: skip


def _hardest(certificate: LockCertificate) -> list[Bearing]:
    told: dict[str, Bearing] = {}
    for bearing in certificate.bearings:
        told.setdefault(bearing.kind, bearing)
    return list(told.values())


def _source(bearing: Bearing) -> str:
    if bearing.use is None or bearing.strength is None:
        return (
            f"NOT EVALUATED: {bearing.what}: {bearing.missing or 'no strength with a source'}"
        )
    return f"{bearing.kind}, {bearing.material}: {bearing.strength.source}"


def _bearing_row(edition: Edition, bearing: Bearing) -> tuple[str | float | None, ...]:
    if bearing.use is None or bearing.stress is None or bearing.strength is None:
        return (bearing.what, bearing.on, bearing.kind, bearing.load, "NOT EVALUATED",
                NOTHING)  # fmt: skip
    stress = edition.say.limited(bearing.stress / MPA, "MPa")
    return (bearing.what, bearing.on, bearing.kind, bearing.load,
            stress if bearing.use <= 1 else f"FAIL {stress}",
            edition.say.limited(bearing.strength.value / MPA, "MPa"))  # fmt: skip
