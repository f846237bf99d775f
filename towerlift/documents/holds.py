"""Hold points: what each is for, who has signed it, and whether a stage is released."""

from collections.abc import Iterator, Mapping

from towerlift.documents.blocks import Signature, Signing
from towerlift.documents.edition import Edition
from towerlift.plan.paperwork import Signed
from towerlift.plan.work import Stage
from towerlift.programme.holds import SIGNED_FOR

NOT_RELEASED = "NOT RELEASED"
NOT_SIGNED = "NOT SIGNED"

HOLD_POINTS: Mapping[str, str] = SIGNED_FOR


def signatures(edition: Edition, stage: Stage) -> Iterator[Signature]:
    """Each hold point of a stage, signed or not.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    stage : Stage
        Its hold points.

    Yields
    ------
    signature : Signature
        Without a name where nobody has signed for this content.
    """
    for mark in stage.hold_points:
        what = HOLD_POINTS.get(mark, "as the plan's people define it")
        valid, other = _signed(edition, stage.name, mark)
        if valid is None:
            note = NOT_SIGNED if not other else f"{NOT_SIGNED}: {other}"
            yield Signature(mark=mark, what=what, note=note)
        else:
            bound = f"for content {valid.content}" if valid.content else "for no stated content"
            note = "; ".join(part for part in (bound, valid.note) if part)
            yield Signature(
                mark=mark,
                what=what,
                name=edition.role(valid.by),
                time=edition.say.when(valid.at),
                note=note,
            )


def _signed(edition: Edition, stage: str, mark: str) -> tuple[Signed | None, str]:
    other = ""
    for signed in edition.plan.signatures:
        if (signed.stage, signed.hold_point) != (stage, mark):
            continue
        if signed.content in ("", edition.content):
            return signed, ""
        other = f"{signed.by} signed for content {signed.content}"
    return None, other


def signing(edition: Edition, stage: Stage) -> Signing:
    """Lines of a stage's hold points.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    stage : Stage
        Which.

    Returns
    -------
    signing : Signing
        One line each.
    """
    return Signing(rows=tuple(signatures(edition, stage)))


def held_back(edition: Edition, stage: Stage, *, moves: bool) -> tuple[str, ...]:
    """Why a stage is not released.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    stage : Stage
        Which.
    moves : bool
        Whether something moves in it.

    Returns
    -------
    reasons : tuple of str
        Empty only where the plan passes and every hold point is signed.
    """
    reasons = []
    if not edition.outcome.passes:
        reasons.append("the plan does not pass its checks")
    unsigned = [row.mark for row in signatures(edition, stage) if not row.name]
    if unsigned:
        reasons.append(f"not signed: {', '.join(unsigned)}")
    if moves and not stage.hold_points:
        reasons.append("something moves and the plan lists no hold point")
    return tuple(reasons)
