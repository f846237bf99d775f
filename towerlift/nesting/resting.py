"""Gaps at rest, whenever something is built, put in or fitted."""

from collections.abc import Iterator

from towerlift.gaps import PoseGap, pose_gap
from towerlift.motion.passages import Passage
from towerlift.nesting.bodies import Label
from towerlift.nesting.margins import Place, RestGap
from towerlift.nesting.masonry import astray, unsurveyed
from towerlift.nesting.pairs import SHAFT, Pair, Workshop
from towerlift.nesting.unseen import hidden_rest


def _against(shop: Workshop, passage: Passage) -> Iterator[tuple[str, str]]:
    """Sections and what they must be apart from, given what has just come."""
    if passage.step == "install":
        for section in passage.standing:
            yield section, passage.subject
    elif passage.step in ("assemble", "fit"):
        section = passage.subject
        if passage.step == "fit":
            section = shop.shapes.fitted_on[passage.subject]
        if section in passage.standing:
            others = [name for name in passage.standing if name != section]
            for other in [SHAFT, *others, *sorted(passage.fixtures)]:
                yield section, other


def resting_pairs(shop: Workshop) -> Iterator[Pair]:
    """Every section with what stands beside it, when either has just come.

    Parameters
    ----------
    shop : Workshop
        Plan, shapes and raise.

    Yields
    ------
    pair : Pair
        Without travel.
    """
    for passage in shop.raise_.passages:
        for section, other in _against(shop, passage):
            yield Pair(shop=shop, passage=passage, moving=section, against=other)


def rest_gaps(shop: Workshop) -> Iterator[RestGap]:
    """Least gap of every section to what stands beside it, when either has just come.

    Parameters
    ----------
    shop : Workshop
        Plan, shapes and raise.

    Yields
    ------
    gap : RestGap
        Meant contacts left out.
    """
    for pair in resting_pairs(shop):
        if pair.unmeant:
            heel = pair.travel[1]
            gap = pose_gap(
                pair.moving_body, pair.other_body, pair.pose(heel), skip_pairs=pair.meant
            )
            found = _rest_gap(pair, heel, gap)
            yield hidden_rest(pair, found) if pair.against == SHAFT else found
        if pair.against == SHAFT:
            yield from _beside_the_masonry(pair)


def _rest_gap(pair: Pair, heel: float, gap: PoseGap) -> RestGap:
    known = gap.certified or gap.struck
    return RestGap(
        stage=pair.passage.stage,
        step=pair.passage.step,
        subject=pair.moving,
        against=pair.against,
        label=pair.moving_assembly.labels[gap.moving_member],
        opposite=pair.other_assembly.labels[gap.fixed_member],
        gap=gap.value if known else None,
        where=pair.in_shaft(gap.moving_point),
        heel=heel,
        why="" if known else "the engine could not certify the gap",
    )


def _beside_the_masonry(pair: Pair) -> Iterator[RestGap]:
    """What a distance to the walls cannot tell: behind them, or where none was surveyed."""
    slabs = pair.slabs
    low, high = slabs.vertices[:, 2].min(), slabs.vertices[:, 2].max()
    heel = pair.travel[1]
    why = unsurveyed(pair.shop, heel + float(low), heel + float(high))
    found = [(member.member, -member.beyond, member.where) for member in astray(pair, slabs)]
    line = pair.shop.plan.plumb_line
    rows: list[tuple[int, float | None, Place, str]] = [
        (m, gap, (float(w[0]), float(w[1]), float(w[2])), "") for m, gap, w in found
    ]
    if why:
        rows.append((0, None, (line.x, line.y, heel), why))
    for member, gap, where, reason in rows:
        yield RestGap(
            stage=pair.passage.stage,
            step=pair.passage.step,
            subject=pair.moving,
            against=SHAFT,
            label=pair.moving_assembly.labels[member],
            opposite=Label(body=SHAFT, mark="the face of the masonry", part="wall"),
            gap=gap,
            where=where,
            heel=heel,
            why=reason,
        )
