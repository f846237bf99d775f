"""Stage cards: what the person in charge of a stage holds in the hand."""

from collections.abc import Iterator

from towerlift.checks.two_blocking import CHECK as TWO_BLOCKING
from towerlift.checks.wind import HAULING as GUST
from towerlift.documents.arranged import arranged
from towerlift.documents.blocks import (
    Block,
    Column,
    Facts,
    Grid,
    GridCell,
    Heading,
    Leaf,
    Paper,
    Ticks,
    Weight,
    Words,
)
from towerlift.documents.edition import Edition
from towerlift.documents.hauling import STOP_PULL, Hauling, haulings
from towerlift.documents.holds import NOT_RELEASED, held_back, signing
from towerlift.documents.light import light_words
from towerlift.documents.pictures import elevations, haul_strip
from towerlift.documents.recovery import first_ways, other_ways
from towerlift.documents.say import Kind
from towerlift.findings import Verdict
from towerlift.motion.passages import Passage
from towerlift.plan.limits import limit_in_plan
from towerlift.plan.work import Stage

LETTERS = 14.0
# Marks of a haul that stand in one column; more are folded beside each other.
FEW = 10


def stage_cards(edition: Edition) -> Paper:
    """A card for every stage of a plan.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    paper : Paper
        In the order of the stages; a card whose hold points are not all signed, or whose
        plan does not pass, is stamped.
    """
    leaves = tuple(
        leaf for stage in edition.plan.stages for leaf in stage_leaves(edition, stage)
    )
    return Paper(name="stage-cards", title="Stage cards", leaves=leaves, letters=LETTERS)


def stage_leaves(edition: Edition, stage: Stage) -> tuple[Leaf, ...]:
    """The card of one stage, pictures on its back, and the sheets that lie behind it.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    stage : Stage
        Which.

    Returns
    -------
    leaves : tuple of Leaf
        Each stamped where the stage is not released. Where nothing moves, the card alone.
    """
    found = haulings(edition, stage)
    moving = [p for p in edition.passages(stage.name) if p.moving]
    because = held_back(edition, stage, moves=bool(moving))
    parts = list(_moving(edition, stage, found) if moving else _still(edition, stage))
    return tuple(
        Leaf(
            title=title,
            blocks=tuple(blocks),
            stamp=NOT_RELEASED if because else "",
            because=because,
            wide=wide,
        )
        for title, blocks, wide in parts
    )


def _moving(
    edition: Edition, stage: Stage, found: tuple[Hauling, ...]
) -> Iterator[tuple[str, list[Block], bool]]:
    """Front of the card, its back, and the sheets behind: title, blocks, whether wide."""
    front = [*_who(edition, stage), *_not_passed(edition, stage)]
    front += _overrules(edition, stage, brief=True)
    if not found:
        words = "NOT EVALUATED: the loads of this stage were not reckoned"
        front.append(Words(words=words, weight=Weight.LOUD))
    for hauling in found:
        front += _haul_facts(edition, hauling, named=len(found) > 1)
    front += [_NOBODY, *first_ways(edition, stage)]
    yield f"Stage {stage.name}: {stage.title}", front, False

    back = [*elevations(edition, stage), _signals(edition)]
    yield f"Stage {stage.name}, before and after", back, True

    steps: list[Block] = [_steps(edition, stage)]
    for hauling in found:
        steps.append(_mark_grid(hauling))
    yield f"Stage {stage.name}, step by step", [*steps, *_hold_points(edition, stage)], False

    if found:
        strips = [block for hauling in found for block in haul_strip(edition, hauling)]
        yield f"Stage {stage.name}, gaps", strips, True

    behind = [*other_ways(edition, stage), *_overrules(edition, stage)]
    yield f"Stage {stage.name}, if it must stop", behind, False


def _still(edition: Edition, stage: Stage) -> Iterator[tuple[str, list[Block], bool]]:
    blocks = [*_who(edition, stage), *_not_passed(edition, stage)]
    blocks += [*_overrules(edition, stage), _signals(edition)]
    blocks += [Heading(words="Steps"), _steps(edition, stage)]
    yield f"Stage {stage.name}: {stage.title}", blocks + _hold_points(edition, stage), False


_NOBODY = Words(
    words="Nobody on what moves or is about to be picked up, nobody under it, in the column, "
    "in the lines or in line with a rope.",
    weight=Weight.STRONG,
)


def _who(edition: Edition, stage: Stage) -> Iterator[Block]:
    starts = edition.say.when(stage.starts)
    if stage.after:
        starts += f", after {', '.join(stage.after)}"
    yield Facts(rows=(("in charge", edition.role(stage.in_charge)), ("starts", starts)))
    if stage.note:
        yield Words(words=stage.note)


def _not_passed(edition: Edition, stage: Stage) -> Iterator[Block]:
    for finding in edition.findings(stage=stage.name):
        if finding.verdict is not Verdict.PASS:
            words = f"{str(finding.verdict).upper()}: {finding.check}, {finding.subject}: "
            value = edition.say.found(finding)
            words += f"{value}, {edition.say.bound(finding.limit_in_force)}. {finding.why}"
            yield Words(words=words, weight=Weight.LOUD)


def _overrules(edition: Edition, stage: Stage, *, brief: bool = False) -> Iterator[Block]:
    """Overrules with their notes; in a line each on the front of a card, where none fits."""
    for finding in edition.findings(stage=stage.name):
        if finding.overrule is None:
            continue
        words = (
            f"OVERRULED by {finding.overrule.by}: {finding.check}, {finding.subject}: "
            f"{edition.say.found(finding)}, {edition.say.bound(finding.limit_in_force)}"
        )
        if brief:
            words += "; why is on the last sheet."
        else:
            usual = edition.say.bound(finding.limit)
            words += f" in place of {usual}: {finding.overrule.note}"
        yield Words(words=words)


def _haul_facts(edition: Edition, hauling: Hauling, *, named: bool) -> Iterator[Block]:
    say, haul = edition.say, hauling.haul
    way = "up" if hauling.last >= hauling.first else "down"
    ends = say.clock(hauling.marks[-1].when) if hauling.marks else "not dated"
    if named:
        yield Heading(words=f"Haul of the {haul.section} on lift {haul.lift.name}")
    yield Facts(
        rows=(
            (f"heel, {way}", f"{say.height(hauling.first)} to {say.height(hauling.last)} "
             f"in steps of {say.height(haul.lift.step)}, ends {ends}"),
            ("carried by", f"{hauling.before}, then {hauling.after}"),
            ("weight", f"{say.force(hauling.lightest)} to {say.force(hauling.heaviest)}; "
             f"stop at a gust of {say.speed(_gust(edition))}"),
            ("at a capstan", _pulls(edition, hauling)),
            ("out of level", _level_words(edition, hauling)),
            ("pick-up", _pick_ups(edition, hauling)),
            ("blocks", f"{_two_block(edition, hauling)}; stretch to take up "
             f"{say.size(hauling.stretch, 'up')}"),
            ("light", light_words(edition, edition.stage(haul.stage))),
        )
    )  # fmt: skip


def _gust(edition: Edition) -> float:
    return limit_in_plan(edition.plan, GUST).value


def _pulls(edition: Edition, hauling: Hauling) -> str:
    say = edition.say
    if not hauling.stations:
        return "NOT EVALUATED: no rest near true"
    most = max(station.pull for station in hauling.stations)
    return (
        f"at most {say.force(hauling.expected)} to {say.force(most)}; "
        f"STOP at {say.force(STOP_PULL * hauling.expected)}"
    )


def _level_words(edition: Edition, hauling: Hauling) -> str:
    stops = [mark.stop for mark in hauling.marks if mark.stop is not None]
    aborts = [mark.abort for mark in hauling.marks if mark.abort is not None]
    if not stops:
        return "NOT EVALUATED"
    stop = f"stop at {edition.say.size(min(stops), 'down')}"
    if not aborts:
        return f"{stop}; no shoes, so no mark to abort at"
    return f"{stop}, abort at {edition.say.size(min(aborts), 'down')}"


def _pick_ups(edition: Edition, hauling: Hauling) -> str:
    told = [f"{edition.say.height(heel)}: {event}" for heel, event in hauling.pick_ups]
    return "; ".join(told) or "none on this way"


def _two_block(edition: Edition, hauling: Hauling) -> str:
    found = edition.findings(check=TWO_BLOCKING, stage=hauling.haul.stage)
    if not found:
        return "NOT EVALUATED"
    return f"{edition.say.found(found[0])} left, {edition.say.spare(found[0])}"


def _signals(edition: Edition) -> Facts:
    return Facts(
        long=True,
        rows=(
            ("signals", arranged(edition, "signals")),
            ("spoken by", arranged(edition, "communication")),
        ),
    )


_STEPS = {
    "assemble": "build and check in the {subject}",
    "sling": "make tackles of lift {lift} fast to the {subject}",
    "float": "float the {subject} to heel {to}; hold, read every load cell",
    "lift": "haul the {subject} to heel {to}",
    "lower": "lower the {subject} to heel {to}",
    "secure": "hand the {subject} to {carrier}",
    "lock": "lock the {subject} on {carrier}: wedge, hammer, count",
    "transfer": "slack and take off the tackles of the {subject}",
    "fit": "put in: {subject}",
    "install": "put in: {subject}",
    "strike": "take out: {subject}",
    "clear the column": "CLEAR THE COLUMN: count every tag",
}


def step_words(edition: Edition, passage: Passage) -> str:
    """What is done in a passage, in a line.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    passage : Passage
        Which.

    Returns
    -------
    words : str
        With what is picked up where something is.
    """
    standing = passage.standing.get(passage.subject)
    said = _STEPS[passage.step].format(
        subject=passage.subject,
        lift=passage.lift or "–",
        to="–" if standing is None else edition.say.height(standing.heel_to),
        carrier=_carrier(edition, passage),
    )
    return f"{said}; at its beginning it {passage.event}" if passage.event else said


def _carrier(edition: Edition, passage: Passage) -> str:
    standing = passage.standing.get(passage.subject)
    lifts = {lift.name for lift in edition.plan.lifts}
    if standing is not None and standing.carrier not in lifts:
        return standing.carrier
    for step in edition.stage(passage.stage).steps:
        if step.do == passage.step and getattr(step, "section", "") == passage.subject:
            return str(getattr(step, "on", "–"))
    return "–"


def _steps(edition: Edition, stage: Stage) -> Grid:
    say = edition.say
    rows = tuple(
        (
            say.clock(p.begins),
            step_words(edition, p),
            say.minutes(p.duration) if p.duration else "",
        )
        for p in edition.passages(stage.name)
    )
    return Grid(
        name="",
        columns=(
            Column(head="from"),
            Column(head="what", width=1.0),
            Column(head="lasts"),
        ),
        rows=rows or (("–", "no steps in the plan", ""),),
        listed=False,
    )


def _mark_grid(hauling: Hauling) -> Grid:
    gives_up = any(mark.abort is not None for mark in hauling.marks)
    columns = [
        Column(head="heel", kind=Kind.HEIGHT, width=1.0),
        Column(head="pull", kind=Kind.FORCE, width=1.0),
        Column(head="stop", kind=Kind.SIZE, width=1.0),
        *([Column(head="abort", kind=Kind.SIZE, width=1.0)] if gives_up else []),
    ]
    across = 1 if len(hauling.marks) < FEW else 2 if gives_up else 3
    rows: list[tuple[GridCell, ...]] = [
        (mark.heel, mark.pull, mark.stop, mark.abort)[: len(columns)] for mark in hauling.marks
    ]
    return Grid(
        name=f"Marks of the {hauling.haul.section}",
        columns=tuple(columns) * across,
        rows=_folded(rows, across),
        notes=("Pull: most expected at any capstan, worst corner and guides on top.",),
        listed=False,
    )


def _folded(rows: list[tuple[GridCell, ...]], across: int) -> tuple[tuple[GridCell, ...], ...]:
    """Rows in so many columns beside each other, read down each column first."""
    deep = -(-len(rows) // across)
    blank = ("",) * len(rows[0])
    filled = [*rows, *[blank] * (deep * across - len(rows))]
    return tuple(
        tuple(cell for part in range(across) for cell in filled[part * deep + n])
        for n in range(deep)
    )


def _hold_points(edition: Edition, stage: Stage) -> list[Block]:
    if not stage.hold_points:
        return [Words(words="The plan lists no hold point for this stage.")]
    ticks = Ticks(
        items=(
            "Conditions are still as planned, and every inspection is done",
            "Everybody has heard this card read, and has no question left",
        )
    )
    return [Heading(words="Hold points"), ticks, signing(edition, stage)]
