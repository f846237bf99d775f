"""What a haul asks of the people at it: one set of numbers for card, log and crew."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from towerlift.checks.crew import Station, stations
from towerlift.checks.hauls import Haul
from towerlift.checks.uneven import allowances
from towerlift.documents.edition import Edition
from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.mechanics.capstan import turns_per_rise
from towerlift.mechanics.levelling import ABORT, STOP, mark_mm
from towerlift.motion.masses import moving_mass
from towerlift.motion.passages import Passage
from towerlift.plan.model import Plan
from towerlift.plan.work import Stage
from towerlift.rig.losses import guiding

STOP_PULL = 1.25
"""Pull over the pull foreseen at which hauling stops; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A height at which the section is stopped, levelled and read.

    Attributes
    ----------
    passage : Passage
        In which it is reached.
    heel : float
        Heel height of the hauled section. [m]
    when : datetime or None
        When it is planned to be there.
    pull : float
        Greatest pull expected at any capstan, worst corner and guides on top. [N]
    stop, abort : float or None
        Difference of level at which hauling stops, and at which it is given up; None
        where nothing gives it. [m]
    event : str
        What happens there.
    """

    passage: Passage
    heel: float
    when: datetime | None
    pull: float
    stop: float | None
    abort: float | None
    event: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hauling:
    """One haul of one stage, as the people at it need it.

    Attributes
    ----------
    haul : Haul
        As the checks see it.
    passages : tuple of Passage
        Those that move, in order.
    before, after : str
        What carries the section before and after.
    lightest, heaviest : float
        Weight on the hook at its least and its most, tolerance of the mass included. [N]
    sources : str
        Where the mass is from.
    stretch : float
        Greatest stretch that a tackle takes up before the section moves. [m]
    expected : float
        Greatest pull expected at any capstan, worst corner and guides on top. [N]
    stations : tuple of Station
        Capstans at their worst pull; empty where no rest is found.
    marks : tuple of Mark
        From the first to the last.
    """

    haul: Haul
    passages: tuple[Passage, ...]
    before: str
    after: str
    lightest: float
    heaviest: float
    sources: str
    stretch: float
    expected: float
    stations: tuple[Station, ...]
    marks: tuple[Mark, ...]

    @property
    def first(self) -> float:
        """Heel height at the beginning. [m]"""
        return self.passages[0].standing[self.haul.section].heel_from

    @property
    def last(self) -> float:
        """Heel height at the end. [m]"""
        return self.passages[-1].standing[self.haul.section].heel_to

    @property
    def pick_ups(self) -> tuple[tuple[float, str], ...]:
        """Heel heights at which something is picked up, and what."""
        return tuple(
            (p.standing[self.haul.section].heel_from, p.event) for p in self.passages if p.event
        )


def haulings(edition: Edition, stage: Stage) -> tuple[Hauling, ...]:
    """Every haul of a stage that could be reckoned.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    stage : Stage
        Which.

    Returns
    -------
    haulings : tuple of Hauling
        In order.
    """
    return edition.once(
        f"haulings {stage.name}",
        lambda: tuple(
            _hauling(edition, haul) for haul in edition.hauls if haul.stage == stage.name
        ),
    )


def _hauling(edition: Edition, haul: Haul) -> Hauling:
    passages = tuple(edition.outcome.raise_.passages[curve.passage] for curve in haul.curves)
    masses = [moving_mass(edition.outcome.shapes, passage) for passage in passages]
    light = min(m.mass * (1 - m.tolerance) for m in masses) * STANDARD_GRAVITY
    heavy = max(m.mass * (1 + m.tolerance) for m in masses) * STANDARD_GRAVITY
    return Hauling(
        haul=haul,
        passages=passages,
        before=_carrier_before(edition, passages[0], haul.section),
        after=_carrier_after(edition, haul),
        lightest=light,
        heaviest=heavy,
        sources=mass_source(edition.plan, passages[-1].moving),
        stretch=float(np.max(haul.curves[0].stretch[0])),
        expected=max(float(curve.pull.max()) for curve in haul.curves),
        stations=stations(edition.case, haul) or (),
        marks=tuple(_marks(edition, haul, passages)),
    )


def mass_source(plan: Plan, names: Sequence[str]) -> str:
    """Where the mass of sections is from.

    Parameters
    ----------
    plan : Plan
        Says which were weighed.
    names : sequence of str
        Sections.

    Returns
    -------
    words : str
        Weighed by whom, or reckoned from what.
    """
    said = []
    for section in plan.sections:
        if section.name in names:
            weighed = section.weighed
            said.append(
                f"{section.name} reckoned from members and densities, "
                f"±{section.mass_tolerance:.0%} until weighed"
                if weighed is None
                else f"{section.name} weighed by {weighed.by}, ±{weighed.tolerance:.1%}"
            )
    return "; ".join(said)


def _carrier_before(edition: Edition, first: Passage, section: str) -> str:
    before = [
        p for p in edition.outcome.raise_.passages[: first.index] if section in p.standing
    ]
    still = [p.standing[section].carrier for p in before]
    lifts = {lift.name for lift in edition.plan.lifts}
    return next((each for each in reversed(still) if each not in lifts), "ground")


def _carrier_after(edition: Edition, haul: Haul) -> str:
    rest = edition.rest(haul.stage)
    if rest is None or haul.section not in rest.standing:
        return "not known"
    return rest.standing[haul.section].carrier


def _marks(edition: Edition, haul: Haul, passages: tuple[Passage, ...]) -> list[Mark]:
    found: list[Mark] = []
    for number, (curve, passage) in enumerate(zip(haul.curves, passages, strict=True)):
        low, high = (
            passage.standing[haul.section].heel_from,
            passage.standing[haul.section].heel_to,
        )
        steps = max(1, int(np.ceil(abs(high - low) / haul.lift.step - 1e-9)))
        for k in range(0 if not found or passage.event else 1, steps + 1):
            share = min(1.0, k * haul.lift.step / abs(high - low)) if high != low else 1.0
            heel = low + share * (high - low)
            row = int(np.abs(curve.heels - heel).argmin())
            stop, abort = _levels(edition, haul, number, row)
            begins = passage.begins
            seconds = timedelta(seconds=share * passage.duration)
            found.append(
                Mark(
                    passage=passage,
                    heel=heel,
                    when=None if begins is None else begins + seconds,
                    pull=float(curve.pull[row].max()),
                    stop=stop,
                    abort=abort,
                    event=passage.event if k == 0 else "",
                )
            )
    return found


def _levels(
    edition: Edition, haul: Haul, number: int, row: int
) -> tuple[float | None, float | None]:
    """Marks of level at a sample: never more than the lift's own tolerance to stop at."""
    stop = haul.lift.level_tolerance
    if not haul.lift.guided:
        return stop, None
    curve = haul.curves[number]
    passage = edition.outcome.raise_.passages[curve.passage]
    guides = guiding(edition.case.workshop, passage, curve.heels)
    if not guides.holds:
        return stop, None
    allowed = float(allowances(curve, guides)[row])
    return min(stop, mark_mm(allowed, STOP) / 1e3), mark_mm(allowed, ABORT) / 1e3


def turns_each_step(hauling: Hauling, station: Station) -> float:
    """Turns of a capstan from one check of level to the next.

    Parameters
    ----------
    hauling : Hauling
        Which haul.
    station : Station
        One of its capstans.

    Returns
    -------
    turns : float
        Without the stretch that is taken up.
    """
    haul = hauling.haul
    return turns_per_rise(station.gear, haul.pattern.parts) * haul.lift.step
