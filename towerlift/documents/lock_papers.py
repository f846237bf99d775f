"""Lock certificates: what was driven, packed and counted, and what wind it then stands."""

from collections.abc import Iterator
from dataclasses import dataclass

from towerlift.documents.blocks import (
    Block,
    Column,
    Facts,
    Grid,
    Leaf,
    Paper,
    Picture,
    Signature,
    Signing,
    Weight,
    Words,
)
from towerlift.documents.edition import Edition
from towerlift.documents.holds import HOLD_POINTS, NOT_RELEASED, held_back, signatures
from towerlift.documents.locking import lock_rows, wind_allowed
from towerlift.drawings.lock_plan import lock_plan
from towerlift.motion.passages import Passage
from towerlift.plan.work import Stage

# So low that a certificate is one sheet. [mm]
LOCK_PLAN = 38.0


def lock_certificates(edition: Edition) -> Paper:
    """A certificate for every lock and every hand-over to pendants.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    paper : Paper
        In the order of the raise, blank where it is measured on the day.
    """
    leaves = tuple(_leaf(edition, lock) for lock in locks(edition))
    if not leaves:
        words = Words(words="The plan locks nothing.", weight=Weight.LOUD)
        leaves = (Leaf(title="No lock", blocks=(words,)),)
    return Paper(
        name="lock-certificates", title="Lock certificates", leaves=leaves, letters=10.0
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Locking:
    """One lock of the raise.

    Attributes
    ----------
    stage : Stage
        In which it is made.
    passage : Passage
        The step.
    section, carrier : str
        What is locked, and on what.
    """

    stage: Stage
    passage: Passage
    section: str
    carrier: str


def locks(edition: Edition) -> Iterator[Locking]:
    """Every lock and hand-over of a raise.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Yields
    ------
    lock : Locking
        In order.
    """
    for stage in edition.plan.stages:
        steps = [s for s in stage.steps if s.do in ("lock", "secure")]
        passages = [p for p in edition.passages(stage.name) if p.step in ("lock", "secure")]
        for step, passage in zip(steps, passages, strict=False):
            carrier = str(getattr(step, "on", ""))
            yield Locking(
                stage=stage, passage=passage, section=passage.subject, carrier=carrier
            )


def _leaf(edition: Edition, lock: Locking) -> Leaf:
    because = held_back(edition, lock.stage, moves=True)
    verb = "locked on" if lock.passage.step == "lock" else "handed to"
    return Leaf(
        title=f"Stage {lock.stage.name}: {lock.section} {verb} {lock.carrier}",
        blocks=tuple(_blocks(edition, lock)),
        stamp=NOT_RELEASED if because else "",
        because=because,
    )


def _blocks(edition: Edition, lock: Locking) -> Iterator[Block]:
    say = edition.say
    heel = lock.passage.standing[lock.section].heel_to
    yield Facts(
        columns=2,
        rows=(("heel", say.height(heel)), ("planned", say.when(lock.passage.begins))),
    )
    yield Facts(
        rows=(
            ("in charge", edition.role(lock.stage.in_charge)),
            *wind_allowed(edition, lock.section, lock.carrier),
        )
    )
    marks = _places(edition, lock)
    yield Picture(
        svg=lock_plan(lock.section, marks),
        caption="Tick each when it is in, packed and hammered",
        share=0.5, most=LOCK_PLAN,
    )  # fmt: skip
    yield from lock_rows(edition, lock.section, lock.carrier, lock.stage.name)
    yield Grid(
        name="Read at each",
        columns=(Column(head="place", width=1),
                 Column(head="contact seen", width=1, blank=True),
                 Column(head="feeler", width=1, blank=True),
                 Column(head="packing", width=1, blank=True),
                 Column(head="wedge pairs", width=1, blank=True),
                 Column(head="hammered", width=1, blank=True),
                 Column(head="by", width=1, blank=True)),
        rows=tuple((mark, *[""] * 6) for mark in marks),
        tall=True,
        listed=False,
    )  # fmt: skip
    yield Words(words="Counted: ____ of ____. Two places carry all until four are proved.",
                weight=Weight.STRONG)  # fmt: skip
    signed = {row.mark: row for row in signatures(edition, lock.stage)}
    rows = [
        signed.get(mark) or Signature(mark=mark, what=HOLD_POINTS[mark])
        for mark in ("H11", "H12")
    ]
    rows.append(Signature(mark="", what="Wind now allowed, by the engineer: ______"))
    yield Signing(rows=tuple(rows))


def _places(edition: Edition, lock: Locking) -> tuple[str, ...]:
    section = next(s for s in edition.plan.sections if s.name == lock.section)
    fids = tuple(fid.mark for fid in section.fids)
    on_section = any(s.name == lock.carrier for s in edition.plan.sections)
    if on_section and fids:
        return fids
    return ("north-east", "south-east", "south-west", "north-west")
