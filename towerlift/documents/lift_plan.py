"""The written lift plan: what an engineer reads, questions and signs."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

import numpy as np

from towerlift.documents.arranged import NOT_ANSWERED, arranged
from towerlift.documents.blocks import (
    Block,
    Column,
    Facts,
    Grid,
    GridCell,
    Heading,
    Leaf,
    Paper,
    Signature,
    Signing,
    Weight,
    Words,
)
from towerlift.documents.edition import CAUTION, Edition, hauling_stages
from towerlift.documents.findings_list import findings_blocks
from towerlift.documents.hauling import haulings, mass_source
from towerlift.documents.holds import HOLD_POINTS, signatures
from towerlift.documents.light import date_blocks
from towerlift.documents.limits_list import gear_blocks, limit_blocks
from towerlift.documents.pictures import hardest_leads, load_path, whole_tower
from towerlift.documents.recovery import recovery_grid
from towerlift.documents.requirements import requirement_grid
from towerlift.documents.say import NOTHING, Kind
from towerlift.documents.ways import ways_blocks
from towerlift.findings import Verdict
from towerlift.plan.paperwork import Arrangement
from towerlift.shapes.solids import MassProperties


def lift_plan(edition: Edition, *, parts: Sequence[str] = ()) -> Paper:
    """The written lift plan.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    parts : sequence of str
        Titles of the parts that are wanted; empty for all.

    Returns
    -------
    paper : Paper
        Scope, people, datum, sections, stages, gear, limits, exclusions, hold points,
        recovery, arrangements, requirements and findings.
    """
    leaves = tuple(
        Leaf(title=title, blocks=tuple(make(edition)), wide=title in _WIDE)
        for title, make in _PARTS.items()
        if not parts or title in parts
    )
    return Paper(name="lift-plan", title="Written lift plan", leaves=leaves, letters=9.5)


def verdict_block(edition: Edition) -> Words:
    """What the checks say of the whole, loudly where it is not a pass.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    words : Words
        One line.
    """
    if edition.outcome.passes:
        number = edition.counts[Verdict.PASS]
        over = sum(1 for f in edition.outcome.findings if f.overrule is not None)
        said = f"All {number} findings pass, with the margins shown"
        said += f"; {over} of them on a limit that was overruled" if over else ""
        return Words(words=f"{said}.", weight=Weight.STRONG)
    return Words(words=f"{edition.verdict_words}.", weight=Weight.LOUD)


def _front(edition: Edition) -> Iterator[Block]:
    plan, say = edition.plan, edition.say
    yield Heading(words=edition.plan.name)
    yield verdict_block(edition)
    yield Words(words=CAUTION)
    yield Heading(words="Scope")
    yield Words(words=arranged(edition, "scope"))
    if plan.note:
        yield Words(words=plan.note)
    dated = [stage.starts for stage in plan.stages if stage.starts is not None]
    first = say.day(min(dated)) if dated else "not dated"
    last = say.day(max(dated)) if dated else "not dated"
    yield Facts(
        columns=2,
        rows=(
            ("site", plan.site.place),
            ("revision", plan.revision or f"{NOT_ANSWERED}: revision not stated"),
            ("sections", ", ".join(s.name for s in plan.sections)),
            ("content", edition.content),
            ("first stage", first),
            ("last stage", last),
        ),
    )
    yield Grid(
        name="People in charge",
        columns=(Column(head="name", width=1), Column(head="office", width=1),
                 Column(head="in charge of stages", width=2)),
        rows=tuple(
            (p.name, p.role,
             ", ".join(s.name for s in plan.stages if s.in_charge == p.name) or NOTHING)
            for p in plan.people
        ),
    )  # fmt: skip
    yield Heading(words="Signatures")
    yield Words(words="Signed by hand on the printed plan, for the content mark above.")
    yield Signing(
        rows=tuple(Signature(mark="", what=f"{p.role}: {p.name}") for p in plan.people)
    )


def _tower(edition: Edition) -> Iterator[Block]:
    plan, say = edition.plan, edition.say
    shaft, line = plan.shaft, plan.plumb_line
    widths = [(s.east - s.west, s.north - s.south) for s in shaft.survey]
    yield Facts(
        rows=(
            ("datum", "plumb datum at the shaft foot; x east, y north, z up from the floor"),
            ("plumb line of the sections", f"x {say.size(line.x)}, y {say.size(line.y)}, "
             f"turned {np.degrees(line.turn):.3f}°"),
            ("shaft", f"{len(shaft.survey)} stations, each face ± "
             f"{say.size(shaft.uncertainty, 'up')}; wall-head at "
             f"{say.height(shaft.wall_head)}"),
            ("least clear width", "surveyed as a mesh only" if not widths else
             f"{say.height(min(w for w, _ in widths))} east to west, "
             f"{say.height(min(n for _, n in widths))} north to south"),
            ("ledges", "; ".join(f"{x.mark}, {x.face}, {say.height(x.foot)} to "
             f"{say.height(x.head)}" for x in shaft.ledges) or "none named"),
            *(("opening in the wall", f"{x.mark}, {x.face}, {say.height(x.foot)} to "
               f"{say.height(x.head)}: {x.note} ({x.by})") for x in shaft.wall_openings),
        ),
    )  # fmt: skip
    yield _section_grid(edition)
    yield _fit_out_grid(edition)
    yield from ways_blocks(edition)


def _mass_rows(name: str, mass: MassProperties) -> tuple[GridCell, ...]:
    x, y, s = (float(v) for v in mass.centre)
    return (name, mass.mass, mass.mass * mass.tolerance, x, y, s)


def _section_grid(edition: Edition) -> Grid:
    plan = edition.plan
    return Grid(
        name="Sections",
        columns=(
            Column(head="section", width=1),
            Column(head="mass", kind=Kind.MASS),
            Column(head="±", kind=Kind.MASS),
            Column(head="CG x", kind=Kind.SIZE),
            Column(head="CG y", kind=Kind.SIZE),
            Column(head="CG s", kind=Kind.HEIGHT),
            Column(head="length", kind=Kind.HEIGHT),
            Column(head="half width", kind=Kind.HEIGHT),
            Column(head="where from", width=2),
        ),
        rows=tuple(
            (
                *_mass_rows(s.name, edition.outcome.shapes.sections[s.name].mass),
                s.length,
                _half_width(edition, s.name),
                mass_source(plan, (s.name,)),
            )
            for s in plan.sections
        ),
        notes=(
            "CG from the section's own axis (x east, y north) and from its heel (s up), bare "
            "of fit-out. Half width: the farthest that anything of it stands from its axis, "
            "along x or y.",
        ),
    )


def _half_width(edition: Edition, section: str) -> float | None:
    solid = edition.outcome.shapes.sections[section].solid
    if solid is None:
        return None
    return float(np.abs(solid.vertices[:, :2]).max())


def _fit_out_grid(edition: Edition) -> Grid:
    shapes = edition.outcome.shapes
    return Grid(
        name="Fit-out",
        columns=(
            Column(head="item", width=1),
            Column(head="mass", kind=Kind.MASS),
            Column(head="±", kind=Kind.MASS),
            Column(head="CG x", kind=Kind.SIZE),
            Column(head="CG y", kind=Kind.SIZE),
            Column(head="CG s", kind=Kind.HEIGHT),
            Column(head="on", width=1),
        ),
        rows=tuple(
            (*_mass_rows(i.name, shapes.fit_out[i.name].mass), i.on)
            for i in edition.plan.fit_out
        ),
    )


def _stages(edition: Edition) -> Iterator[Block]:
    say = edition.say
    hauling = {stage.name for stage in hauling_stages(edition)}
    yield Grid(
        name="Crews",
        columns=(Column(head="crew", width=2), Column(head="needed"), Column(head="signed"),
                 Column(head="expected", kind=Kind.SHARE)),
        rows=tuple((c.name, str(c.need), str(c.signed), c.show_rate)
            for c in edition.plan.crews
        )
        or (("NOT ANSWERED: the plan names no crew", "", "", None),),
    )  # fmt: skip
    yield Grid(
        name="Stages in order",
        columns=(Column(head="stage"), Column(head="what", width=3),
                 Column(head="starts", width=1.4),
                 Column(head="in charge", width=1.3), Column(head="moves"),
                 Column(head="hold points", width=1.2)),
        rows=tuple(
            (s.name, s.title, say.when(s.starts), s.in_charge,
             "yes" if s.name in hauling else "no", ", ".join(s.hold_points) or "none")
            for s in edition.plan.stages
        ),
    )  # fmt: skip
    yield from date_blocks(edition)
    rows = []
    for stage in edition.plan.stages:
        for each in haulings(edition, stage):
            most = max((s.pull for s in each.stations), default=None)
            rows.append(
                (stage.name, each.haul.section, each.haul.lift.name, each.first, each.last,
                 each.before, each.after, each.lightest, each.heaviest, most)
            )  # fmt: skip
    yield Grid(
        name="Hauls",
        columns=(Column(head="stage"), Column(head="section"), Column(head="lift"),
                 Column(head="from", kind=Kind.HEIGHT), Column(head="to", kind=Kind.HEIGHT),
                 Column(head="carried before", width=1), Column(head="after", width=1),
                 Column(head="weight, least", kind=Kind.FORCE),
                 Column(head="most", kind=Kind.FORCE),
                 Column(head="most at a capstan", kind=Kind.FORCE)),
        rows=tuple(rows)
        or (("NOT EVALUATED", "–", "–", None, None, "–", "–", None, None, None),),
        notes=("Weight with the tolerance of the mass; pull with worst corner, guides and mass "
               "on top.",),
    )  # fmt: skip


def _rig(edition: Edition) -> Iterator[Block]:
    yield from hardest_leads(edition)
    yield Grid(
        name="Lifts",
        columns=(Column(head="lift"), Column(head="of"), Column(head="hung from", width=1),
                 Column(head="tackles"), Column(head="pattern", width=1),
                 Column(head="guided"), Column(head="kept level by", width=1),
                 Column(head="check every", kind=Kind.HEIGHT),
                 Column(head="stop at", kind=Kind.SIZE)),
        rows=tuple(
            (x.name, x.section, x.hung_from, str(len(x.lines)), x.pattern,
             "yes" if x.guided else "no", x.paced, x.step, x.level_tolerance)
            for x in edition.plan.lifts
        ),
    )  # fmt: skip


def _control(edition: Edition) -> Iterator[Block]:
    yield Grid(
        name="Hold points: none may be skipped",
        columns=(Column(head="mark"), Column(head="what is signed for", width=3),
                 Column(head="before stages", width=2)),
        rows=tuple(
            (mark, what, ", ".join(s.name for s in edition.plan.stages if mark in s.hold_points)
             or "NOT ANSWERED: no stage lists it")
            for mark, what in HOLD_POINTS.items()
        ),
    )  # fmt: skip
    rows = [
        (
            stage.name,
            each.mark,
            each.name or each.note,
            each.time or NOTHING,
            each.note if each.name else NOTHING,
        )
        for stage in edition.plan.stages
        for each in signatures(edition, stage)
    ]
    yield Grid(
        name="Who has signed",
        columns=(Column(head="stage"), Column(head="mark"), Column(head="name", width=1),
                 Column(head="time", width=1), Column(head="note", width=1)),
        rows=tuple(rows) or (("–", "–", "NOT SIGNED: no stage has a hold point", "", ""),),
    )  # fmt: skip
    yield recovery_grid(edition)


def _asked(edition: Edition) -> Iterator[Block]:
    matters = Arrangement.model_fields["about"].annotation.__args__  # type: ignore[union-attr]
    yield Grid(
        name="Arrangements on site, and who answers for them",
        columns=(Column(head="matter", width=1), Column(head="arranged", width=4)),
        rows=tuple((matter, arranged(edition, matter)) for matter in matters),
    )
    yield requirement_grid(edition)


FRONT = "Lift plan"
_PARTS: Mapping[str, Callable[[Edition], Iterable[Block]]] = {
    FRONT: _front,
    "The tower and where it hangs": _tower,
    "Whole tower": whole_tower,
    "Load path": load_path,
    "Stages": _stages,
    "Rig": _rig,
    "Loads on the gear": gear_blocks,
    "Limits and overrules": limit_blocks,
    "Hold points, exclusions, recovery": _control,
    "Arrangements and requirements": _asked,
    "Findings": findings_blocks,
}
_WIDE = frozenset({"Whole tower", "Load path", "Loads on the gear"})
