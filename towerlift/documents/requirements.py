"""Plan against requirements: where each thing that a written plan must hold is answered."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from towerlift.documents.arranged import NOT_ANSWERED, is_arranged
from towerlift.documents.blocks import Column, Grid
from towerlift.documents.edition import Edition

P30 = "ASME P30.1"
CRANES = "29 CFR 1926.1432"
LOLER = "LOLER 1998, reg. 8"
BS = "BS 7121-1"
USACE = "EM 385-1-1, section 16"

PAPERS = {
    "loads": "lift plan: sections; stage cards",
    "rig": "lift plan: loads on the gear; rigging list",
    "moves": "lift plan: stages; stage cards",
    "people": "lift plan: people; crew cards",
    "wind": "lift plan: limits; work window sheet; stage cards",
    "holds": "lift plan: hold points; stage cards",
    "site": "exclusion chart; stage cards",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirement:
    """One thing that a written plan must hold.

    Attributes
    ----------
    what : str
        In our words.
    source : str
        Who asks it, with the place.
    answered : str
        Where these papers answer it, as far as figures go; empty where they cannot.
    arrangements : tuple of str
        Matters that the plan must arrange for it.
    figures : callable or None
        Whether the figures it needs are in the plan; None where none are needed.
    by : str
        Who must answer what is missing.
    """

    what: str
    source: str
    answered: str = ""
    arrangements: tuple[str, ...] = ()
    figures: Callable[[Edition], bool] | None = None
    by: str


def _always(_: Edition) -> bool:
    return True


def _weighed_or_reckoned(edition: Edition) -> bool:
    return all(s.weighed or s.members or s.density for s in edition.plan.sections)


def _has_lifts(edition: Edition) -> bool:
    return bool(edition.hauls)


def _has_coils(edition: Edition) -> bool:
    return bool(edition.plan.coils) and all(coil.source for coil in edition.plan.coils)


def _has_crews(edition: Edition) -> bool:
    return bool(edition.plan.crews and edition.plan.people)


def _has_activities(edition: Edition) -> bool:
    return bool(edition.plan.activities)


def _all_dated(edition: Edition) -> bool:
    return all(stage.starts is not None for stage in edition.plan.stages)


def _signed(edition: Edition) -> bool:
    asked = {(s.name, mark) for s in edition.plan.stages for mark in s.hold_points}
    given = {
        (each.stage, each.hold_point)
        for each in edition.plan.signatures
        if each.content in ("", edition.content)
    }
    return bool(asked) and asked <= given


REQUIREMENTS: tuple[Requirement, ...] = (
    Requirement(
        what="The load: weight, centre of gravity and size, and where each figure is from",
        source=f"{P30}, 5-2.1; {USACE}",
        answered=PAPERS["loads"],
        figures=_weighed_or_reckoned,
        by="framer",
    ),
    Requirement(
        what="Parts that could shift while it hangs, and how they are held; what must be "
        "secured before it is let go",
        source=f"{P30}, 5-2.1",
        arrangements=("parts that could shift",),
        by="framer",
    ),
    Requirement(
        what="Places where it is taken hold of, and whether they suit",
        source=f"{P30}, 5-2.1",
        answered="lift plan: sections; loads on the gear (slings)",
        figures=_has_lifts,
        by="rigger",
    ),
    Requirement(
        what="The gear that raises it: which, set up how, and whether it carries all that "
        "hangs, rigging included",
        source=f"{P30}, 5-2.2; {USACE}",
        answered=PAPERS["rig"],
        figures=_has_lifts,
        by="rigger",
    ),
    Requirement(
        what="How the gear is set up and taken down, inspected and tested",
        source=f"{P30}, 5-2.2",
        answered="lift plan: hold points H3, H4, H8; lock certificates",
        arrangements=("set-up and dismantling", "inspection and testing"),
        by="rigger, engineer",
    ),
    Requirement(
        what="Rigging that carries, steadies and protects the load, and is itself protected",
        source=f"{P30}, 4 and 5-2.3",
        answered="rigging list; lift plan: loads on the gear",
        figures=_has_coils,
        by="rigger",
    ),
    Requirement(
        what="The way of the load and of the gear, from where to where",
        source=f"{P30}, 4-(a)(4)",
        answered=PAPERS["moves"],
        figures=_always,
        by="planner",
    ),
    Requirement(
        what="People needed, by number and office",
        source=f"{P30}, 4-(a)(5); {BS}",
        answered=PAPERS["people"],
        figures=_has_crews,
        by="capstan captain",
    ),
    Requirement(
        what="The site: weather, ground and what stands on it, services above and below",
        source=f"{P30}, 4-(a)(6); {USACE}",
        answered=PAPERS["wind"],
        arrangements=("ground and support", "services"),
        by="planner, engineer",
    ),
    Requirement(
        what="How people speak to each other, and by what signals",
        source=f"{P30}, 4-(a)(7)",
        arrangements=("communication", "signals"),
        by="person in charge",
    ),
    Requirement(
        what="Control of the site: who may come where, and what else could come in the way",
        source=f"{P30}, 4-(a)(8) and 5-2.8; {BS}",
        answered=PAPERS["site"],
        arrangements=("access",),
        figures=_has_activities,
        by="site safety lead",
    ),
    Requirement(
        what="What is done if gear fails or the weather turns",
        source=f"{P30}, 5-2.9",
        answered="lift plan: if it must stop; loads with a line lost",
        figures=_has_lifts,
        by="rigger, person in charge",
    ),
    Requirement(
        what="What is done if the load is not as planned",
        source=f"{P30}, 5-2.9",
        answered="stage cards: float, pull to stop at; hold point H8",
        figures=_has_lifts,
        by="rigger",
    ),
    Requirement(
        what="What is done if the site changes or somebody comes in who should not",
        source=f"{P30}, 5-2.9",
        arrangements=("site change",),
        by="site safety lead",
    ),
    Requirement(
        what="An emergency plan, with the way to hospital",
        source=f"{P30}, 5-2.10",
        arrangements=("emergency plan", "hospital route"),
        by="site safety lead",
    ),
    Requirement(
        what="A meeting before the lift: the sequence, each one's place, time and task, "
        "hazards, protective equipment, qualifications, what to do if; doubts settled, and "
        "who was there written down",
        source=f"{P30}, 5-3; {CRANES}",
        answered="stage cards; crew cards; check-in lists: muster",
        arrangements=("briefing", "protective equipment", "qualifications"),
        by="person in charge",
    ),
    Requirement(
        what="Just before lifting: conditions still as planned, inspections done",
        source=f"{P30}, 5-4.1",
        answered=PAPERS["holds"],
        figures=_signed,
        by="person in charge",
    ),
    Requirement(
        what="Why this lift is critical: not routine, out of the sight of those who haul, "
        "centre of gravity that moves at a pick-up, several hauling points at once",
        source=USACE,
        answered="lift plan: scope; findings",
        figures=_always,
        by="planner",
    ),
    Requirement(
        what="A plan made by a qualified person, with those who haul, supervise and rig, "
        "signed by all of them before the lift",
        source=USACE,
        answered="lift plan: signatures (to be signed by hand)",
        figures=_signed,
        by="everybody named in it",
    ),
    Requirement(
        what="A sum of all that hangs: load, blocks, rope, slings and the rest",
        source=USACE,
        answered="lift plan: loads on the gear; the weight of blocks and rope is not in it",
        figures=lambda _: False,
        by="rigger",
    ),
    Requirement(
        what="A planned lift with several hauling points: planned by a qualified person, "
        "engineering where it is needed, directed by a competent and qualified person who "
        "goes through the plan with everybody at a meeting",
        source=CRANES,
        answered="lift plan: people; stage cards: in charge",
        arrangements=("briefing", "qualifications"),
        by="person in charge",
    ),
    Requirement(
        what="Every lifting operation properly planned by a competent person",
        source=LOLER,
        answered="this plan, once its findings pass",
        figures=lambda edition: edition.outcome.passes,
        by="planner",
    ),
    Requirement(
        what="Appropriately supervised",
        source=LOLER,
        answered="stage cards: in charge of each stage",
        figures=_has_crews,
        by="person in charge",
    ),
    Requirement(
        what="Carried out in a safe manner",
        source=LOLER,
        answered="hold points; raising-day log",
        figures=_signed,
        by="person in charge",
    ),
    Requirement(
        what="A safe way of working written down: dangers weighed, method, list of lifts and "
        "drawings",
        source=BS,
        answered="lift plan: stages, findings; exclusion chart",
        figures=_all_dated,
        by="planner",
    ),
    Requirement(
        what="Authority to lift given by name, with date and time, and the team briefed",
        source=BS,
        answered="hold points with name, time and signature",
        figures=_signed,
        by="person in charge",
    ),
)


def requirement_rows(edition: Edition) -> Iterator[tuple[str, str, str, str]]:
    """Each requirement: what, who asks it, where it is answered, who must still answer.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Yields
    ------
    row : tuple of str
        The last is a dash only where nothing is missing.
    """
    for each in REQUIREMENTS:
        missing = [
            f"{NOT_ANSWERED}: {a}" for a in each.arrangements if not is_arranged(edition, a)
        ]
        if each.figures is not None and not each.figures(edition):
            missing.append(f"{NOT_ANSWERED}: not in the plan, or not signed yet")
        said = [each.answered] if each.answered else []
        said += [f"lift plan: arrangements, {a}" for a in each.arrangements
                 if is_arranged(edition, a)]  # fmt: skip
        last = f"{'; '.join(missing)} (by the {each.by})" if missing else "–"
        yield each.what, each.source, "; ".join(said) or "nowhere yet", last


def requirement_grid(edition: Edition) -> Grid:
    """The plan against what written lift plans are asked to hold.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    grid : Grid
        Item by item.
    """
    return Grid(
        name="Plan against requirements",
        columns=(
            Column(head="asked", width=2.6),
            Column(head="by", width=1.2),
            Column(head="answered in", width=1.7),
            Column(head="still to be answered", width=1.7),
        ),
        rows=tuple(requirement_rows(edition)),
        notes=(
            "In our own words; the texts themselves, in the edition in force where the tower "
            "stands, govern. An answer here means that the papers hold it, not that it is "
            "right or enough: a qualified person judges that.",
        ),
    )
