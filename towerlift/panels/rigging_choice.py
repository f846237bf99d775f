"""What the rigger has chosen: a lift, a height, and what goes wrong there."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import ceil, degrees

import numpy as np

from towerlift.checks.case import Case
from towerlift.checks.crew import CHECK as CREW_CHECK
from towerlift.checks.hauls import Haul, hauls
from towerlift.checks.strength import FALL, mass_factor
from towerlift.checks.uneven import READING
from towerlift.findings import Finding
from towerlift.mechanics.capstan import hands_needed
from towerlift.mechanics.guided import Way
from towerlift.mechanics.levelling import (
    ABORT,
    STOP,
    Call,
    level_allowance,
    level_call,
    mark_mm,
)
from towerlift.motion.masses import moving_mass
from towerlift.plan.limits import limit_in_plan
from towerlift.rig.curves import Floats, HangCurve
from towerlift.rig.leads import Lead, leads_of
from towerlift.rig.losses import Guiding, guiding
from towerlift.rig.pulls import (
    RopePath,
    capstan_gear,
    line_capstans,
    line_coils,
    pawl_drop,
    rope_path,
)
from towerlift.rig.trial import Astray, Known, LiftTrial, Near, Trouble, lift_trial
from towerlift.workflow import Outcome

RIG_CHECKS = frozenset(
    {
        "centre of gravity",
        "rope strength",
        "coils",
        CREW_CHECK,
        "uneven hauling",
        "capstan ground",
        "two-blocking",
        "rope length",
        "slings",
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RiggerChoice:
    """A haul, a height in it, and what goes wrong.

    Attributes
    ----------
    passage : int
        Index of the passage in the raise.
    heel : float
        Heel height of the hauled section. [m]
    trouble : Trouble
        What goes wrong.
    """

    passage: int
    heel: float
    trouble: Trouble = field(default_factory=Trouble)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One number with where it comes from.

    Attributes
    ----------
    what, value, source : str
        As it is printed.
    wrong : bool
        Whether it is beyond its limit.
    """

    what: str
    value: str
    source: str
    wrong: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class RiggerView:
    """All that the panel shows of one choice.

    Attributes
    ----------
    choice : RiggerChoice
        Of what.
    astray : Astray
        Where the section goes.
    near : Near or None
        The nearest that it comes to anything.
    verdict : str
        In a few words.
    readings : tuple of Reading
        Numbers with their sources.
    """

    choice: RiggerChoice
    astray: Astray
    near: Near | None
    verdict: str
    readings: tuple[Reading, ...]


class RiggerBench:
    """Every lift of an outcome, made ready once and tried again and again.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.

    Raises
    ------
    ValueError
        If no lift hauls anything.
    """

    def __init__(self, outcome: Outcome) -> None:
        self.outcome = outcome
        self._curves = {curve.passage: curve for curve in outcome.hangs}
        if not self._curves:
            raise ValueError("no lift hauls anything: there is nothing to rig")
        self._trials: dict[int, LiftTrial] = {}
        self._known: dict[tuple[int, int], Known] = {}
        self._hauls = {
            curve.passage: haul
            for haul in hauls(_case(outcome))
            if isinstance(haul, Haul)
            for curve in haul.curves
        }

    @property
    def passages(self) -> list[int]:
        """Indices of the passages that a lift hauls, in order."""
        return sorted(self._curves)

    def curve(self, passage: int) -> HangCurve:
        """Loads along a passage."""
        return self._curves[passage]

    def trial(self, passage: int) -> LiftTrial:
        """A passage made ready, kept from the first use on."""
        if passage not in self._trials:
            found = self.outcome.raise_.passages[passage]
            self._trials[passage] = lift_trial(self.outcome.nesting.workshop, found)
        return self._trials[passage]

    def first(self) -> RiggerChoice:
        """The haul with the least stability, at its worst height."""
        worst = min(self._curves.values(), key=lambda each: float(each.ratio.min()))
        row = int(worst.ratio.argmin())
        return RiggerChoice(passage=worst.passage, heel=float(worst.heels[row]))

    def path(self, passage: int) -> RopePath:
        """Factors from load to pull, worst corner and mass on top."""
        haul = self._hauls[passage]
        mass = moving_mass(self.outcome.shapes, self.outcome.raise_.passages[passage])
        factor = mass_factor(self.outcome.plan, mass)
        return rope_path(haul.lift, haul.pattern, factor)

    def leads(self, passage: int) -> tuple[Lead, ...] | str:
        """Falls of a passage at their hardest pull, or what is missing."""
        return leads_of(self.outcome.plan, self.curve(passage), self.path(passage))

    def findings(self, passage: int) -> list[Finding]:
        """What the checks of the rig say of a stage, worst first."""
        stage = self.curve(passage).stage
        return [
            each
            for each in self.outcome.findings
            if each.check in RIG_CHECKS and each.stage in ("", stage)
        ]

    def show(self, choice: RiggerChoice) -> RiggerView:
        """Try a choice.

        Parameters
        ----------
        choice : RiggerChoice
            A passage, a height and a trouble.

        Returns
        -------
        view : RiggerView
            Numbers with their sources.
        """
        trial = self.trial(choice.passage)
        way: Way = "up" if trial.passage.travel >= 0 else "down"
        astray = trial.at(choice.heel, choice.trouble, way)
        row = int(np.abs(trial.rigged.heels - choice.heel).argmin())
        known = self._known.setdefault((choice.passage, row), {})
        near = trial.nearest(astray, known)
        return RiggerView(
            choice=choice,
            astray=astray,
            near=near,
            verdict=_verdict(astray, near),
            readings=tuple(self._readings(choice, trial, astray, near)),
        )

    def _readings(
        self, choice: RiggerChoice, trial: LiftTrial, astray: Astray, near: Near | None
    ) -> Iterator[Reading]:
        row = int(np.abs(trial.rigged.heels - choice.heel).argmin())
        curve = self.curve(choice.passage)
        if astray.change is None:
            return
        yield from _pose(astray, near)
        yield from self._levels(choice, astray, row)
        yield from self._loads(choice, astray)
        if trial.guides:
            yield _shoes(astray)
        yield Reading(
            what="stability in true hang",
            value=f"{min(float(curve.ratio[row]), 99.0):.2f}",
            source="tilting stiffness of the lines over weight times height of its centre",
            wrong=bool(curve.ratio[row] < 1),
        )

    def _levels(self, choice: RiggerChoice, astray: Astray, row: int) -> Iterator[Reading]:
        haul, curve = self._hauls[choice.passage], self.curve(choice.passage)
        places = {line.lift_point: n for n, line in enumerate(haul.lift.lines)}
        rows = list(places.values())
        listed = ", ".join(
            f"{mark} {astray.corners[n] * 1e3:+.0f}" for mark, n in places.items()
        )
        yield Reading(what="corners, mm", value=listed, source="balance of lines and shoes")
        call = self._call(haul, curve, row, (rows, astray.corners[rows]))
        if call is not None:
            yield Reading(
                what="the call",
                value=call_in_words(call, list(places)),
                source=f"plane through the corners, twist {call.twist * 1e3:.1f} mm left alone",
            )
        guides = self._guiding(choice.passage)
        if guides is not None and guides.holds:
            left = guides.play - guides.swelling
            allow = float(level_allowance(left, curve.spacing, float(guides.span[row])))
            level = 0.0 if call is None else call.level
            yield Reading(
                what="stop, abort",
                value=f"{mark_mm(allow, STOP)}, {mark_mm(allow, ABORT)} of {allow * 1e3:.1f} "
                "mm",
                source=f"2 c b / a, swelling off; marks read to {READING * 1e3:.1f} mm",
                wrong=level > ABORT * allow,
            )

    def _guiding(self, passage: int) -> Guiding | None:
        if not self._hauls[passage].lift.guided:
            return None
        shop = self.outcome.nesting.workshop
        return guiding(shop, shop.raise_.passages[passage], self.curve(passage).heels)

    def _call(
        self, haul: Haul, curve: HangCurve, row: int, corners: tuple[list[int], Floats]
    ) -> Call | None:
        rows, heights = corners
        ratio = float(curve.ratio[row])
        drop = min(
            pawl_drop(self.outcome.plan, line, haul.pattern.parts) for line in haul.lift.lines
        )
        try:
            return level_call(curve.lower[row, rows, :2], heights, drop, ratio=ratio)
        except ValueError:
            return None

    def _loads(self, choice: RiggerChoice, astray: Astray) -> Iterator[Reading]:
        haul, path = self._hauls[choice.passage], self.path(choice.passage)
        plan = self.outcome.plan
        # Shoes and their friction are in these loads already.
        on_top = path.over / (1 + haul.lift.friction) if haul.lift.guided else path.over
        loads = astray.hang.tensions[0]
        coils, capstans = line_coils(plan, haul.lift), line_capstans(plan, haul.lift)
        kept = np.array([coil.breaking_force * coil.derating for coil in coils])
        with np.errstate(divide="ignore"):
            factors = kept / (loads * on_top * path.fall)
        n = int(np.argmin(factors))
        line, coil = haul.lift.lines[n], coils[n]
        limit = limit_in_plan(plan, FALL)
        yield Reading(
            what="fullest rope",
            value=f"{line.tackle}: {loads[n] / 1e3:.1f} kN, factor {factors[n]:.1f}",
            source=f"coil {coil.tag}: {coil.source}; asked {limit.value:g}, {limit.source}",
            wrong=bool(factors[n] < limit.value),
        )
        hands = [
            hands_needed(
                capstan_gear(capstan, coil),
                float(load * on_top * path.barrel),
                push=capstan.push,
                efficiency=capstan.efficiency,
            )
            for capstan, coil, load in zip(capstans, coils, loads, strict=True)
        ]
        n = int(np.argmax(hands))
        barrel = loads[n] * on_top * path.barrel / 1e3
        yield Reading(
            what="hardest capstan",
            value=f"{capstans[n].mark}: {barrel:.1f} kN, {hands[n]:.1f} of {capstans[n].hands} "
            "hands",
            source=f"{capstans[n].push:.0f} N a hand as planned, mass and worst corner on top",
            wrong=ceil(hands[n] - 1e-9) > capstans[n].hands,
        )


def _case(outcome: Outcome) -> Case:
    return Case(
        plan=outcome.plan, shapes=outcome.shapes, raise_=outcome.raise_, hangs=outcome.hangs
    )


def _verdict(astray: Astray, near: Near | None) -> str:
    if astray.hang.jammed[0]:
        return "JAMS: no haul moves it between its shoes"
    if astray.change is None:
        return "NO REST: it topples, or leaves its lines"
    if near is not None and near.gap <= 0:
        return f"STRIKES: {near.member} meets {near.other} of {near.against}"
    slack = int((astray.hang.tensions[0] <= 0).sum())
    touching = int(astray.hang.touching[0].sum())
    parts = [f"{slack} slack" if slack else "", "on its shoes" if touching else ""]
    said = ", ".join(part for part in parts if part)
    return f"hangs{': ' + said if said else ' free'}"


def _pose(astray: Astray, near: Near | None) -> Iterator[Reading]:
    change = astray.change
    if change is None:
        return
    lean = np.hypot(change.tilt_x, change.tilt_y)
    drift = np.hypot(change.drift_x, change.drift_y)
    yield Reading(
        what="lean, drift, yaw",
        value=(
            f"{lean * 1e3:.1f} mrad, {drift * 1e3:.0f} mm at the heel, "
            f"{degrees(change.yaw):.2f} deg"
        ),
        source="balance of lines, shoes, weight and wind in six freedoms",
    )
    if near is not None:
        yield Reading(
            what="nearest",
            value=f"{near.gap * 1e3:.0f} mm, {near.member} to {near.other} ({near.against})",
            source="clearance engine, in this pose; budget not taken off",
            wrong=near.gap <= 0,
        )


def _shoes(astray: Astray) -> Reading:
    pressures = astray.hang.pressures[0]
    most = float(pressures.max(initial=0.0)) / 1e3
    return Reading(
        what="shoes",
        value=f"{int((pressures > 0).sum())} touch, hardest {most:.1f} kN",
        source="compression only, clearance after swelling, Coulomb friction",
    )


def call_in_words(call: Call, marks: list[str]) -> str:
    """The call as it is given.

    Parameters
    ----------
    call : Call
        Pawls for each corner.
    marks : list of str
        Corners, in the same order.

    Returns
    -------
    words : str
        Who holds and who heaves.
    """
    if not call.pawls.any():
        return "all hold: level within half a pawl"
    holding = [mark for mark, pawls in zip(marks, call.pawls, strict=True) if pawls == 0]
    heaving = [
        f"{mark} {pawls}" for mark, pawls in zip(marks, call.pawls, strict=True) if pawls
    ]
    return f"{', '.join(holding)} hold; heave pawls: {', '.join(heaving)}"
