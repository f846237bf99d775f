"""One page for the client: what will be done, when, and what stands against it."""

from collections.abc import Iterator

from towerlift.documents.arranged import arranged
from towerlift.documents.blocks import (
    Block,
    Facts,
    Heading,
    Leaf,
    Paper,
    Words,
)
from towerlift.documents.confidence import confidence_words
from towerlift.documents.edition import CAUTION, Edition, hauling_stages
from towerlift.documents.lift_plan import verdict_block
from towerlift.documents.pictures import three_states
from towerlift.documents.requirements import requirement_rows
from towerlift.findings import Verdict


def client_summary(edition: Edition) -> Paper:
    """The client's page.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    paper : Paper
        One page.
    """
    leaf = Leaf(title=edition.plan.name, blocks=tuple(_blocks(edition)))
    return Paper(name="summary", title="Summary for the client", leaves=(leaf,), letters=11.0)


def _blocks(edition: Edition) -> Iterator[Block]:
    plan, say = edition.plan, edition.say
    yield verdict_block(edition)
    yield from three_states(edition)
    dated = [stage for stage in plan.stages if stage.starts is not None]
    hauling = {stage.name for stage in hauling_stages(edition)}
    days = [say.day(s.starts) for s in dated if s.name in hauling]
    last = dated[-1] if dated else None
    mass = sum(edition.outcome.shapes.sections[s.name].mass.mass for s in plan.sections)
    rest = edition.outcome.raise_.rests[-1] if edition.outcome.raise_.rests else None
    top = None if rest is None else max(
        (rest.standing[s.name].heel_to + s.length for s in plan.sections
         if s.name in rest.standing), default=None,
    )  # fmt: skip
    yield Facts(
        columns=1,
        rows=(
            ("what", f"{len(plan.sections)} sections, {say.mass(mass)} of them bare, raised in "
             f"{len(hauling)} stages"),
            ("top when done", say.height(top)),
            ("raised on", ", ".join(dict.fromkeys(days)) or "not dated"),
            ("last stage", "not dated" if last is None
             else f"{say.day(last.starts)}: {last.title}"),
            ("finished by then", confidence_words(edition)),
            ("people on a raising day", str(max((c.need for c in plan.crews), default=0))
             + " in the largest crew"),
            ("cost", arranged(edition, "cost")),
        ),
    )  # fmt: skip
    yield Heading(words="What stands against it")
    yield from _against(edition)
    yield Words(words=CAUTION)


def _against(edition: Edition) -> Iterator[Block]:
    bad = [f for f in edition.outcome.findings if f.verdict is not Verdict.PASS]
    unsigned = sum(1 for row in requirement_rows(edition) if row[3].startswith("NOT ANSWERED"))
    over = sorted({f.overrule.by for f in edition.outcome.findings if f.overrule is not None})
    rows = [
        ("findings", f"{sum(f.verdict is Verdict.FAIL for f in bad)} fail, "
         f"{sum(f.verdict is Verdict.NOT_EVALUATED for f in bad)} not evaluated, "
         f"{edition.counts[Verdict.PASS]} pass"),
        ("asked of a lift plan and not answered yet", str(unsigned)),
        ("limits overruled by", ", ".join(over) or "nobody"),
    ]  # fmt: skip
    if bad:
        worst = bad[0]
        where = f", stage {worst.stage}" if worst.stage else ""
        rows.append(
            (
                "worst",
                f"{str(worst.verdict).upper()}: {worst.check}{where}: {worst.subject}: "
                f"{edition.say.found(worst)}, {edition.say.bound(worst.limit_in_force)}",
            )
        )
    else:
        tight = [f for f in edition.outcome.findings if not f.merely_kept][:3]
        said = "; ".join(
            f"{f.check} ({f.stage or 'all'}): {edition.say.spare(f)}" for f in tight
        )
        rows.append(("least to spare", said or "nothing was checked"))
    yield Facts(rows=tuple(rows))
