"""The state of the site while the stages are followed, and the record made of it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from types import MappingProxyType

from towerlift.motion.passages import Breach, Passage, Rest, Standing, State
from towerlift.motion.rules import Rule
from towerlift.motion.states import literal, permitted, states_before
from towerlift.plan.bodies import Fixture, Section
from towerlift.plan.model import Plan
from towerlift.plan.rigging import Lift

GROUND = "ground"
NOTHING = "nothing"
# Heels closer than this are at one height: far below any joiner's rule, far above rounding.
SAME_HEIGHT = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where one section is now.

    Attributes
    ----------
    carrier : str
        "ground", a fixture, a section, a lift, or "nothing".
    heel : float
        Shaft frame. [m]
    slung_before : bool
        Whether it has ever been slung.
    """

    state: State
    carrier: str
    heel: float
    slung_before: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Doing:
    """What one passage does.

    Attributes
    ----------
    during : mapping of str to State
        States that sections have only while it lasts.
    moving : tuple of str
        The hauled section first.
    heels : mapping of str to float
        Heel heights of the moving sections at its end, shaft frame. [m]
    takes : float
        Duration. [s]
    """

    step: str
    subject: str
    lift: str | None = None
    during: Mapping[str, State] = field(default_factory=dict)
    moving: tuple[str, ...] = ()
    heels: Mapping[str, float] = field(default_factory=dict)
    takes: float = 0.0


@dataclass(slots=True, kw_only=True)
class Walk:
    """The site at one moment of the raise, changed step by step.

    Attributes
    ----------
    rigged : dict of str to str
        Lifts whose tackles are made fast, and the section each is on.
    cleared : bool
        Whether nobody has worked in the column since it was cleared.
    event : str
        What the next passage begins with.
    now : datetime or None
        Clock time, where the stage is dated.
    """

    plan: Plan
    stage: str = ""
    now: datetime | None = None
    cleared: bool = False
    event: str = ""
    places: dict[str, Place] = field(default_factory=dict)
    fixtures: set[str] = field(default_factory=set)
    fitted: set[str] = field(default_factory=set)
    rigged: dict[str, str] = field(default_factory=dict)
    rests: list[Rest] = field(default_factory=list)
    passages: list[Passage] = field(default_factory=list)
    breaches: list[Breach] = field(default_factory=list)

    def section(self, name: str) -> Section | None:
        """The plan's section of a name, on the site or not."""
        return next((each for each in self.plan.sections if each.name == name), None)

    def lift(self, name: str) -> Lift | None:
        """The plan's lift of a name."""
        return next((each for each in self.plan.lifts if each.name == name), None)

    def fixture(self, name: str) -> Fixture | None:
        """The plan's fixture of a name, in place or not."""
        return next((each for each in self.plan.fixtures if each.name == name), None)

    def inner(self, name: str) -> str | None:
        """Name of the section that nests next inside one, if it is on the site."""
        names = [each.name for each in self.plan.sections]
        follower = names.index(name) + 1
        if follower < len(names) and names[follower] in self.places:
            return names[follower]
        return None

    def state(self, name: str) -> State:
        """State of a section; one that is not on the site is GROUND."""
        place = self.places.get(name)
        return State.GROUND if place is None else place.state

    def carried_by(self, name: str) -> tuple[str, ...]:
        """Sections that stand on one, directly or through another, nearest first."""
        found: list[str] = []
        waiting = [name]
        while waiting:
            below = waiting.pop(0)
            above = [each for each, place in self.places.items() if place.carrier == below]
            found += above
            waiting += above
        return tuple(found)

    def change(self, name: str, state: State, *, carrier: str | None = None) -> None:
        """Change a section; all it carries takes its state.

        Parameters
        ----------
        name : str
            A section on the site.
        state : State
            New state of it and of all it carries.
        carrier : str or None
            New carrier; None leaves it as it is.
        """
        for each in (name, *self.carried_by(name)):
            place = self.places[each]
            slung = place.slung_before or state is State.SLUNG
            self.places[each] = replace(place, state=state, slung_before=slung)
        if carrier is not None:
            self.places[name] = replace(self.places[name], carrier=carrier)

    def breach(
        self,
        rule: Rule,
        subject: str,
        why: str,
        remedy: Sequence[str],
        *,
        heel: float | None = None,
    ) -> None:
        """Record that a rule of order is broken, once for the same words in a stage.

        Parameters
        ----------
        rule : Rule
            The rule.
        subject : str
            What breaks it.
        why : str
            What is wrong, in a sentence.
        remedy : sequence of str
            Best first.
        heel : float or None
            Heel height of the moving section, if it matters. [m]
        """
        found = Breach(
            rule=str(rule),
            subject=subject,
            stage=self.stage,
            heel=heel,
            why=why,
            remedy=tuple(remedy),
        )
        said = {(each.rule, each.subject, each.stage, each.why) for each in self.breaches}
        if (found.rule, subject, self.stage, why) not in said:
            self.breaches.append(found)

    def unknown(self, kind: str, name: str) -> None:
        """Record that the plan holds no such name.

        Parameters
        ----------
        kind : str
            What it should be the name of.
        name : str
            As the step writes it.
        """
        self.breach(
            Rule.PRESENCE,
            name,
            f'the plan has no {kind} named "{name}"',
            (f"correct the name, or add the {kind} to the plan",),
        )

    def follow_change(self, step: str, name: str) -> tuple[State, State]:
        """States that a step gives a section during and after it; a breach if forbidden.

        Parameters
        ----------
        step : str
            A step of the table of states.
        name : str
            A section.

        Returns
        -------
        during, after : State
            Of the permitted change, or of the step as written where it is forbidden.
        """
        state = self.state(name)
        if permitted(step, state) is None:
            allowed = " or ".join(states_before(step))
            self.breach(
                Rule.STATE,
                name,
                f'step "{step}" needs the {name} {allowed}, but it is {state}',
                (
                    f"put before it the steps that bring the {name} to {allowed}",
                    f'leave out the step "{step}"',
                ),
                heel=self.places[name].heel if name in self.places else None,
            )
        change = literal(step, state)
        return change.during, change.after

    def record(self, doing: Doing) -> None:
        """Write down a passage that begins now, move what moves, and let its time pass.

        Parameters
        ----------
        doing : Doing
            What is done.
        """
        standing = {
            name: Standing(
                state=doing.during.get(name, place.state),
                carrier=place.carrier,
                heel_from=place.heel,
                heel_to=doing.heels.get(name, place.heel),
            )
            for name, place in self.places.items()
        }
        self.passages.append(
            Passage(
                index=len(self.passages),
                stage=self.stage,
                step=doing.step,
                subject=doing.subject,
                lift=doing.lift,
                moving=doing.moving,
                standing=MappingProxyType(standing),
                fixtures=frozenset(self.fixtures),
                fitted=frozenset(self.fitted),
                begins=self.now,
                duration=doing.takes,
                event=self.event,
            )
        )
        self.event = ""
        for name, heel in doing.heels.items():
            self.places[name] = replace(self.places[name], heel=heel)
        if self.now is not None:
            self.now += timedelta(seconds=doing.takes)

    def record_rest(self) -> None:
        """Write down what stands when the stage is done."""
        standing = {
            name: Standing(
                state=place.state,
                carrier=place.carrier,
                heel_from=place.heel,
                heel_to=place.heel,
            )
            for name, place in self.places.items()
        }
        self.rests.append(
            Rest(
                stage=self.stage,
                begins=self.now,
                standing=MappingProxyType(standing),
                fixtures=frozenset(self.fixtures),
                fitted=frozenset(self.fitted),
            )
        )

    def with_carried(self, name: str, state: State) -> dict[str, State]:
        """A state for a section and all that it carries."""
        return dict.fromkeys((name, *self.carried_by(name)), state)


def heights(fixture: Fixture) -> tuple[float, float]:
    """Lowest and highest end of a fixture's centre lines. [m]"""
    ends = [end[2] for member in fixture.members for end in (member.start, member.end)]
    return min(ends, default=float("nan")), max(ends, default=float("nan"))


def names(items: Iterable[str]) -> str:
    """Names in a sentence: "belfry", "belfry and spire", "base, belfry and spire"."""
    *most, last = items
    return f"{', '.join(most)} and {last}" if most else last
