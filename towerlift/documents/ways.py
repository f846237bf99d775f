"""How each member comes into the shaft, as papers list it."""

from collections.abc import Iterator

from towerlift.checks.ways_in import CHECK, Entry, entries
from towerlift.documents.blocks import Block, Column, Grid, Weight, Words
from towerlift.documents.edition import Edition
from towerlift.documents.say import NOTHING, Kind, verdict_word
from towerlift.plan.bodies import FitOut, Section

NO_WAY = "NOT EVALUATED: the plan gives no way in for members"


def ways_blocks(edition: Edition) -> Iterator[Block]:
    """Ways in, and what comes by which.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Yields
    ------
    block : Block
        Loudly not evaluated where the plan gives no way.
    """
    plan = edition.plan
    if not plan.ways_in:
        yield Words(words=NO_WAY, weight=Weight.LOUD)
        return
    yield Grid(
        name="Ways in for members",
        columns=(Column(head="way", width=1), Column(head="kind", width=1),
                 Column(head="wide", kind=Kind.HEIGHT), Column(head="high", kind=Kind.HEIGHT),
                 Column(head="clear inside", kind=Kind.HEIGHT),
                 Column(head="hook at", kind=Kind.HEIGHT), Column(head="source", width=1.6)),
        rows=tuple(
            (w.name, w.kind, w.width, w.height, w.across, w.hook, w.source)
            for w in plan.ways_in
        ),
    )  # fmt: skip
    rows = []
    for finding in edition.findings(check=CHECK):
        verdict = verdict_word(finding.verdict)
        rows.append((finding.subject, verdict, edition.say.spare(finding), finding.why))
    yield Grid(
        name="The member of each that comes in with least to spare",
        columns=(Column(head="of", width=0.8), Column(head="verdict"),
                 Column(head="to spare", width=1), Column(head="why", width=3)),
        rows=tuple(rows) or ((NO_WAY, NOTHING, NOTHING, NOTHING),),
    )  # fmt: skip


def way_of(edition: Edition, owner: str, mark: str) -> str:
    """The way by which a member comes in.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    owner, mark : str
        Section or fit-out item, and member.

    Returns
    -------
    words : str
        Loudly not evaluated where the plan gives no way, and loud where none is long
        enough.
    """
    found = edition.once(f"ways {owner}", lambda: _by_mark(edition, owner))
    entry = found.get(mark)
    if entry is None:
        return "NOT EVALUATED"
    limit = next(
        (f.limit_in_force.value for f in edition.findings(check=CHECK) if f.subject == owner),
        0.0,
    )
    return entry.way.name if entry.spare >= limit else f"DOES NOT FIT by {entry.way.name}"


def _by_mark(edition: Edition, owner: str) -> dict[str, Entry]:
    plan = edition.plan
    bodies: tuple[Section | FitOut, ...] = (*plan.sections, *plan.fit_out)
    body = next(each for each in bodies if each.name == owner)
    return {entry.member.mark: entry for entry in entries(plan, body)}
