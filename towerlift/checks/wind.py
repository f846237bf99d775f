"""Wind: the highest gust that each state of the tower survives, and what governs it.

The gust is told at the wall head. A state that is hauled, parked, secured or locked must
each survive a gust of its own; what is buried but not yet wedged need only survive until
it is, if the plan says when.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from towerlift.checks.case import Case, limit_for, overrule_for
from towerlift.checks.strength import mass_factor
from towerlift.findings import Bound, Finding
from towerlift.mechanics.overturning import stands
from towerlift.motion.masses import moving_mass
from towerlift.plan.limits import UsualLimit, limit_in_plan
from towerlift.plan.model import Plan
from towerlift.plan.work import SiteWind
from towerlift.rig.states import Joint, TowerState, tower_states
from towerlift.rig.wind import WindRules, site_gust, wind_rules
from towerlift.rig.wind_gusts import (
    LARGEST,
    Asked,
    Hung,
    Survived,
    bury_of,
    clearance_gust,
    curve_of,
    rope_gusts,
    shoe_hold,
    side_gust,
    standing_gusts,
    wedge_hold,
)
from towerlift.units import Dimension

CHECK = "wind"
HOUR = 3600.0


def _gust(name: str, value: float, source: str) -> UsualLimit:
    return UsualLimit(
        name=name,
        value=value,
        unit="m/s",
        bound=Bound.AT_LEAST,
        dimension=Dimension.SPEED,
        source=source,
    )


_PRACTICE = "no published source; the engineer sets it, and the forecast must stay below it"
HAULING = UsualLimit(
    name="gust while hauling",
    value=11.0,
    unit="m/s",
    bound=Bound.AT_MOST,
    dimension=Dimension.SPEED,
    source="common practice: mean 8, gust 11 m/s while hauling; the engineer sets it",
)
HAULING_MEAN = UsualLimit(
    name="mean wind while hauling",
    value=8.0,
    unit="m/s",
    bound=Bound.AT_MOST,
    dimension=Dimension.SPEED,
    source="common practice: mean 8, gust 11 m/s while hauling; the engineer sets it",
)
PARKED = _gust("gust while parked", 14.0, f"a section watched on its pawls: {_PRACTICE}")
SECURED = _gust("gust while secured", 20.0, f"a section on pendants: {_PRACTICE}")
TILL_WEDGED = _gust("gust till wedged", 20.0, f"locked, wedged the same day: {_PRACTICE}")
LOCKED = _gust("gust once locked", 28.0, f"what stands for days and nights: {_PRACTICE}")
SAME_DAY = UsualLimit(
    name="time till wedged",
    value=12.0,
    unit="h",
    bound=Bound.AT_MOST,
    dimension=Dimension.TIME,
    source="common practice, no source: no forecast of gusts is trusted longer, so what is "
    "wedged later must stand unwedged in every wind",
)
OVERTURNING = UsualLimit(
    name="overturning factor",
    value=1.5,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice for what stands unwedged on ledges, no published source",
)
OFFSET = UsualLimit(
    name="offset of the weight",
    value=50.0,
    unit="mm",
    bound=Bound.AT_MOST,
    dimension=Dimension.LENGTH,
    source="common practice, no source: how far the weight may lie beside the middle of its "
    "lines or supports beyond what is reckoned",
)
CORNER = UsualLimit(
    name="wind on the corner of an open frame",
    value=4.0 / 3.6,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="Uniform Building Code, table of pressure coefficients: square open-frame towers "
    "3.6 square to a face and 4.0 on the diagonal; square solid towers 1.4 from any direction",
)
ROPE = UsualLimit(
    name="rope factor in a gust",
    value=5.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="as after the loss of a tackle: common practice, no published source",
)
LIMITS = (
    HAULING,
    HAULING_MEAN,
    PARKED,
    SECURED,
    TILL_WEDGED,
    LOCKED,
    SAME_DAY,
    OVERTURNING,
    OFFSET,
    CORNER,
    ROPE,
)

# Which gust a state must survive, by what holds the lowest section of its stack.
_DEMANDS = {"needle": LOCKED, "ground": LOCKED, "pendant": SECURED, "tackles": PARKED}


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """One joint in one way of being held, with every gust that it survives.

    Attributes
    ----------
    state : TowerState
        When.
    joint : Joint
        Which section on what.
    wedged : bool
        Whether what is buried is wedged.
    demand : UsualLimit
        Gust that it must survive.
    survived : tuple of Survived
        Every limit, first to give out first.
    missing : tuple of str
        What could not be judged for want of a value.
    """

    state: TowerState
    joint: Joint
    wedged: bool
    demand: UsualLimit
    survived: tuple[Survived, ...]
    missing: tuple[str, ...]

    @property
    def gust(self) -> float:
        """Highest gust that it survives, told at the wall head. [m/s]"""
        return min((each.gust for each in self.survived), default=LARGEST)

    @property
    def words(self) -> str:
        """How it is held, in a few words."""
        joint = self.joint
        if joint.kind == "tackles":
            how = "hauled" if self.state.moves else str(joint.state)
            return f"{how} in lift {joint.carrier}"
        if joint.kind == "ground":
            return "on the ground"
        wedge = ""
        if joint.lock is not None and (joint.kind == "ledge" or any(joint.sides)):
            wedge = ", wedged" if self.wedged else ", not wedged"
        rests = "locked" if joint.lock is not None else "resting"
        if joint.kind == "pendant":
            rests = "hung"
        return f"{rests} on the {joint.carrier}{wedge}"


def asked_of(plan: Plan) -> Asked:
    """What a plan's states must keep in hand.

    Parameters
    ----------
    plan : Plan
        May choose other limits.

    Returns
    -------
    asked : Asked
        In SI.
    """
    return Asked(
        overturning=limit_in_plan(plan, OVERTURNING).value,
        rope=limit_in_plan(plan, ROPE).value,
        offset=limit_in_plan(plan, OFFSET).value / 1e3,
    )


def rules_of(plan: Plan) -> WindRules | None:
    """How a plan's gusts become forces; None where it does not say what the wind is like.

    Parameters
    ----------
    plan : Plan
        Terrain, wall head, force coefficients.

    Returns
    -------
    rules : WindRules or None
        With the factor for the corner that the plan chooses.
    """
    return wind_rules(plan, limit_in_plan(plan, CORNER).value)


def states_of(case: Case) -> tuple[TowerState, ...]:
    """Every state of the raise, worked out once.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Returns
    -------
    states : tuple of TowerState
        None where the plan does not say what the wind is like.
    """
    rules = rules_of(case.plan)
    if rules is None:
        return ()
    shop = case.workshop
    return shop.kept(("tower states",), lambda: tuple(tower_states(shop, rules)))


def held_states(case: Case) -> tuple[Held, ...]:
    """Every joint of every state, with the gusts that it survives, worked out once.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Returns
    -------
    held : tuple of Held
        In the order of the raise.
    """

    def work() -> tuple[Held, ...]:
        judge = _Judge(case=case, asked=asked_of(case.plan))
        return tuple(each for state in states_of(case) for each in judge.judged(state))

    return case.workshop.kept(("held states",), work)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Judge:
    case: Case
    asked: Asked

    def judged(self, state: TowerState) -> Iterator[Held]:
        joints = {joint.section: joint for joint in state.joints}
        for joint in state.joints:
            root = joint
            while root.carrier in joints:
                root = joints[root.carrier]
            demand = _DEMANDS[root.kind]
            if root.kind == "tackles" and state.moves:
                demand = HAULING
            lock = joint.lock
            wedgeable = joint.kind == "ledge" or (joint.kind == "needle" and all(joint.sides))
            if lock is None or lock.wedged_within is None or not wedgeable:
                yield self._held(state, joint, demand, wedged=False)
            else:
                yield from self._locked(state, joint, demand, hauled=root.kind == "tackles")

    def _locked(
        self, state: TowerState, joint: Joint, demand: UsualLimit, *, hauled: bool
    ) -> Iterator[Held]:
        """What is locked to be wedged: before that, and after it where it lasts so long."""
        within = joint.lock.wedged_within if joint.lock is not None else None
        begins, by = state.passage.begins, joint.wedged_by
        done = begins is not None and by is not None and begins >= by
        # A rest lasts until the next stage, beyond the wedging.
        lasts = begins is None or by is None or state.passage.step == "rest"
        if not done:
            longest = HOUR * limit_in_plan(self.case.plan, SAME_DAY).value
            soon = within is not None and within <= longest and not hauled
            yield self._held(state, joint, TILL_WEDGED if soon else demand, wedged=False)
        if done or lasts:
            yield self._held(state, joint, demand, wedged=True)

    def _held(
        self, state: TowerState, joint: Joint, demand: UsualLimit, *, wedged: bool
    ) -> Held:
        found: list[Survived] = []
        missing: list[str] = []
        if joint.kind != "tackles" and not wedged:
            found += self._standing(joint, missing)
        if joint.kind == "tackles":
            found += self._hanging(state, joint, missing)
        if joint.push.force.max() > 0:
            found += self._sideways(state, joint, missing, wedged=wedged)
        return Held(
            state=state,
            joint=joint,
            wedged=wedged,
            demand=demand,
            survived=tuple(sorted(found, key=lambda each: each.gust)),
            missing=tuple(missing),
        )

    def _standing(self, joint: Joint, missing: list[str]) -> tuple[Survived, ...]:
        if not stands(joint.stand):
            missing.append(
                f"the {joint.section} is marked at fewer than three places, or in a line: "
                "no area to stand on is known"
            )
            return ()
        return standing_gusts(joint, self.asked)

    def _hanging(
        self, state: TowerState, joint: Joint, missing: list[str]
    ) -> Iterator[Survived]:
        case = self.case
        curve = curve_of(case.hangs, state.passage, joint.section)
        if curve is None:
            missing.append(f"the loads of lift {joint.carrier} were not reckoned")
            return
        moved = moving_mass(case.shapes, case.raise_.passages[curve.passage])
        hung = Hung(
            curve=curve,
            row=int(np.abs(curve.heels - joint.heel).argmin()),
            mass_factor=mass_factor(case.plan, moved),
        )
        yield from rope_gusts(case.plan, joint, hung, self.asked)
        if not all(joint.sides):
            own = [each for each in case.margins if each.passage == hung.curve.passage]
            if not own or any(each.spare is None for each in own):
                missing.append(f"the gaps of lift {joint.carrier} were not all reckoned")
            gust = limit_in_plan(case.plan, HAULING).value
            yield clearance_gust(own, gust)

    def _sideways(
        self, state: TowerState, joint: Joint, missing: list[str], *, wedged: bool
    ) -> Iterator[Survived]:
        sections = {each.name: each for each in self.case.plan.sections}
        section = sections[joint.section]
        if not wedged and not all(joint.sides):
            return
        rating = section.wedge_rating if wedged else section.shoe_rating
        what = "wedge_rating" if wedged else "shoe_rating"
        if rating is None or not section.rating_source.strip():
            missing.append(f"section {section.name} gives no {what} with its rating_source")
            return
        wall = self.case.plan.shaft.wall_head
        for axis, sides in enumerate(joint.sides):
            if wedged:
                bury = bury_of(joint, sections, dict(state.heels), wall)
                hold = wedge_hold(bury, rating)
            else:
                hold = shoe_hold(sides, rating) if sides is not None else None
            if hold is None:
                missing.append(f"{section.name} is not buried deep enough for two wedges")
                return
            yield side_gust(joint, hold, axis, self.asked.offset)


def check_wind(case: Case) -> Iterable[Finding]:
    """Highest gust of every state against the gust that it must survive.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        For each stage, gust that is asked for and section, where the wind reaches it; and
        the gust of the site itself.
    """
    if rules_of(case.plan) is None:
        yield _unknown(case)
        return
    if case.plan.wind is not None:
        yield _site(case, case.plan.wind)
    worst: dict[tuple[str, str, str], Held] = {}
    for held in held_states(case):
        if not (held.joint.push.force.max() > 0 or held.gust < LARGEST):
            continue
        key = (held.state.stage, held.demand.name, held.joint.section)
        known = worst.get(key)
        if known is None or _order(held) < _order(known):
            worst[key] = held
    yield from told_once([_finding(case, held) for held in worst.values()])


def told_once(findings: list[Finding]) -> Iterator[Finding]:
    """Findings that say the same of several stages, told at the first.

    Parameters
    ----------
    findings : list of Finding
        In the order of the stages.

    Yields
    ------
    finding : Finding
        Its `why` names the other stages.
    """
    alike: dict[tuple[object, ...], list[Finding]] = {}
    for finding in findings:
        key = (finding.subject, finding.limit, finding.overrule, finding.value, finding.why)
        alike.setdefault(key, []).append(finding)
    for first, *later in alike.values():
        stages = ", ".join(each.stage for each in later)
        yield replace(first, why=f"{first.why}; so also in {stages}") if stages else first


def _order(held: Held) -> tuple[bool, float]:
    return not held.missing, held.gust


def _unknown(case: Case) -> Finding:
    return Finding(
        check=CHECK,
        subject="the whole raise",
        stage="",
        heel=None,
        where=None,
        limit=limit_for(case, LOCKED),
        value=None,
        why="the plan has no [wind] table: terrain and basic speed of the site are missing",
        remedy=("add [wind] with terrain, basic_speed, return_years and source",),
    )


def _site(case: Case, wind: SiteWind) -> Finding:
    gust = site_gust(wind, case.plan.shaft.wall_head - wind.ground)
    locked = limit_for(case, LOCKED)
    limit = replace(
        locked,
        bound=Bound.AT_MOST,
        source=f"the {LOCKED.name}, since what stands must outlast the wind of the site by "
        f"EN 1991-1-4: {locked.source}",
    )
    return Finding(
        check=CHECK,
        subject=case.plan.site.place,
        stage="",
        heel=None,
        where=None,
        limit=limit,
        value=round(gust, 6),
        why=f"gust at the site: {wind.basic_speed:g} m/s once in 50 years over terrain "
        f"{wind.terrain}, kept for a return period of {wind.return_years} years, gives "
        f"{gust:.1f} m/s at the wall head ({wind.source})",
        remedy=() if gust <= limit.value else ("stiffen what stands locked for days",),
    )


def _finding(case: Case, held: Held) -> Finding:
    usual = held.demand
    limit = limit_for(case, usual)
    if usual.bound is Bound.AT_MOST:
        limit = replace(limit, bound=Bound.AT_LEAST)
    joint, stage = held.joint, held.state.stage
    first = held.survived[0] if held.survived else None
    value = min(held.gust, LARGEST)
    why = f"{usual.name}: {joint.section} {held.words}"
    if held.missing:
        why += f"; {'; '.join(held.missing)}"
    if first is not None and np.isfinite(first.gust):
        why += (
            f"; first to give: {first.limit} at {first.gust:.1f} m/s"
            f"{_towards(first.towards)} ({first.why})"
        )
        why += _next(tuple(each for each in held.survived if each.limit != first.limit))
    short = not held.missing and value < limit.value
    overrule = None
    if usual.bound is Bound.AT_LEAST:
        overrule = overrule_for(case, usual, joint.section, stage)
    return Finding(
        check=CHECK,
        subject=joint.section,
        stage=stage,
        heel=joint.heel,
        where=None,
        limit=limit,
        overrule=overrule,
        value=None if held.missing else value,
        why=why,
        remedy=_remedy(held) if short else (),
    )


def _next(others: tuple[Survived, ...]) -> str:
    gusts: dict[str, float] = {}
    for each in others:
        if np.isfinite(each.gust):
            gusts.setdefault(each.limit, each.gust)
    told = [f"{limit} at {gust:.1f} m/s" for limit, gust in gusts.items()]
    return f"; then {', '.join(told)}" if told else ""


_POINTS = (
    "east",
    "north-east",
    "north",
    "north-west",
    "west",
    "south-west",
    "south",
    "south-east",
)


def _towards(towards: float) -> str:
    return f", wind towards {compass(towards)}" if np.isfinite(towards) else ""


def compass(towards: float) -> str:
    """Point of the compass towards which a wind blows.

    Parameters
    ----------
    towards : float
        Anticlockwise from east. [rad]

    Returns
    -------
    point : str
        One of eight.
    """
    return _POINTS[round(towards / (np.pi / 4)) % 8]


def _remedy(held: Held) -> tuple[str, ...]:
    first = held.survived[0].limit
    if held.joint.kind == "ledge" and not held.wedged:
        return (
            "wedge what is buried the same day, and say within what time in the lock step",
            "bury it deeper",
            "wait for a forecast below the gust that it survives",
        )
    if held.joint.kind == "tackles":
        return (
            "wait for a forecast below the gust that it survives",
            "side ropes or guides" if first != "shoes" else "stronger shoes, farther apart",
        )
    return ("side ropes or wedges", "wait for a forecast below the gust that it survives")
