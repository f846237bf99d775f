"""People, dated activities, stages and their steps, as the plan writes them."""

from typing import Annotated, Literal

from pydantic import Field

from towerlift.plan.bodies import Face
from towerlift.plan.quantities import (
    Angle,
    ClockTime,
    Coordinate,
    Day,
    Duration,
    Instant,
    Length,
    Mass,
    Name,
    PlanModel,
    Share,
    Speed,
    StateName,
    Weekday,
    Whole,
)


class Site(PlanModel):
    """Where the tower stands and when work begins.

    Attributes
    ----------
    latitude, longitude : float
        North and east positive. [rad]
    height : float
        Above the sea. [m]
    time_zone : str
        IANA name such as "Etc/GMT+2", or an offset such as "UTC-02:00".
    works : tuple of str
        Days of the week on which anybody works; none named is every day.
    works_from, works_to : str
        Hours of the day in which anybody works, such as "07:30"; the light may leave fewer.
    days_off : tuple of date
        Holidays.
    """

    place: Name
    latitude: Angle
    longitude: Angle
    height: Coordinate
    time_zone: Name
    day_1: Day
    works: tuple[Weekday, ...] = ()
    works_from: ClockTime = "00:00"
    works_to: ClockTime = "24:00"
    days_off: tuple[Day, ...] = ()
    note: str = ""


class SiteWind(PlanModel):
    """Wind that the site must be ready for.

    Attributes
    ----------
    terrain : str
        Category of EN 1991-1-4 upwind: "0" sea, "I" lakes and flat land without
        obstacles, "II" low growth, "III" suburbs and forest, "IV" close-built town.
    basic_speed : float
        Ten-minute mean at 10 m over open country, once in fifty years. [m/s]
    return_years : int
        Return period kept for the raise, in years; fifty takes nothing off.
    ground : float
        Height of the ground about the tower, shaft frame. [m]
    source : str
        Who chose these, from which map, and why a shorter return period will do.
    """

    terrain: Literal["0", "I", "II", "III", "IV"]
    basic_speed: Speed
    return_years: Whole = Field(default=50, ge=2, le=1000)
    ground: Coordinate = 0.0
    source: Name


class Person(PlanModel):
    """Somebody who may change a state or overrule a limit."""

    name: Name
    role: Name


class Crew(PlanModel):
    """People of one trade.

    Attributes
    ----------
    need : int
        People needed for the work to start.
    signed : int
        People who have put their names down.
    show_rate : float
        Share of them expected on the day.
    shows : tuple of float
        The same person by person, where it is known: as many as have signed.
    works : tuple of str
        Days of the week on which they work; none named is those of the site.
    works_from, works_to : str or None
        Their hours; None is those of the site.
    """

    name: Name
    need: Whole = Field(ge=1, le=2000)
    signed: Whole = Field(ge=0, le=5000)
    show_rate: Share = 1.0
    shows: tuple[Share, ...] = ()
    works: tuple[Weekday, ...] = ()
    works_from: ClockTime | None = None
    works_to: ClockTime | None = None


class Activity(PlanModel):
    """Dated work by people, and where they are while they do it.

    Attributes
    ----------
    place : str
        "on" a section (they stand on it or against it), "in the column" (inside
        the shaft below what hangs there), "beside the tower" (where what is dropped
        outside it lands), "at the capstans", "in the lines" (within reach of a fall or
        in line with it), or "outside" (none of these).
    section : str or None
        The section they are on.
    fits : str or None
        The fit-out item they are putting in.
    lowest, highest : float or None
        Band of height they work in, shaft frame; None means not limited. [m]
    sheltered_by : str or None
        A deck fixture over their heads.
    needs : tuple of str
        States of the section in which they may be there.
    takes : float or None
        Time it takes; None is from `starts` to `ends`. [s]
    courses : int
        Equal parts after each of which it may be broken off.
    after, before : tuple of str
        Stages and activities that it waits for, and that wait for it.
    during : str or None
        Stage that it goes with, from its start to its end or longer.
    cures : float
        Time after its end before what waits for it may start. [s]
    within : float or None
        By how long after the last of `after` it must be done. [s]
    signs : tuple of str
        Hold points that may be signed when it is done.
    drops : float or None
        Heaviest thing that may fall from it. [kg]
    way_off, rescue : str
        How they get off, and how somebody hurt is got down.
    rescue_takes : float or None
        Time that the rescue takes. [s]
    """

    name: Name
    crew: Name
    count: Whole = Field(ge=1, le=2000)
    place: Literal[
        "on", "in the column", "beside the tower", "at the capstans", "in the lines", "outside"
    ]
    section: Name | None = None
    fits: Name | None = None
    lowest: Coordinate | None = None
    highest: Coordinate | None = None
    sheltered_by: Name | None = None
    starts: Instant
    ends: Instant
    needs: tuple[StateName, ...] = ()
    takes: Duration | None = None
    courses: Whole = Field(default=1, ge=1, le=200)
    after: tuple[Name, ...] = ()
    before: tuple[Name, ...] = ()
    during: Name | None = None
    cures: Duration = 0.0
    within: Duration | None = None
    signs: tuple[Name, ...] = ()
    drops: Mass | None = None
    way_off: str = ""
    rescue: str = ""
    rescue_takes: Duration | None = None
    note: str = ""


class Contact(PlanModel):
    """A contact that is meant: all else is a gap.

    Attributes
    ----------
    of, on : str
        Section, fit-out item or fixture on either side.
    marks, on_marks : tuple of str
        Marks of the members that touch; a trailing ``*`` takes every mark that begins so.
    faces : tuple of Face
        Faces it is on, for the reader.
    stages : tuple of str
        Stages in which it is meant; empty means all.
    """

    kind: Literal[
        "heel on needle", "nest ledge", "shoe on runner", "fid in ledge", "bearing", "joint"
    ]
    of: Name
    marks: tuple[Name, ...] = Field(min_length=1)
    on: Name
    on_marks: tuple[Name, ...] = Field(min_length=1)
    faces: tuple[Face, ...] = ()
    stages: tuple[Name, ...] = ()
    note: str = ""


class _Step(PlanModel):
    # Time besides hauling and levelling checks, which motion reckons itself. [s]
    takes: Duration = 0.0


class Assemble(_Step):
    """Build a section on the shaft floor, heel at `at`, and check it in."""

    do: Literal["assemble"]
    section: Name
    at: Coordinate = 0.0


class Sling(_Step):
    """Make the tackles of a lift fast and tight; the weight still stands where it stood."""

    do: Literal["sling"]
    section: Name
    lift: Name


class Float(_Step):
    """Take the weight just clear of what carries it, and hold."""

    do: Literal["float"]
    section: Name
    height: Length = 0.05


class Haul(_Step):
    """Raise a floated or parked section to a heel height, and park it.

    Attributes
    ----------
    picks_up : tuple of str
        Sections that it is meant to pick up on its nest ledge on the way.
    """

    do: Literal["lift"]
    section: Name
    to: Coordinate
    picks_up: tuple[Name, ...] = ()


class Lower(_Step):
    """Lower a floated or parked section to a heel height, and park it."""

    do: Literal["lower"]
    section: Name
    to: Coordinate


class Secure(_Step):
    """Hand a parked section to pendants."""

    do: Literal["secure"]
    section: Name
    on: Name


class Lock(_Step):
    """Lock a parked or secured section to needles or to another section; wedged and signed.

    Attributes
    ----------
    wedged_within : float or None
        Time from the lock until what is buried is wedged tight; None where that is not
        planned, so that the section must stand unwedged in every wind. [s]
    """

    do: Literal["lock"]
    section: Name
    on: Name
    wedged_within: Duration | None = None


class Transfer(_Step):
    """Slack and take off the tackles of a locked or secured section."""

    do: Literal["transfer"]
    section: Name


class Fit(_Step):
    """Put a fit-out item into its section."""

    do: Literal["fit"]
    item: Name


class Install(_Step):
    """Put a fixture into the shaft."""

    do: Literal["install"]
    fixture: Name


class Strike(_Step):
    """Take a fixture out of the shaft."""

    do: Literal["strike"]
    fixture: Name


class Clear(_Step):
    """Send everybody out of the column and off the sections; prove it by count."""

    do: Literal["clear the column"]


Step = Annotated[
    Assemble
    | Sling
    | Float
    | Haul
    | Lower
    | Secure
    | Lock
    | Transfer
    | Fit
    | Install
    | Strike
    | Clear,
    Field(discriminator="do"),
]


class Stage(PlanModel):
    """One stage of the raise.

    Attributes
    ----------
    after : tuple of str
        Stages that must be finished first.
    in_charge : str
        Name of the person in charge of it.
    starts : datetime or None
        When it is planned to start; None where it is not dated.
    hold_points : tuple of str
        Marks of the hold points signed before it.
    crews : tuple of str
        Crews that carry it out, whole, besides the hands at the bars of its lifts.
    """

    name: Name
    title: Name
    after: tuple[Name, ...] = ()
    in_charge: Name
    starts: Instant | None = None
    hold_points: tuple[Name, ...] = ()
    crews: tuple[Name, ...] = ()
    steps: tuple[Step, ...] = ()
    note: str = ""


class ChosenLimit(PlanModel):
    """A limit that this plan sets in place of the usual one, with its source.

    Attributes
    ----------
    limit : str
        Name of the limit, as findings print it.
    value : str
        With its unit.
    """

    limit: Name
    value: Name
    source: Name


class ChosenOverrule(PlanModel):
    """A limit overruled for one subject by a named person.

    Attributes
    ----------
    limit : str
        Name of the limit, as findings print it.
    subject : str
        Subject of the finding it holds for.
    stage : str
        Stage it holds for; empty means every stage.
    value : str
        The limit allowed instead, with its unit.
    by : str
        Name of one of the plan's people.
    """

    limit: Name
    subject: Name
    stage: str = ""
    value: Name
    by: Name
    note: Name
