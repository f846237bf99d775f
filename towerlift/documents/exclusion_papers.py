"""The exclusion chart: who is where while something moves or hangs."""

from collections.abc import Iterator

from towerlift.documents.blocks import (
    Block,
    Column,
    Grid,
    Heading,
    Leaf,
    Paper,
    Ticks,
    Weight,
    Words,
)
from towerlift.documents.edition import Edition, hauling_stages
from towerlift.documents.pictures import height_time
from towerlift.documents.say import NOTHING, verdict_word
from towerlift.findings import Finding, Verdict
from towerlift.motion.timeline import Span, timeline
from towerlift.plan.work import Activity


def exclusion_chart(edition: Edition) -> Paper:
    """The exclusion chart.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    paper : Paper
        Height against time, every activity with what the checks say of it, and the times
        in which nobody may be in the column.
    """
    leaves = (
        Leaf(title="Height against time", blocks=tuple(_chart(edition)), wide=True),
        Leaf(title="Closed column", blocks=tuple(_closed(edition))),
        Leaf(title="People at work", blocks=tuple(_people(edition))),
    )
    return Paper(name="exclusion-chart", title="Exclusion chart", leaves=leaves, letters=11.0)


def _chart(edition: Edition) -> Iterator[Block]:
    bad = [f for f in edition.findings(check="occupancy") if f.verdict is not Verdict.PASS]
    for finding in bad:
        words = f"{verdict_word(finding.verdict)}: {finding.subject}: {finding.why}"
        yield Words(words=words, weight=Weight.LOUD)
    if not bad and edition.findings(check="occupancy"):
        yield Words(
            words="Nobody is planned to be where something moves or hangs.",
            weight=Weight.STRONG,
        )
    yield from height_time(edition)


def _closed(edition: Edition) -> Iterator[Block]:
    say = edition.say
    rows = []
    for stage in hauling_stages(edition):
        moving = [p for p in edition.passages(stage.name) if p.moving]
        first, last = moving[0], moving[-1]
        ends = [p for p in edition.passages(stage.name) if p.index > last.index]
        done = next((p for p in ends if p.step in ("lock", "secure", "transfer")), last)
        rows.append(
            (stage.name, say.when(first.begins), say.clock(done.begins),
             ", ".join(dict.fromkeys(s for p in moving for s in p.moving)), "")
        )  # fmt: skip
    yield Words(
        words="From the first to the last of these times nobody is in the column, on what "
        "moves or is about to be picked up, in the lines, or in line with a rope.",
        weight=Weight.STRONG,
    )
    yield Grid(
        name="Column closed",
        columns=(Column(head="stage"), Column(head="from", width=1.4),
                 Column(head="not before", width=1), Column(head="what hangs", width=1.4),
                 Column(head="cleared by, tags counted", width=2, blank=True)),
        rows=tuple(rows) or (("–", "nothing moves", "", "", ""),),
        tall=True,
        notes=("The column opens when the person in charge says so, not by the clock.",),
    )  # fmt: skip
    yield Heading(words="Permits")
    yield Ticks(
        items=(
            "people on a section that is secured, not locked",
            "work with flame over timber, with a watch",
            "to unlock a section",
            "to strike needles, with the load proved on another carrier",
            "goods hoisted in the column",
        )
    )


def _people(edition: Edition) -> Iterator[Block]:
    say = edition.say
    said: dict[str, Finding] = {}
    for finding in edition.findings(check="occupancy"):
        # Worst first: a pass in another stage must not hide a failure.
        said.setdefault(finding.subject, finding)
    spans = timeline(edition.plan, edition.outcome.raise_)
    rows = []
    for activity in sorted(edition.plan.activities, key=lambda a: a.starts):
        found = said.get(activity.name)
        rows.append(
            (activity.name, activity.crew, str(activity.count), _where(edition, activity),
             f"{say.when(activity.starts)} to {say.clock(activity.ends)}",
             activity.sheltered_by or NOTHING, _overhead(activity, spans),
             "NOT EVALUATED" if found is None else verdict_word(found.verdict))
        )  # fmt: skip
    yield Grid(
        name="Activities",
        columns=(Column(head="what", width=1.6), Column(head="crew", width=0.9),
                 Column(head="people"), Column(head="where", width=1.3),
                 Column(head="when", width=1.6), Column(head="under", width=0.8),
                 Column(head="moves then", width=1), Column(head="verdict")),
        rows=tuple(rows) or (("NOT ANSWERED: the plan dates no work", *[NOTHING] * 7),),
    )  # fmt: skip


def _where(edition: Edition, activity: Activity) -> str:
    where = f"on the {activity.section}" if activity.section else activity.place
    if activity.lowest is None and activity.highest is None:
        return where
    low = NOTHING if activity.lowest is None else edition.say.height(activity.lowest)
    high = NOTHING if activity.highest is None else edition.say.height(activity.highest)
    return f"{where}, {low} to {high}"


def _overhead(activity: Activity, spans: tuple[Span, ...]) -> str:
    moving = [
        f"{span.moving[0]} ({span.stage})"
        for span in spans
        if span.moving and span.overlap(activity.starts, activity.ends) > 0
    ]
    return ", ".join(dict.fromkeys(moving)) or "nothing"
