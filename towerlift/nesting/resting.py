"""Gaps at rest, whenever something is built, put in or fitted."""

from collections.abc import Iterator

import numpy as np

from towerlift.gaps import pose_gap
from towerlift.motion.passages import Passage
from towerlift.nesting.contacts import meant_pairs
from towerlift.nesting.margins import RestGap
from towerlift.nesting.pairs import SHAFT, Workshop


def _against(shop: Workshop, passage: Passage) -> Iterator[tuple[str, str]]:
    """Sections and what they must be apart from, given what has just come."""
    drawn = [name for name in sorted(passage.fixtures) if name in shop.shapes.fixtures]
    if passage.step == "install" and passage.subject in shop.shapes.fixtures:
        for section in passage.standing:
            yield section, passage.subject
    elif passage.step in ("assemble", "fit"):
        section = passage.subject
        if passage.step == "fit":
            section = shop.shapes.fitted_on[passage.subject]
        if section in passage.standing:
            others = [name for name in passage.standing if name != section]
            for other in [SHAFT, *others, *drawn]:
                yield section, other


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
    for passage in shop.raise_.passages:
        for section, other in _against(shop, passage):
            yield from _rest_gap(shop, passage, section, other)


def _rest_gap(shop: Workshop, passage: Passage, section: str, other: str) -> Iterator[RestGap]:
    fitted = passage.fitted
    mine, theirs = shop.assembly(section, fitted), shop.assembly(other, fitted)
    skip = meant_pairs(shop.plan.contacts, passage.stage, mine, theirs)
    if len(skip) == len(mine.labels) * len(theirs.labels):
        return
    heel = passage.heel(section, 1.0)
    shaft_from_other = np.eye(4)
    if other in passage.standing:
        shaft_from_other = shop.raise_.shaft_from_section(passage.heel(other, 1.0))
    pose = np.linalg.inv(shaft_from_other) @ shop.raise_.shaft_from_section(heel)
    gap = pose_gap(shop.body(section, fitted), shop.body(other, fitted), pose, skip_pairs=skip)
    x, y, z = (shaft_from_other @ np.append(np.asarray(gap.moving_point), 1.0))[:3]
    yield RestGap(
        stage=passage.stage,
        step=passage.step,
        subject=section,
        against=other,
        label=mine.labels[gap.moving_member],
        opposite=theirs.labels[gap.fixed_member],
        gap=gap.value if gap.certified or gap.struck else None,
        where=(float(x), float(y), float(z)),
        heel=heel,
    )
