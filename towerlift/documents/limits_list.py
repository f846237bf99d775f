"""Limits in force, what was overruled, and the loads on the gear against them."""

from collections.abc import Iterator

from towerlift.checks import ALL_LIMITS
from towerlift.checks.wind import HAULING as GUST
from towerlift.documents.blocks import Block, Column, Grid, Heading, Weight, Words
from towerlift.documents.edition import Edition, limit_name
from towerlift.documents.say import NOTHING, plain_number, verdict_word
from towerlift.findings import Finding, Verdict
from towerlift.plan.limits import UsualLimit, limit_in_plan

GEAR_CHECKS = (
    "rope strength", "coils", "slings", "crew", "capstan ground", "two-blocking",
    "rope length", "centre of gravity", "uneven hauling", "bury",
)  # fmt: skip


STAGES_ACROSS = 13


def gear_blocks(edition: Edition) -> Iterator[Block]:
    """The worst of each limit in each stage, limits down and stages across.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Yields
    ------
    block : Block
        One grid for each dozen of stages.
    """
    names = [limit.name for limit in ALL_LIMITS]
    worst: dict[tuple[str, str], dict[str, Finding]] = {}
    for finding in edition.outcome.findings:
        if finding.check in GEAR_CHECKS:
            key = (finding.check, limit_name(finding, names))
            worst.setdefault(key, {}).setdefault(finding.stage, finding)
    used = {stage for row in worst.values() for stage in row}
    stages = [stage.name for stage in edition.plan.stages if stage.name in used]
    if "" in used:
        stages.append("")
    for start in range(0, len(stages), STAGES_ACROSS):
        some = stages[start : start + STAGES_ACROSS]
        rows = [
            (_limit_words(edition, check, name, found), *(_short(found.get(s)) for s in some))
            for (check, name), found in sorted(
                worst.items(), key=lambda each: (GEAR_CHECKS.index(each[0][0]), each[0][1])
            )
            if any(s in found for s in some)
        ]
        yield Grid(
            name="Loads on the gear: the worst of each limit in each stage",
            columns=(
                Column(head="limit, and who says so", width=4.2),
                *(Column(head=s or "all", width=1.0) for s in some),
            ),
            rows=tuple(rows),
            notes=(
                "A dash: nothing of this kind in that stage. Units stand with the limit; "
                "factors and ratios have none.",
            ),
        )
    if not stages:
        words = "NOT EVALUATED: no load on the gear was reckoned"
        yield Words(words=words, weight=Weight.LOUD)


def _limit_words(edition: Edition, check: str, name: str, found: dict[str, Finding]) -> str:
    limits = {edition.say.bound(f.limit_in_force) for f in found.values()}
    source = next(iter(found.values())).limit.source
    title = name if name == check else f"{check}, {name}"
    over = any(f.overrule is not None for f in found.values())
    return f"{title}: {' or '.join(sorted(limits))}{' (OVERRULED)' if over else ''}. {source}"


def _short(finding: Finding | None) -> str:
    if finding is None:
        return NOTHING
    if finding.value is None:
        return "NOT EVALUATED"
    value = plain_number(finding.value, 3)
    return value if finding.verdict is Verdict.PASS else f"FAIL {value}"


def limit_blocks(edition: Edition) -> Iterator[Block]:
    """Overrules, then every limit in force with its source and what leaves least.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Yields
    ------
    block : Block
        Overrules first.
    """
    plan, say = edition.plan, edition.say
    chosen = {each.limit for each in plan.limits}
    yield from _overrules(edition)
    rows = []
    for usual in dict.fromkeys((GUST, *ALL_LIMITS)):
        limit = limit_in_plan(plan, usual)
        who = "plan" if usual.name in chosen else "usual"
        rows.append(
            (usual.name, say.bound(limit), who, limit.source, _tightest(edition, usual))
        )
    yield Grid(
        name="Limits in force",
        columns=(Column(head="limit", width=1.4), Column(head="in force", width=1),
                 Column(head="set by"), Column(head="source", width=2.6),
                 Column(head="least to spare", width=1.4)),
        rows=tuple(rows),
    )  # fmt: skip


def _tightest(edition: Edition, usual: UsualLimit) -> str:
    found = [f for f in edition.outcome.findings if f.why.startswith(f"{usual.name}:")]
    found += [f for f in edition.outcome.findings if f.check == usual.name]
    if not found:
        return NOTHING
    worst = found[0]
    place = f" ({worst.stage})" if worst.stage else ""
    return f"{edition.say.spare(worst)}{place}"


def _overrules(edition: Edition) -> Iterator[Block]:
    """Each overrule once, with every finding that it lets pass or still fails."""
    say = edition.say
    groups: dict[tuple[str, str, str, str], list[Finding]] = {}
    for f in edition.outcome.findings:
        if f.overrule is not None:
            key = (f.check, f.subject, f.overrule.by, f.overrule.note)
            groups.setdefault(key, []).append(f)
    if not groups:
        yield Words(words="No limit is overruled.", weight=Weight.STRONG)
        return
    yield Heading(words="OVERRULED LIMITS")
    for (check, subject, by, note), found in groups.items():
        yield Words(words=f"{check}, {subject}: OVERRULED by {by}", weight=Weight.STRONG)
        yield Words(words=note)
        yield Grid(
            name="",
            columns=(Column(head="stage", width=1), Column(head="usual limit", width=1),
                     Column(head="now", width=1), Column(head="found", width=1),
                     Column(head="verdict", width=1)),
            rows=tuple(
                (f.stage or "all", say.bound(f.limit), say.bound(f.limit_in_force),
                 say.found(f), verdict_word(f.verdict))
                for f in found
            ),
            listed=False,
        )  # fmt: skip
