"""Check-in lists: every member, rod and tag, in the order of a walk round the work."""

from collections.abc import Iterator

import numpy as np

from towerlift.documents.blocks import (
    Block,
    Column,
    Facts,
    Grid,
    Heading,
    Leaf,
    Paper,
    Signature,
    Signing,
    Ticks,
    Turn,
)
from towerlift.documents.edition import Edition
from towerlift.documents.say import NOTHING, Kind
from towerlift.documents.ways import way_of
from towerlift.plan.bodies import Member, Section
from towerlift.plan.work import Fit


def check_in_lists(edition: Edition) -> Paper:
    """The check-in lists.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    paper : Paper
        One for each section, then fit-out and bells, tools and people.
    """
    leaves = [
        Leaf(title=f"Check-in of the {section.name}", blocks=tuple(_section(edition, section)))
        for section in edition.plan.sections
    ]
    leaves.append(Leaf(title="Check-in of fit-out and bells", blocks=tuple(_fit_out(edition))))
    leaves.append(Leaf(title="Muster, tools and tags", blocks=tuple(_muster(edition))))
    return Paper(
        name="check-in-lists", title="Check-in lists", leaves=tuple(leaves), letters=11.0
    )


def walk_order(members: tuple[Member, ...]) -> list[Member]:
    """Members in the order of a walk: level by level from the heel, round by the compass.

    Parameters
    ----------
    members : tuple of Member
        Of one body.

    Returns
    -------
    members : list of Member
        From the north, by east and south and west, at each metre of height.
    """

    def key(member: Member) -> tuple[int, float, str]:
        start, end = np.array(member.start), np.array(member.end)
        middle = 0.5 * (start + end)
        # From the heel up by the foot of each piece; round by where its middle stands.
        round_ = float(np.arctan2(middle[0], middle[1])) % (2 * np.pi)
        return int(np.floor(min(start[2], end[2]) + 1e-9)), round_, member.mark

    return sorted(members, key=key)


def _length(member: Member) -> float:
    return float(np.linalg.norm(np.array(member.end) - np.array(member.start)))


def _section(edition: Edition, section: Section) -> Iterator[Block]:
    shoes = {shoe.member for shoe in section.shoes}
    yield Facts(
        columns=2,
        rows=(
            ("members", str(len(section.members))),
            ("length", edition.say.height(section.length)),
            ("shoes", str(len(section.shoes))),
            ("rods and iron", ", ".join(m.mark for m in section.masses) or "none listed"),
        ),
    )
    yield Grid(
        name=f"Members of the {section.name}, in the order of the walk",
        columns=(Column(head="in", blank=True), Column(head="mark", width=1.38),
                 Column(head="piece", width=1.4), Column(head="timber", width=1.24),
                 Column(head="breadth", kind=Kind.SIZE, width=0.9),
                 Column(head="depth", kind=Kind.SIZE, width=0.8),
                 Column(head="length", kind=Kind.HEIGHT, width=0.8),
                 Column(head="way in", width=1.38),
                 Column(head="flush", blank=True)),
        rows=tuple(
            ("", m.mark, _piece(m, shoes), m.species, m.breadth, m.depth, _length(m),
             way_of(edition, section.name, m.mark), "")
            for m in walk_order(section.members)
        ) or (("", "NOT EVALUATED: a mesh lists no members", *[NOTHING] * 2, None, None, None,
               NOTHING, ""),),
        notes=("Walk from the heel up; on each level from the north by east, south and west. "
               "Flush: bolt heads, nuts and pegs stand out no farther than drawn.",),
    )  # fmt: skip
    yield Turn()
    yield Grid(
        name=f"Measured at the trial assembly of the {section.name}",
        columns=(Column(head="height s", kind=Kind.HEIGHT),
                 *(Column(head=f"{face}, farther out", width=1, blank=True)
                   for face in ("north", "east", "south", "west")),
                 Column(head="diagonals differ", width=1, blank=True),
                 Column(head="twist", width=1, blank=True)),
        rows=tuple((s, *[""] * 6) for s in _heights(section)),
        tall=True,
        listed=False,
    )  # fmt: skip
    yield Heading(words="Photographs")
    yield Grid(
        name="",
        columns=tuple(Column(head=f"{face} side: photo no.", width=1, blank=True)
                      for face in ("north", "east", "south", "west")),
        rows=(("", "", "", ""),),
        tall=True,
        listed=False,
    )  # fmt: skip
    yield Heading(words="Rods and bolts")
    yield Ticks(
        items=(
            *(f"{mass.mark}: {edition.say.mass(mass.mass)} reckoned; torqued and marked"
              for mass in section.masses),
            "every bolt head and nut flush, protrusions measured and written above",
            "one stick of each kind weighed, and its density written here: ____________",
            "lift points and fid holes clear: "
            + (", ".join(p.mark for p in (*section.lift_points, *section.fids)) or "none"),
        )
    )  # fmt: skip
    yield Signing(
        rows=(Signature(mark="H2", what=f"{section.name} measured, inside its budget"),)
    )


def _piece(member: Member, shoes: set[str]) -> str:
    runs = member.mark in shoes and member.part != "shoe"
    return f"{member.part}, runs as a shoe" if runs else member.part


def _heights(section: Section) -> list[float]:
    count = max(2, min(9, int(section.length // 1.5)))
    return [round(float(s), 2) for s in np.linspace(0.0, section.length, count)]


def _fit_out(edition: Edition) -> Iterator[Block]:
    plan, shapes = edition.plan, edition.outcome.shapes
    stage_of = {
        step.item: stage.name
        for stage in plan.stages
        for step in stage.steps
        if isinstance(step, Fit)
    }
    yield Grid(
        name="Fit-out",
        columns=(Column(head="in", blank=True), Column(head="item", width=1.4),
                 Column(head="kind", width=1), Column(head="on", width=1),
                 Column(head="stage"), Column(head="by", width=1),
                 Column(head="reckoned", kind=Kind.MASS),
                 Column(head="weighed", width=1.2, blank=True)),
        rows=tuple(
            ("", i.name, i.kind, i.on, stage_of.get(i.name, NOTHING), i.trade or NOTHING,
             shapes.fit_out[i.name].mass.mass, "")
            for i in plan.fit_out
        ) or (("", "none in the plan", *[NOTHING] * 4, None, ""),),
        notes=("Every bell is weighed with its fittings before it is hoisted.",),
        tall=True,
    )  # fmt: skip
    for item in plan.fit_out:
        if item.members:
            yield Grid(
                name=f"Members of the {item.name}, in the order of the walk",
                columns=(Column(head="in", blank=True), Column(head="mark", width=1.6),
                         Column(head="piece", width=1.2), Column(head="timber", width=0.8),
                         Column(head="breadth", kind=Kind.SIZE),
                         Column(head="depth", kind=Kind.SIZE),
                         Column(head="length", kind=Kind.HEIGHT),
                         Column(head="way in", width=1.1)),
                rows=tuple(
                    ("", m.mark, m.part, m.species, m.breadth, m.depth, _length(m),
                     way_of(edition, item.name, m.mark))
                    for m in walk_order(item.members)
                ),
            )  # fmt: skip


def _muster(edition: Edition) -> Iterator[Block]:
    plan = edition.plan
    people = sum(crew.need for crew in plan.crews)
    yield Grid(
        name="Muster",
        columns=(Column(head="crew", width=2), Column(head="needed"), Column(head="signed up"),
                 Column(head="here", width=1, blank=True),
                 Column(head="tags out", width=1, blank=True),
                 Column(head="tags back", width=1, blank=True)),
        rows=tuple((c.name, str(c.need), str(c.signed), "", "", "") for c in plan.crews)
        or (("NOT ANSWERED: the plan names no crew", "", "", "", "", ""),),
        notes=(f"{people} tags if every crew is full. No start with a tag missing.",),
        tall=True,
    )  # fmt: skip
    yield Grid(
        name="Tools counted in and out of the column",
        columns=(Column(head="tool", width=2, blank=True), Column(head="tether", blank=True),
                 Column(head="in, count", width=1, blank=True),
                 Column(head="by", width=1, blank=True),
                 Column(head="out, count", width=1, blank=True),
                 Column(head="by", width=1, blank=True)),
        rows=tuple(("",) * 6 for _ in range(12)),
        tall=True,
        listed=False,
    )  # fmt: skip
