"""The rigging list: every rope, block, sling and pendant with its tag and what it carries."""

from collections.abc import Iterator

import numpy as np

from towerlift.checks.rope_clearance import opening_rows
from towerlift.checks.strength import mass_factor
from towerlift.documents.blocks import (
    Block,
    Column,
    Grid,
    GridCell,
    Leaf,
    Paper,
    Weight,
    Words,
)
from towerlift.documents.crew_cards import natural
from towerlift.documents.edition import Edition
from towerlift.documents.pictures import reeving, site_plan
from towerlift.documents.say import NOTHING, Kind
from towerlift.findings import Finding
from towerlift.motion.masses import moving_mass
from towerlift.plan.model import Plan
from towerlift.plan.rigging import Coil
from towerlift.rig.pulls import rope_path


def rigging_list(edition: Edition) -> Paper:
    """The rigging list.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    paper : Paper
        Coils, tackles, lines, capstans, slings, pendants and what is spare.
    """
    leaves = (
        Leaf(title="Ropes", blocks=tuple(_ropes(edition)), wide=True),
        Leaf(title="Tackles, leads and capstans", blocks=tuple(_tackles(edition)), wide=True),
        Leaf(title="Reeving", blocks=tuple(reeving(edition))),
        Leaf(title="Plan of leads", blocks=tuple(site_plan(edition))),
        Leaf(title="Slings, pendants and needles", blocks=tuple(_slings(edition))),
    )
    return Paper(name="rigging-list", title="Rigging list", leaves=leaves, letters=10.0)


def rove(edition: Edition) -> dict[str, list[str]]:
    """Where each coil is rove.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    places : dict of str to list of str
        Tackles by lift, for each tag.
    """
    places: dict[str, dict[str, list[str]]] = {}
    for lift in edition.plan.lifts:
        for line in lift.lines:
            places.setdefault(line.coil, {}).setdefault(line.tackle, []).append(lift.name)
    return {
        tag: [f"{tackle} ({', '.join(lifts)})" for tackle, lifts in each.items()]
        for tag, each in places.items()
    }


def worst_pulls(edition: Edition) -> dict[str, float]:
    """Greatest pull of each coil at its barrel, anywhere in the raise.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    pulls : dict of str to float
        Worst corner, guide friction and mass on top; not a number where no rest is
        found. [N]
    """
    most: dict[str, float] = {}
    for haul in edition.hauls:
        for curve in haul.curves:
            passage = edition.outcome.raise_.passages[curve.passage]
            factor = mass_factor(edition.plan, moving_mass(edition.outcome.shapes, passage))
            path = rope_path(haul.lift, haul.pattern, factor)
            pulls = np.max(curve.tensions * path.over * path.barrel, axis=0)
            for line, pull in zip(haul.lift.lines, pulls.tolist(), strict=True):
                # What is not a number stays so.
                most[line.coil] = float(np.maximum(most.get(line.coil, 0.0), pull))
    return most


def _ropes(edition: Edition) -> Iterator[Block]:
    places, pulls = rove(edition), worst_pulls(edition)
    rows = [
        _coil_row(coil, places.get(coil.tag, []), pulls.get(coil.tag))
        for coil in sorted(edition.plan.coils, key=lambda coil: natural(coil.tag))
    ]
    yield Grid(
        name="Coils, by tag",
        columns=(
            Column(head="tag"),
            Column(head="material", width=1),
            Column(head="diameter", kind=Kind.SIZE),
            Column(head="length", kind=Kind.HEIGHT),
            Column(head="certificate", kind=Kind.FORCE),
            Column(head="kept", kind=Kind.SHARE),
            Column(head="most at the barrel", kind=Kind.FORCE),
            Column(head="factor"),
            Column(head="rove in", width=1.6),
            Column(head="end"),
            Column(head="examined"),
            Column(head="source", width=2.0),
            Column(head="seen", blank=True),
        ),
        rows=tuple(rows) or (("NOT ANSWERED: no coil in the plan", *[None] * 11, ""),),
        notes=(
            "Certificate: least breaking force of the new rope. Kept: share of it after age, "
            "wear and splice. Factor: what is kept over the most at the barrel, worst corner, "
            "guides and mass on top. Examined: the day of its certificate or of its last "
            "thorough examination.",
        ),
    )
    yield from _not_passed(edition)


def _coil_row(coil: Coil, places: list[str], pull: float | None) -> tuple[GridCell, ...]:
    kept = coil.breaking_force * coil.derating
    if pull is None:
        factor = NOTHING
    elif not (np.isfinite(pull) and pull > 0):
        factor = "NOT EVALUATED"
    else:
        # Never rounded up.
        factor = f"{np.floor(10 * kept / pull) / 10:.1f}"
    where = "; ".join(places) or "SPARE"
    examined = "NOT ANSWERED" if coil.examined is None else coil.examined.isoformat()
    return (coil.tag, coil.material, coil.diameter, coil.length, coil.breaking_force,
            coil.derating, pull, factor, where, coil.end or "NOT ANSWERED", examined,
            coil.source, "")  # fmt: skip


def _not_passed(edition: Edition) -> Iterator[Block]:
    for check in ("coils", "hoisting gear", "rope strength", "rope length", "rope clearance"):
        for finding in edition.findings(check=check):
            if str(finding.verdict) != "pass":
                yield Words(words=_told(edition, finding), weight=Weight.LOUD)


def _told(edition: Edition, finding: Finding) -> str:
    say = edition.say
    return (
        f"{str(finding.verdict).upper()}: {finding.check}, {finding.subject}, stage "
        f"{finding.stage or 'all'}: {say.found(finding)}, "
        f"{say.bound(finding.limit_in_force)}. {finding.why}"
    )


def _tackles(edition: Edition) -> Iterator[Block]:
    plan, say = edition.plan, edition.say
    yield Grid(
        name="Patterns of tackle",
        columns=(Column(head="pattern", width=1), Column(head="parts"),
                 Column(head="least sheave", kind=Kind.SIZE), Column(head="leads"),
                 Column(head="lead blocks rated", kind=Kind.FORCE),
                 Column(head="blocks no nearer than", kind=Kind.HEIGHT),
                 Column(head="fall", kind=Kind.HEIGHT),
                 Column(head="kept by a sheave", kind=Kind.SHARE)),
        rows=tuple(
            (t.name, str(t.parts), t.sheave, str(t.leads), t.lead_rating, t.shortest,
             t.fall_length, t.sheave_ratio)
            for t in plan.tackles
        ),
    )  # fmt: skip
    yield Grid(
        name="Blocks, shackles and strops of a tackle",
        columns=(Column(head="pattern", width=1), Column(head="at the block"),
                 Column(head="what", width=2), Column(head="rated", kind=Kind.FORCE),
                 Column(head="source", width=2), Column(head="seen", blank=True)),
        rows=tuple(
            (t.name, each.place, each.name, each.rated, each.source, "")
            for t in plan.tackles for each in t.hardware
        ) or (("NOT ANSWERED: none in the plan", *[None] * 4, ""),),
        notes=("One of each for every tackle of the pattern.",),
    )  # fmt: skip
    yield Grid(
        name="Reeving, lift by lift",
        columns=(Column(head="lift"), Column(head="tackle"), Column(head="lift point", width=1),
                 Column(head="moving block at", width=1.4),
                 Column(head="top block at", width=1.4), Column(head="coil"),
                 Column(head="capstan"), Column(head="lead blocks at", width=2),
                 Column(head="rove and seen", blank=True)),
        rows=tuple(
            (lift.name, line.tackle, line.lift_point,
             "the lift point" if line.moving_block is None
             else _point(edition, line.moving_block),
             _point(edition, line.upper), line.coil, line.capstan,
             "; ".join(_point(edition, p) for p in line.leads) or "NOT ANSWERED", "")
            for lift in plan.lifts for line in lift.lines
        ),
        notes=("Places are x east, y north, z up: of the shaft where the lift hangs from a "
               "fixture, of the carrying section where it hangs from a section; of the moving "
               "section at its moving block.",),
    )  # fmt: skip
    yield openings_grid(plan)
    yield Grid(
        name="Capstans",
        columns=(Column(head="capstan"), Column(head="x", kind=Kind.HEIGHT),
                 Column(head="y", kind=Kind.HEIGHT), Column(head="barrel", kind=Kind.SIZE),
                 Column(head="bar radius", kind=Kind.HEIGHT), Column(head="hands"),
                 Column(head="reserve"), Column(head="pawl stops a turn"),
                 Column(head="anchor tested to", kind=Kind.FORCE),
                 Column(head="proved", blank=True)),
        rows=tuple(
            (c.mark, c.x, c.y, c.barrel_diameter, c.bar_radius, str(c.hands), str(c.reserve),
             str(c.pawl_stops), "NOT ANSWERED" if c.anchor is None else c.anchor, "")
            for c in sorted(plan.capstans, key=lambda c: natural(c.mark))
        ),
        notes=(f"Each anchor is pulled before the first lift and read: creep is watched for "
               f"10 min. Times are of the clock at {plan.site.place}.",),
    )  # fmt: skip
    if say.metric is False:
        yield Words(words="Places in feet and inches.", weight=Weight.QUIET)


def openings_grid(plan: Plan) -> Grid:
    """Openings by which ropes pass pieces, for the rigger's and the framer's sheets.

    Parameters
    ----------
    plan : Plan
        Its openings.

    Returns
    -------
    grid : Grid
        What is cut, where, for which lines, and who answers for what is left.
    """
    return Grid(
        name="Openings for ropes",
        columns=(Column(head="opening", width=1.2), Column(head="what", width=2),
                 Column(head="for", width=1.4),
                 Column(head="what the piece still bears", width=2.4),
                 Column(head="seen", blank=True)),
        rows=tuple((*row, "") for row in opening_rows(plan.openings))
        or (("none in the plan", *[NOTHING] * 3, ""),),
        notes=("Clear widths are those that the ropes need; a side of a notch at the edge of "
               "its piece is open. The drawings show the pieces whole.",),
    )  # fmt: skip


def _point(edition: Edition, point: tuple[float, float, float]) -> str:
    if edition.say.metric:
        return ", ".join(f"{value:.2f}" for value in point)
    return ", ".join(edition.say.height(value) for value in point)


def _slings(edition: Edition) -> Iterator[Block]:
    plan = edition.plan
    rows = []
    for sling in plan.slings:
        found = [f for f in edition.findings(check="slings", stage=sling.stage)
                 if sling.name in f.subject]  # fmt: skip
        rating = next((f for f in found if f.why.startswith("sling rating")), None)
        angle = next((f for f in found if f.why.startswith("sling angle")), None)
        rows.append(
            (sling.name, sling.stage, sling.carries, str(len(sling.lugs)), sling.rated,
             NOTHING if angle is None else edition.say.found(angle),
             "NOT EVALUATED" if rating is None else edition.say.found(rating),
             sling.source, "")
        )  # fmt: skip
    yield Grid(
        name="Slings and strops",
        columns=(Column(head="set", width=1.2), Column(head="stage"),
                 Column(head="carries", width=1), Column(head="legs"),
                 Column(head="leg rated", kind=Kind.FORCE), Column(head="angle"),
                 Column(head="rated over carried"), Column(head="source", width=2),
                 Column(head="seen", blank=True)),
        rows=tuple(rows) or (("none in the plan", *[NOTHING] * 3, None, *[NOTHING] * 3, ""),),
    )  # fmt: skip
    kinds = ("pendant", "cross-bearer", "needle", "gantry")
    yield Grid(
        name="What carries without tackles",
        columns=(Column(head="what", width=1), Column(head="kind"), Column(head="pieces"),
                 Column(head="in at stage"), Column(head="out at stage"),
                 Column(head="note", width=2.4), Column(head="seen", blank=True)),
        rows=tuple(
            (f.name, f.kind, str(len(f.members)), _stage_of(edition, "install", f.name),
             _stage_of(edition, "strike", f.name), f.note, "")
            for kind in kinds for f in plan.fixtures if f.kind == kind
        ) or (("none in the plan", *[NOTHING] * 5, ""),),
        notes=("A shackle or pin that the list of tackles does not give is matched to the "
               "rating of the sling or block it joins, and its tag written beside it.",),
    )  # fmt: skip


def _stage_of(edition: Edition, do: str, fixture: str) -> str:
    return (
        ", ".join(
            stage.name
            for stage in edition.plan.stages
            if any(s.do == do and getattr(s, "fixture", "") == fixture for s in stage.steps)
        )
        or NOTHING
    )
