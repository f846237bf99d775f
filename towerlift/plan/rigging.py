"""Ropes, tackles, capstans, lifts and slings, as the plan writes them."""

from typing import Literal

from pydantic import Field

from towerlift.plan.quantities import (
    Allowance,
    Angle,
    AnyShare,
    Coordinate,
    Day,
    Duration,
    Flag,
    Force,
    Length,
    Mass,
    Name,
    PlanModel,
    Point,
    Ratio,
    Share,
    Speed,
    Whole,
)


class Coil(PlanModel):
    """One coil of rope with its certificate.

    Attributes
    ----------
    breaking_force : float
        Certificate minimum breaking force of the new rope. [N]
    axial_stiffness : float
        EA, from a test pull of the rope itself. [N]
    derating : float
        Share of the breaking force kept after age, wear and splice.
    examined : date or None
        Day on which it was last thoroughly examined, or certified new.
    end : str or None
        How its standing end is made fast.
    """

    tag: Name
    material: Name
    diameter: Length
    length: Length
    breaking_force: Force
    axial_stiffness: Force
    derating: Share
    examined: Day | None = None
    end: Literal["eye splice", "knot"] | None = None
    source: str


class Hardware(PlanModel):
    """A block, shackle, strop or pin that the load of a tackle goes through.

    Attributes
    ----------
    place : str
        At the top block, which the fall pulls at too, or at the moving block.
    rated : float
        Rated load, its own factor of safety in it. [N]
    """

    name: Name
    place: Literal["top", "moving"]
    rated: Force
    source: str


class Tackle(PlanModel):
    """A pattern of blocks that several lines use.

    Attributes
    ----------
    parts : int
        Parts of rope at the moving block.
    sheave_ratio : float
        Tension after one sheave over tension before it, hauling.
    leads : int
        Lead blocks between the fall and the capstan.
    fall_length : float
        Rope from the top block to the barrel. [m]
    shortest : float
        Least distance between top block and lift point. [m]
    sheave : float or None
        Least diameter of its sheaves, at the bottom of the groove. [m]
    lead_rating : float or None
        Rated load of each lead block and its strop. [N]
    hardware : tuple of Hardware
        What its load goes through at either end, blocks among it.
    """

    name: Name
    parts: Whole = Field(ge=1, le=12)
    sheave_ratio: Share
    leads: Whole = Field(ge=0, le=8)
    fall_length: Length
    shortest: Length
    sheave: Length | None = None
    lead_rating: Force | None = None
    hardware: tuple[Hardware, ...] = ()


class Capstan(PlanModel):
    """A capstan and the people at its bars.

    Attributes
    ----------
    at : tuple of float
        Centre on the ground, shaft frame. [m]
    hands : int
        People at the bars.
    reserve : int
        People told off to replace them.
    push : float
        Push of one person at the bar. [N]
    barrel_height : float or None
        Height of the turns on the barrel, shaft frame. [m]
    anchor : float or None
        Pull to which its anchor has been tested. [N]
    pawls : int or None
        Stops that each hold it by themselves: pawls on wheels of their own, a brake.
    turns : str or None
        Which way it turns when it hauls, seen from above.
    """

    mark: Name
    x: Coordinate
    y: Coordinate
    barrel_diameter: Length
    bar_radius: Length
    efficiency: Share
    hands: Whole = Field(ge=1, le=64)
    reserve: Whole = Field(ge=0, le=64)
    push: Force
    walk: Speed
    pawl_stops: Whole = Field(ge=1, le=360)
    barrel_height: Coordinate | None = None
    anchor: Force | None = None
    pawls: Whole | None = Field(default=None, ge=0, le=4)
    turns: Literal["clockwise", "anticlockwise"] | None = None


class Line(PlanModel):
    """One tackle of one lift: both its ends, its coil and its capstan.

    Attributes
    ----------
    lift_point : str
        Mark of the lift point of the moving section.
    upper : tuple of float
        Centre of the top block: shaft frame where the lift hangs from a fixture,
        frame of the carrying section where it hangs from a section. [m]
    moving_block : tuple of float or None
        Centre of the moving block, frame of the moving section: where the line pulls.
        None where that is the lift point. [m]
    broad_side : float or None
        Which way the parts of the tackle lie side by side, from the section's east,
        anticlockwise. None lays them square to the line from the axis to the moving
        block. [rad]
    leads : tuple of tuple of float
        Centre of each lead block, from the tackle to the capstan, shaft frame; empty
        where they are not yet placed. [m]
    """

    tackle: Name
    lift_point: Name
    upper: Point
    moving_block: Point | None = None
    broad_side: Angle | None = None
    coil: Name
    capstan: Name
    leads: tuple[Point, ...] = ()


class Lift(PlanModel):
    """How a section is hung and hauled.

    Attributes
    ----------
    hung_from : str
        Fixture or section that carries the top blocks.
    pattern : str
        Name of the tackle pattern.
    guided : bool
        Whether shoes on runners or rails hold it from swinging.
    friction : float
        Extra pull by guide friction, as a share of the weight.
    paced : str
        How the crews keep level: by pawl count, or by feel.
    equalised : str
        Whether falls share their tension through a floating equaliser.
    step : float
        Haul between two levelling checks. [m]
    check_time : float
        Time of one check. [s]
    level_tolerance : float
        Difference of level between opposite sides at which hauling stops. [m]
    worst_corner : float
        Load of the worst corner over the mean.
    crew : str or None
        Crew whose people are at the bars.
    lowered_by : str or None
        How a load is let down: by a brake, by surging the turns round a barrel that
        stands, or by walking the bars back.
    lowering_speed : float or None
        Speed at which the section is let down; None takes a share of the hauling
        speed. [m/s]
    corner_proof : float or None
        Pull to which each lift point, with its strops and shackles, has been proved. [N]
    side_ropes : float or None
        Pull for which each manned side rope is made fast, four at the head of the section
        and four at its heel. [N]
    """

    name: Name
    section: Name
    hung_from: Name
    pattern: Name
    lines: tuple[Line, ...] = Field(min_length=1)
    guided: Flag
    friction: AnyShare
    paced: Literal["pawl count", "feel"] = "pawl count"
    equalised: Literal["none", "one side", "all"] = "none"
    step: Length
    check_time: Duration
    level_tolerance: Length
    worst_corner: Ratio = Field(ge=1.0, le=4.0)
    crew: Name | None = None
    lowered_by: Literal["brake", "surging", "walking back"] | None = None
    lowering_speed: Speed | None = None
    corner_proof: Force | None = None
    side_ropes: Force | None = None


class Opening(PlanModel):
    """A slot, notch or hole by which a line passes a piece, or a bay that is drawn solid.

    It goes right through the piece in every direction in which no clear width is given.

    Attributes
    ----------
    of : str
        Section, fixture or fit-out item.
    member : str
        Mark of the piece.
    kind : str
        A slot or hole is cut in the piece, a notch in its edge; a bay lies open between
        the timbers of a frame that is drawn as one piece.
    lifts, tackles : tuple of str
        Which lines pass it; empty takes every one.
    centre : tuple of float
        Of the opening, frame of `of`. [m]
    clear_east, clear_north, clear_up : float or None
        Clear width along each axis of that frame. [m]
    passed_by : str or None
        Who answers for the strength that is left to the piece.
    note : str
        What they found.
    """

    name: Name
    of: Name
    member: Name
    kind: Literal["slot", "notch", "hole", "bay"]
    lifts: tuple[Name, ...] = ()
    tackles: tuple[Name, ...] = ()
    centre: Point
    clear_east: Length | None = None
    clear_north: Length | None = None
    clear_up: Length | None = None
    passed_by: Name | None = None
    note: str = ""

    @property
    def clear(self) -> tuple[float | None, float | None, float | None]:
        """Clear widths along the three axes. [m]"""
        return self.clear_east, self.clear_north, self.clear_up


class SlingSet(PlanModel):
    """A bridle of two to four legs that meet at one hook.

    Attributes
    ----------
    carries : str
        Section or fit-out item that hangs in it.
    stage : str
        Stage in which it is used.
    hook : tuple of float
        Where the legs meet, in the frame of `lugs`. [m]
    lugs : tuple of tuple of float
        Leg ends on the load, about the load's centre of gravity or section frame. [m]
    centre : tuple of float
        Centre of gravity of the load in the same frame. [m]
    load : float or None
        Mass in the bridle; None means the whole of what it carries. [kg]
    share : float
        Share of that mass in this bridle, where several carry it together.
    rated : float
        Rated load of one leg pulled straight, with source in `source`. [N]
    carrying_legs : int
        Legs reckoned to carry a rigid load when there are three or four: two or three.
    """

    name: Name
    carries: Name
    stage: Name
    hook: Point
    lugs: tuple[Point, ...] = Field(min_length=2, max_length=4)
    centre: Point
    load: Mass | None = None
    share: Share = 1.0
    rated: Force
    carrying_legs: Literal[2, 3] = 2
    sling_length: Allowance | None = None
    source: str
