"""Findings on paper: in full what does not pass or was overruled, the rest by the worst."""

from collections import Counter
from collections.abc import Iterator, Sequence

from towerlift.checks import ALL_LIMITS
from towerlift.documents.blocks import Block, Column, Grid, Heading, Weight, Words
from towerlift.documents.edition import Edition, limit_name
from towerlift.documents.say import NOTHING, Kind, verdict_word
from towerlift.findings import Finding, Verdict

_NAMES = tuple(limit.name for limit in ALL_LIMITS)


def findings_blocks(edition: Edition) -> Iterator[Block]:
    """Every finding that is not a pass, every overrule, and the tightest passes.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Yields
    ------
    block : Block
        Worst first.
    """
    if edition.say.measure == "feet and inches":
        yield Words(
            words="Reasons and remedies are printed in metric units, as they were reckoned.",
            weight=Weight.QUIET,
        )
    for verdict in (Verdict.FAIL, Verdict.NOT_EVALUATED):
        group = [f for f in edition.outcome.findings if f.verdict is verdict]
        if group:
            yield Heading(words=f"{verdict_word(verdict)}: {len(group)}")
            for finding in group:
                yield from _in_full(edition, finding)
    passes = [f for f in edition.outcome.findings if f.verdict is Verdict.PASS]
    if not edition.outcome.findings:
        yield Words(words="NOT EVALUATED: nothing was checked", weight=Weight.LOUD)
    yield Heading(words=f"Pass: {len(passes)}")
    if passes:
        yield _passes(edition, passes)


def _in_full(edition: Edition, finding: Finding) -> Iterator[Block]:
    say, limit = edition.say, finding.limit_in_force
    place = f", stage {finding.stage}" if finding.stage else ""
    title = f"{verdict_word(finding.verdict)}  {finding.check}{place}: {finding.subject}"
    yield Words(words=title, weight=Weight.LOUD)
    heel = "" if finding.heel is None else f" at heel {say.height(finding.heel)}"
    value = f"{say.found(finding)}, {say.bound(limit)}"
    margin = f" ({say.spare(finding)})" if finding.margin is not None else ""
    yield Words(words=f"{value}{margin}{heel}. Limit by: {limit.source}", weight=Weight.STRONG)
    if finding.why:
        yield Words(words=f"Why: {finding.why}")
    for number, cure in enumerate(finding.remedy, start=1):
        yield Words(words=f"Remedy {number}: {cure}")
    if finding.overrule is not None:
        words = f"OVERRULED by {finding.overrule.by} (usual limit {say.bound(finding.limit)}): "
        yield Words(words=f"{words}{finding.overrule.note}", weight=Weight.STRONG)


def _passes(edition: Edition, passes: Sequence[Finding]) -> Grid:
    say = edition.say
    counts = Counter(limit_name(f, _NAMES) for f in passes)
    tight: dict[str, Finding] = {}
    for finding in passes:
        tight.setdefault(limit_name(finding, _NAMES), finding)
    rows = tuple(
        (name, str(counts[name]), f.stage or "all", f.subject, say.found(f),
         say.bound(f.limit_in_force), say.spare(f), f.limit_in_force.source)
        for name, f in tight.items()
    )  # fmt: skip
    return Grid(
        name="Of each limit, how many pass and the one that leaves least",
        columns=(Column(head="limit", width=2.2), Column(head="pass"), Column(head="stage"),
                 Column(head="on", width=1.3), Column(head="found", width=0.9),
                 Column(head="allowed", width=1), Column(head="to spare", width=1),
                 Column(head="limit by", width=2.9)),
        rows=rows,
        notes=("All of them stand in the workbook of lists.",),
        listed=False,
    )  # fmt: skip


def findings_grid(edition: Edition) -> Grid:
    """Every finding, for the workbook of lists.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    grid : Grid
        Worst first.
    """
    rows = []
    for f in edition.outcome.findings:
        limit = f.limit_in_force
        overrule = "" if f.overrule is None else f"{f.overrule.by}: {f.overrule.note}"
        rows.append(
            (verdict_word(f.verdict), f.check, f.subject, f.stage or "all", f.heel,
             _plain(f.value), _plain(limit.value), str(limit.bound), limit.unit,
             _plain(f.margin), limit.source, overrule, f.why, "; ".join(f.remedy))
        )  # fmt: skip
    heads = ("verdict", "check", "subject", "stage", "heel", "found", "limit", "bound", "unit",
             "to spare", "limit by", "overruled", "why", "remedies")  # fmt: skip
    numbers = {"heel": Kind.HEIGHT}
    return Grid(
        name="findings",
        columns=tuple(Column(head=head, kind=numbers.get(head)) for head in heads),
        rows=tuple(rows) or (("NOT EVALUATED", *(NOTHING,) * 3, None, *(NOTHING,) * 9),),
        notes=("Values, limits and margins in the unit of their row, always metric.",),
    )


def _plain(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.6g}")
